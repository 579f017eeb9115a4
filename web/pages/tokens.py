"""The page of the API's tokens."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Text, joined, message
from receiving.service import ApiToken, Scope
from web.pages.words import limit_words, moment_words

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


def tokens_page(tokens: Iterable[ApiToken], now: datetime, *, made: str = "", secret: str = "") -> TokensPage:
    """All tokens; ``made`` and ``secret`` are of the one that was just made."""
    scopes = tuple(ScopeChoice(scope.value, SCOPE_WORDS[scope]) for scope in Scope)
    return TokensPage(made, secret, tuple(_line(token, now) for token in tokens), scopes)


def _line(token: ApiToken, now: datetime) -> TokenLine:
    ended = token.revoked_at
    may: Text = message("may {scopes}", scopes=", ".join(sorted(token.scopes)))
    words = joined(
        joined(may, limit_words(token.sees)),
        message("made {moment}", moment=moment_words(token.created_at, now)),
        message("ended {moment}", moment=moment_words(ended, now)) if ended else "",
        separator="; ",
    )
    return TokenLine(token.token_id, token.name, words, ended is None)
