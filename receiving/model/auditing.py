"""The audit log: who did or saw what, when, on what, and from where."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Deed(StrEnum):
    """What is written down beside the pages that people ask for: who comes in, who may, and what is kept or goes."""

    SIGNED_IN = "signed_in"
    SIGN_IN_REFUSED = "sign_in_refused"
    SIGN_IN_SLOWED = "sign_in_slowed"
    SIGNED_OUT = "signed_out"
    SESSIONS_ENDED = "sessions_ended"
    PIN_REFUSED = "pin_refused"
    TOKEN_REFUSED = "token_refused"
    ACCOUNT_ADDED = "account_added"
    ACCOUNT_CHANGED = "account_changed"
    ACCOUNT_CLOSED = "account_closed"
    ACCOUNT_OPENED = "account_opened"
    PASSWORD_CHANGED = "password_changed"
    PIN_CHANGED = "pin_changed"
    SIGN_ON_CHANGED = "sign_on_changed"
    PASSKEY_ADDED = "passkey_added"
    PASSKEY_REMOVED = "passkey_removed"
    LINK_MADE = "link_made"
    LINK_ENDED = "link_ended"
    TOKEN_MADE = "token_made"
    TOKEN_ENDED = "token_ended"
    WEBHOOK_MADE = "webhook_made"
    WEBHOOK_CHANGED = "webhook_changed"
    WEBHOOK_ENDED = "webhook_ended"
    KEY_ROTATED = "key_rotated"
    PHOTOS_PRUNED = "photos_pruned"
    NAME_ERASED = "name_erased"
    RESTORED = "restored"
    COMMAND_RUN = "command_run"


class AuditKind(StrEnum):
    """What lines of the audit log are looked for by."""

    SIGN_INS = "sign_ins"
    ACCESS = "access"
    KEEPING = "keeping"
    CHANGES = "changes"
    VIEWS = "views"


AUDIT_KINDS: Mapping[AuditKind, frozenset[Deed]] = {
    AuditKind.SIGN_INS: frozenset(
        {
            Deed.SIGNED_IN,
            Deed.SIGN_IN_REFUSED,
            Deed.SIGN_IN_SLOWED,
            Deed.SIGNED_OUT,
            Deed.SESSIONS_ENDED,
            Deed.PIN_REFUSED,
            Deed.TOKEN_REFUSED,
        }
    ),
    AuditKind.ACCESS: frozenset(
        {
            Deed.ACCOUNT_ADDED,
            Deed.ACCOUNT_CHANGED,
            Deed.ACCOUNT_CLOSED,
            Deed.ACCOUNT_OPENED,
            Deed.PASSWORD_CHANGED,
            Deed.PIN_CHANGED,
            Deed.SIGN_ON_CHANGED,
            Deed.PASSKEY_ADDED,
            Deed.PASSKEY_REMOVED,
            Deed.LINK_MADE,
            Deed.LINK_ENDED,
            Deed.TOKEN_MADE,
            Deed.TOKEN_ENDED,
            Deed.WEBHOOK_MADE,
            Deed.WEBHOOK_CHANGED,
            Deed.WEBHOOK_ENDED,
        }
    ),
    AuditKind.KEEPING: frozenset(
        {Deed.KEY_ROTATED, Deed.PHOTOS_PRUNED, Deed.NAME_ERASED, Deed.RESTORED, Deed.COMMAND_RUN}
    ),
}
"""The deeds of each kind; changes and views are requests, whose lines begin with a method of HTTP."""


@dataclass(frozen=True)
class Actor:
    """Who does something: ``role`` is an account's, or ``command line`` for the user of the operating system."""

    name: str = ""
    role: str = ""
    address: str = ""
    request_id: str = ""


@dataclass(frozen=True)
class AuditLine:
    """Who did or saw what: ``action`` is a deed, or the page or form with the HTTP ``status`` of its answer.

    ``about`` is whom or what a deed was done to, ``detail`` how, ``times`` how often where a line counts several.
    """

    at: datetime
    name: str
    role: str
    action: str
    shipment: str
    store: str
    status: int
    address: str
    request_id: str
    about: str = ""
    detail: str = ""
    times: int = 1
    seq: int = 0


@dataclass(frozen=True)
class AuditWanted:
    """Which lines of the audit log: of one shipment, by or about one person, of one kind, before a line's number."""

    shipment: str = ""
    person: str = ""
    kind: AuditKind | None = None
    before: int = 0
    most: int = 200
