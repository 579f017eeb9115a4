"""Signing in, the people, and links for store staff."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.errors import ReceivingError
from receiving.messages import Text, joined, message
from receiving.model import ACCOUNT_ROLES, DataScope, Person, Role, ShipmentLink
from web.pages.problem import Trouble, trouble_of

ROLE_WORDS = {
    Role.COORDINATOR: message("Coordinator"),
    Role.REP: message("Rep"),
    Role.STORE_MANAGER: message("Store manager"),
    Role.STORE_STAFF: message("Store staff"),
}


@dataclass(frozen=True)
class SignInPage:
    """Name and password, and why they were refused; ``company`` is what the company's sign-on is called here.

    ``first``: the password was made by somebody else and is to be replaced.
    """

    template: ClassVar[str] = "sign_in.html"

    back: str
    name: str = ""
    trouble: Trouble | None = None
    passkeys: bool = False
    company: str = ""
    first: bool = False
    title: ClassVar[Text] = message("Sign in")


@dataclass(frozen=True)
class ComePage:
    """Where a link for store staff leads; ``signed_in``: whose session it would end, who is asked first."""

    template: ClassVar[str] = "come.html"
    title: ClassVar[Text] = message("Open a shipment")
    signed_in: str = ""


@dataclass(frozen=True)
class PersonRow:
    """One account in the list."""

    person_id: str
    name: str
    role: Text
    scope: Text
    stores: str
    programmes: str
    subject: str
    closed: bool
    roles: tuple["RoleChoice", ...]


@dataclass(frozen=True)
class RoleChoice:
    """One role to choose."""

    value: str
    words: Text
    chosen: bool


@dataclass(frozen=True)
class PasswordMade:
    """A first password that was just made, and for whom."""

    name: str
    password: str


@dataclass(frozen=True)
class PeoplePage:
    """The accounts. ``first``: there is none yet, and the page is open to whoever reaches it."""

    template: ClassVar[str] = "people.html"
    title: ClassVar[Text] = message("People")

    rows: tuple[PersonRow, ...]
    roles: tuple[RoleChoice, ...]
    name: str
    stores: str
    programmes: str
    subject: str
    trouble: Trouble | None
    first: bool
    made: PasswordMade | None = None


@dataclass(frozen=True)
class LinkMade:
    """A link that was just made; ``qr`` is its symbol as SVG."""

    label: str
    address: str
    qr: str


@dataclass(frozen=True)
class LinkRow:
    """One link in the list."""

    link_id: str
    label: str
    words: Text
    open: bool


@dataclass(frozen=True)
class LinksPage:
    """The links to one shipment."""

    template: ClassVar[str] = "links.html"
    title: ClassVar[Text] = message("Links for store staff")

    shipment: str
    rows: tuple[LinkRow, ...]
    made: LinkMade | None


def people_page(
    people: Iterable[Person],
    typed: Mapping[str, str],
    fault: ReceivingError | None,
    *,
    signed_in: bool,
    made: PasswordMade | None = None,
    changed: str = "",
) -> PeoplePage:
    """The list of accounts with what was typed for another one; ``changed`` is whose account could not be changed."""
    rows = tuple(
        PersonRow(
            each.person_id,
            each.name,
            ROLE_WORDS[each.role],
            scope_words(each.scope),
            ", ".join(sorted(each.scope.stores or ())),
            ", ".join(sorted(each.scope.programmes or ())),
            each.subject,
            not each.active,
            _roles(each.role),
        )
        for each in people
    )
    chosen = typed.get("role") or (Role.COORDINATOR if not rows else Role.REP)
    kept = typed if fault and not changed else {}
    return PeoplePage(
        rows=rows,
        roles=_roles(chosen),
        name=kept.get("name", ""),
        stores=kept.get("stores", ""),
        programmes=kept.get("programmes", ""),
        subject=kept.get("subject", ""),
        trouble=trouble_of(fault, anchor=lambda at: _field_id(at.field, changed)),
        first=not rows and not signed_in,
        made=made,
    )


def _field_id(field: str, changed: str) -> str:
    if changed:
        return f"{field}-{changed}"
    return {"new": "password"}.get(field, f"{field}-new" if field in ("stores", "programmes", "subject") else field)


def _roles(chosen: str) -> tuple[RoleChoice, ...]:
    return tuple(RoleChoice(role.value, ROLE_WORDS[role], role == chosen) for role in ACCOUNT_ROLES)


def scope_words(scope: DataScope) -> Text:
    """What somebody sees, in words."""
    if scope.stores is None:
        stores = message("all stores")
    else:
        stores = message("stores {stores}", stores=", ".join(sorted(scope.stores)))
    if scope.programmes is None:
        return stores
    return joined(
        stores, message("programmes {programmes}", programmes=", ".join(sorted(scope.programmes))), separator=", "
    )


def links_page(shipment: str, links: Iterable[ShipmentLink], now: datetime, made: LinkMade | None = None) -> LinksPage:
    """The links to one shipment, and the one that was just made."""
    return LinksPage(shipment, tuple(_link_row(link, now) for link in links), made)


def _link_row(link: ShipmentLink, now: datetime) -> LinkRow:
    still = link.revoked_at is None and now < link.expires_at
    if still:
        words = message("until {moment}", moment=link.expires_at.astimezone(now.tzinfo))
    else:
        words = message("ended") if link.revoked_at else message("expired")
    return LinkRow(link.link_id, link.label, words, still)
