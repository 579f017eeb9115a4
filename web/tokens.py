"""The API's tokens: made, shown once, ended."""

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from web import frame
from web.frame import ctx
from web.pages.tokens import tokens_page

pages = Blueprint("tokens", __name__)


@pages.get("/api-tokens")
def tokens() -> Response:
    """All tokens."""
    return _show()


def _show(made: str = "", secret: str = "") -> Response:
    return frame.render(tokens_page(service.list_api_tokens(ctx()), frame.local_now(), made=made, secret=secret))


@pages.post("/api-tokens")
@frame.once_shown_at("tokens.tokens")
def make() -> Response:
    """Make a token and show its secret this once."""
    name, scopes = request.form.get("name", ""), request.form.getlist("scope")
    token, secret = service.make_api_token(ctx(), name, scopes, by=frame.person(), **frame.scope_sent())
    return _show(token.name, secret)


@pages.post("/api-tokens/<token>/end")
@frame.once
def end(token: str) -> Response:
    """End a token."""
    service.revoke_api_token(ctx(), token)
    return make_response(redirect(url_for(".tokens"), 303))
