"""Who may do what: people, their roles, and the rights that a role brings."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum


class Right(StrEnum):
    """What a person may do; every page and every form asks for one of these."""

    SEE = "see"
    RECEIVE = "receive"
    CONFIRM = "confirm"
    ORDER = "order"
    DECIDE = "decide"
    PREPARE = "prepare"
    ADMINISTER = "administer"


class Role(StrEnum):
    """What a person is here for. Store staff come by a link to one shipment and have no account."""

    COORDINATOR = "coordinator"
    REP = "rep"
    STORE_MANAGER = "store_manager"
    STORE_STAFF = "store_staff"


RIGHTS: dict[Role, frozenset[Right]] = {
    Role.COORDINATOR: frozenset(Right) - {Right.CONFIRM},
    Role.REP: frozenset({Right.SEE, Right.RECEIVE, Right.CONFIRM, Right.ORDER}),
    Role.STORE_MANAGER: frozenset({Right.SEE, Right.RECEIVE, Right.CONFIRM}),
    Role.STORE_STAFF: frozenset({Right.SEE, Right.RECEIVE}),
}
"""A coordinator never confirms for a store; a rep holds the phone on which a store manager signs."""

ACCOUNT_ROLES = (Role.COORDINATOR, Role.REP, Role.STORE_MANAGER)


@dataclass(frozen=True)
class DataScope:
    """Which shipments somebody sees: those to these ``stores`` and of these ``programmes``; None means all of them.

    A shipment's programme is its manifest's reference of that name; one without is seen by those alone who see all.

    >>> scope = DataScope(frozenset({"0417"}), frozenset({"Spring"}))
    >>> scope.sees("0417", "Spring"), scope.sees("0417", ""), scope.sees("0422", "Spring"), EVERYTHING.sees("0422", "")
    (True, False, False, True)
    """

    stores: frozenset[str] | None = None
    programmes: frozenset[str] | None = None

    def sees(self, store: str, programme: str) -> bool:
        """A shipment to this store, of this programme, is seen."""
        return self.sees_store(store) and (self.programmes is None or programme in self.programmes)

    def sees_store(self, store: str) -> bool:
        """This store is seen, if only for some programmes."""
        return self.stores is None or store in self.stores

    @property
    def limited(self) -> bool:
        """Something is not seen."""
        return self.stores is not None or self.programmes is not None


EVERYTHING = DataScope()
NOTHING = DataScope(frozenset(), frozenset())


@dataclass(frozen=True)
class Person:
    """One account, and what it sees. ``has_pin``: a PIN confirms a receipt on somebody else's phone.

    ``subject`` is what the company's sign-on calls this person; empty where there is none.
    """

    person_id: str
    name: str
    role: Role
    scope: DataScope
    created_at: datetime
    disabled_at: datetime | None = None
    has_pin: bool = False
    subject: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip() or self.name != " ".join(self.name.split()):
            raise ValueError(f"name {self.name!r}: one line without spaces at its ends")
        if self.role not in ACCOUNT_ROLES:
            raise ValueError(f"role {self.role!r} has no account")

    @property
    def active(self) -> bool:
        """The account may be used."""
        return self.disabled_at is None


@dataclass(frozen=True)
class ShipmentLink:
    """A link for store staff to one shipment; the link itself is a secret that only its maker was shown."""

    link_id: str
    shipment: str
    label: str
    created_by: str
    created_at: datetime
    expires_at: datetime
    revoked_at: datetime | None = None


@dataclass(frozen=True)
class Access:
    """What a request's sender may do and see. ``session`` is empty where nobody signed in: one user, this machine.

    ``shipment`` set: this shipment alone. ``stranger``: nobody signed in though everybody
    has to; such a one may do nothing.

    >>> alone = Access("", None)
    >>> alone.may(Right.ADMINISTER), alone.sees("S-1", "0417", "")
    (True, True)
    >>> staff = Access("Dock team", Role.STORE_STAFF, shipment="S-1")
    >>> staff.may(Right.CONFIRM), staff.sees("S-1", "0417", ""), staff.sees("S-2", "0417", "")
    (False, True, False)
    >>> Access("", None, scope=NOTHING, stranger=True).rights
    frozenset()
    """

    name: str
    role: Role | None
    session: str = ""
    scope: DataScope = EVERYTHING
    shipment: str = ""
    stranger: bool = False
    rights: frozenset[Right] = field(default_factory=frozenset)

    def __post_init__(self) -> None:
        everything = frozenset() if self.stranger else frozenset(Right)
        rights = everything if self.role is None else RIGHTS[self.role]
        # Who sees a part only does not manage the people and the master data of all.
        if self.scope.limited:
            rights -= {Right.ADMINISTER, Right.PREPARE}
        object.__setattr__(self, "rights", rights)

    def may(self, right: Right) -> bool:
        """This right is among those of the role."""
        return right in self.rights

    def sees(self, shipment: str, store: str, programme: str) -> bool:
        """This shipment to this store, of this programme, is within what the person may see."""
        return self.scope.sees(store, programme) and self.shipment in ("", shipment)
