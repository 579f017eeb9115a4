"""The page of the API's tokens: made, shown once, ended."""

from dataclasses import dataclass
from typing import ClassVar

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.service import ApiToken, Scope
from web import frame
from web.frame import ctx
from web.pages.words import limit_words, moment_words

pages = Blueprint("tokens", __name__)

SCOPE_WORDS = {
    Scope.READ: "read state, plans and receipts",
    Scope.SCAN: "send scans and photos",
    Scope.NOTICE: "send manifests and ship notices",
}


@dataclass(frozen=True)
class TokenLine:
    """One token."""

    token_id: str
    name: str
    words: str
    in_use: bool


@dataclass(frozen=True)
class ScopeChoice:
    """A scope to tick."""

    value: str
    words: str


@dataclass(frozen=True)
class TokensPage:
    """All tokens; ``secret`` is that of the one that was just made."""

    template: ClassVar[str] = "tokens.html"
    title: ClassVar[str] = "API tokens"

    made: str
    secret: str
    lines: tuple[TokenLine, ...]
    scopes: tuple[ScopeChoice, ...]


@pages.get("/api-tokens")
def tokens() -> Response:
    """All tokens."""
    return _show()


def _show(made: str = "", secret: str = "") -> Response:
    lines = tuple(map(_line, service.api_tokens(ctx())))
    scopes = tuple(ScopeChoice(scope.value, SCOPE_WORDS[scope]) for scope in Scope)
    return frame.render(TokensPage(made, secret, lines, scopes))


def _line(token: ApiToken) -> TokenLine:
    now = frame.local_now()
    ended = f"; ended {moment_words(token.revoked_at, now)}" if token.revoked_at else ""
    may = ", ".join(sorted(token.scopes))
    of = f" {limits}" if (limits := limit_words(token.sees)) else ""
    words = f"may {may}{of}; made {moment_words(token.created_at, now)}{ended}"
    return TokenLine(token.token_id, token.name, words, token.revoked_at is None)


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
