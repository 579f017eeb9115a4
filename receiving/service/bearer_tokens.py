"""Tokens that let other programs in: made once, kept as a digest, limited to scopes, ended at any time."""

import hashlib
import secrets
from collections.abc import Iterable
from enum import StrEnum

from receiving.errors import BadRequest, NotFound
from receiving.messages import Text, message
from receiving.model import DataScope, Deed
from receiving.service.auditing import record
from receiving.service.context import Context
from receiving.store import ApiToken

MAX_LABEL, MOST_NAMES = 80, 500
PREFIX = "rcv_"
"""Tells a leaked token for what it is."""


class Scope(StrEnum):
    """What a token may do."""

    READ = "read"
    SCAN = "scan"
    NOTICE = "notice"


def checked_limits(stores: Iterable[str] | None, programmes: Iterable[str] | None) -> DataScope:
    """The stores and programmes that another program is limited to; None: all. Raises BadRequest."""
    return DataScope(
        _named(stores, message("No usable store was named.")),
        _named(programmes, message("No usable programme was named.")),
    )


def _named(names: Iterable[str] | None, fault: Text) -> frozenset[str] | None:
    if names is None:
        return None
    named = frozenset(each.strip() for each in names) - {""}
    if not named or len(named) > MOST_NAMES or any(len(each) > MAX_LABEL for each in named):
        raise BadRequest(
            fault,
            next_step=message("Name 1 to {most_names}, or none for all.", most_names=MOST_NAMES),
        )
    return named


def make_api_token(
    ctx: Context,
    name: str,
    scopes: Iterable[str],
    *,
    by: str,
    stores: Iterable[str] | None = None,
    programmes: Iterable[str] | None = None,
) -> tuple[ApiToken, str]:
    """A new token (for these stores and programmes alone) and its secret, shown this once. Raises BadRequest."""
    label, wanted = " ".join(name.split()), frozenset(scopes)
    if not label or len(label) > MAX_LABEL:
        raise BadRequest(
            message("The token has no name that fits."),
            next_step=message("Say in 1 to {max_name} characters what for.", max_name=MAX_LABEL),
        )
    if not wanted or not wanted <= set(Scope):
        raise BadRequest(
            message("None of the chosen scopes exists."),
            next_step=message("Choose from {scopes}.", scopes=", ".join(Scope)),
        )
    secret = PREFIX + secrets.token_urlsafe(32)
    token = ApiToken(ctx.new_id(), label, wanted, ctx.clock(), by, sees=checked_limits(stores, programmes))
    with ctx.transaction() as store:
        store.add_api_token(token, _digest(secret))
        record(ctx, store, Deed.TOKEN_MADE, about=token.name, detail=" ".join(sorted(token.scopes)))
    return token, secret


def list_api_tokens(ctx: Context) -> tuple[ApiToken, ...]:
    """All tokens, the newest first."""
    with ctx.store() as store:
        return store.api_tokens()


def find_api_token(ctx: Context, secret: str) -> ApiToken | None:
    """The token of this secret, while it may be used."""
    with ctx.store() as store:
        found = store.api_token(_digest(secret))
    return found if found is not None and found.revoked_at is None else None


def revoke_api_token(ctx: Context, token_id: str) -> None:
    """End a token. Raises NotFound."""
    with ctx.transaction() as store:
        if not store.revoke_api_token(token_id, ctx.clock()):
            raise NotFound(message("There is no such token in use."), next_step=message("Choose one from the list."))
        named = next((each.name for each in store.api_tokens() if each.token_id == token_id), "")
        record(ctx, store, Deed.TOKEN_ENDED, about=named)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
