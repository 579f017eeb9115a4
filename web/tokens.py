"""The page of the API's tokens: made, shown once, ended."""

from dataclasses import dataclass
from typing import ClassVar

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.messages import Text, joined, message
from receiving.service import ApiToken, Scope
from web import frame
from web.frame import ctx
from web.pages.words import limit_words, moment_words

pages = Blueprint("tokens", __name__)

SCOPE_WORDS = {
    Scope.READ: message("read state, plans and receipts"),
    Scope.SCAN: message("send scans and photos"),
    Scope.NOTICE: message("send manifests and ship notices"),
}


@dataclass(frozen=True)
class TokenLine:
    """One token."""

    token_id: str
    name: str
    words: Text
    in_use: bool


@dataclass(frozen=True)
class ScopeChoice:
    """A scope to tick."""

    value: str
    words: Text


@dataclass(frozen=True)
class TokensPage:
    """All tokens; ``secret`` is that of the one that was just made."""

    template: ClassVar[str] = "tokens.html"
    title: ClassVar[Text] = message("API tokens")

    made: str
    secret: str
    lines: tuple[TokenLine, ...]
    scopes: tuple[ScopeChoice, ...]


@pages.get("/api-tokens")
def tokens() -> Response:
    """All tokens."""
    return _show()


def _show(made: str = "", secret: str = "") -> Response:
    lines = tuple(map(_line, service.list_api_tokens(ctx())))
    scopes = tuple(ScopeChoice(scope.value, SCOPE_WORDS[scope]) for scope in Scope)
    return frame.render(TokensPage(made, secret, lines, scopes))


def _line(token: ApiToken) -> TokenLine:
    now, ended = frame.local_now(), token.revoked_at
    may: Text = message("may {scopes}", scopes=", ".join(sorted(token.scopes)))
    words = joined(
        joined(may, limit_words(token.sees)),
        message("made {moment}", moment=moment_words(token.created_at, now)),
        message("ended {moment}", moment=moment_words(ended, now)) if ended else "",
        separator="; ",
    )
    return TokenLine(token.token_id, token.name, words, ended is None)


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
