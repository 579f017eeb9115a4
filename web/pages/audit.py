"""Who saw and did what."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text, message
from receiving.model import AuditKind, AuditLine, AuditWanted, Deed, Role
from web.pages.people import ROLE_WORDS

KIND_WORDS: Mapping[AuditKind, Text] = {
    AuditKind.SIGN_INS: message("Signing in and out"),
    AuditKind.ACCESS: message("Accounts, links and tokens"),
    AuditKind.KEEPING: message("Keys, erasing and commands"),
    AuditKind.CHANGES: message("Forms sent"),
    AuditKind.VIEWS: message("Pages seen"),
}

DEED_WORDS: Mapping[str, Text] = {
    Deed.SIGNED_IN: message("signed in"),
    Deed.SIGN_IN_REFUSED: message("sign-in refused"),
    Deed.SIGN_IN_SLOWED: message("sign-in slowed down"),
    Deed.SIGNED_OUT: message("signed out"),
    Deed.SESSIONS_ENDED: message("other sessions ended"),
    Deed.PIN_REFUSED: message("PIN refused"),
    Deed.TOKEN_REFUSED: message("API token refused"),
    Deed.ACCOUNT_ADDED: message("account added"),
    Deed.ACCOUNT_CHANGED: message("role or scope changed"),
    Deed.ACCOUNT_CLOSED: message("account closed"),
    Deed.ACCOUNT_OPENED: message("account opened again"),
    Deed.PASSWORD_CHANGED: message("password changed"),
    Deed.PIN_CHANGED: message("PIN changed"),
    Deed.SIGN_ON_CHANGED: message("name at the company's sign-on changed"),
    Deed.PASSKEY_ADDED: message("passkey added"),
    Deed.PASSKEY_REMOVED: message("passkey removed"),
    Deed.LINK_MADE: message("link made"),
    Deed.LINK_ENDED: message("link ended"),
    Deed.TOKEN_MADE: message("API token made"),
    Deed.TOKEN_ENDED: message("API token ended"),
    Deed.WEBHOOK_MADE: message("webhook made"),
    Deed.WEBHOOK_CHANGED: message("webhook changed"),
    Deed.WEBHOOK_ENDED: message("webhook ended"),
    Deed.KEY_ROTATED: message("signing key changed"),
    Deed.PHOTOS_PRUNED: message("photos taken out by rule"),
    Deed.NAME_ERASED: message("name erased"),
    Deed.RESTORED: message("restored from a backup"),
    Deed.COMMAND_RUN: message("command run"),
}


@dataclass(frozen=True)
class AuditRow:
    """One line of the audit log; ``code``: what was asked for is an address of this service and not a word."""

    when: str
    who: str
    role: Text
    what: Text
    code: bool
    about: str
    detail: str
    times: int
    shipment: str
    address: str
    status: int


@dataclass(frozen=True)
class Choice:
    """One thing to look for."""

    value: str
    words: Text
    chosen: bool


@dataclass(frozen=True)
class AuditPage:
    """Who saw and did what, the newest first; ``older``: the number before which the next page begins, 0 at the end."""

    template: ClassVar[str] = "audit.html"
    title: ClassVar[Text] = message("Who saw and did what")

    shipment: str
    person: str
    kind: str
    people: tuple[Choice, ...]
    kinds: tuple[Choice, ...]
    rows: tuple[AuditRow, ...]
    older: int


def audit_page(lines: tuple[AuditLine, ...], wanted: AuditWanted, names: Iterable[str]) -> AuditPage:
    """The lines that were looked for."""
    known = dict.fromkeys((*names, *([wanted.person] if wanted.person else [])))
    kind = wanted.kind.value if wanted.kind else ""
    return AuditPage(
        wanted.shipment,
        wanted.person,
        kind,
        (Choice("", message("Everybody"), not wanted.person), *(Choice(n, n, n == wanted.person) for n in known)),
        (Choice("", message("Everything"), not kind), *(Choice(k.value, w, k == kind) for k, w in KIND_WORDS.items())),
        tuple(map(_row, lines)),
        lines[-1].seq if len(lines) == wanted.most else 0,
    )


def _row(line: AuditLine) -> AuditRow:
    return AuditRow(
        f"{line.at:%Y-%m-%d %H:%M:%S} UTC",
        line.name,
        ROLE_WORDS[Role(line.role)] if line.role in list(Role) else line.role,
        DEED_WORDS.get(line.action, line.action),
        line.action not in DEED_WORDS,
        line.about if line.about != line.name else "",
        line.detail,
        line.times,
        line.shipment,
        line.address,
        line.status,
    )
