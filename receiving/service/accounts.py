"""People sign in, come by a link, and are let in or refused; who saw and did what is written down.

A session is a random token of 256 bits; the store holds its SHA-256 alone. Tries are slowed down for one name at one
address, and for one address over all names, so that nobody can lock another person out.
"""

import hashlib
import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, ip_address, ip_network

from receiving.dispatch import Swap
from receiving.errors import BadRequest, Conflict, ReceivingError
from receiving.messages import Text, message, plural
from receiving.model import Access, AuditLine, DataScope, NoteWithdrawn, Person, Role, ShipmentLink, note_kind
from receiving.model.hidden_signs import find_hidden_sign
from receiving.service.context import Context
from receiving.service.passwords import FIRST_LIFE, MOST_PASSWORD, check_password, hash_secret, is_secret
from receiving.store import SessionRecord, Store

SESSION_LIFE = timedelta(days=30)
IDLE_LIFE = timedelta(days=7)
SEEN_EVERY = timedelta(minutes=10)
MAX_NAME = 80

FREE_TRIES = 5
"""Wrong passwords for one name at one address that cost no wait; each further one doubles it, from 2 s to a minute."""
ADDRESS_TRIES = 60
"""Wrong passwords of one address, whatever the names, after which it waits a minute between tries."""
COUNTED = timedelta(minutes=15)
LONGEST_WAIT_S = 60


class SignInRefused(ReceivingError):
    """The name and the password do not match."""


class TooManyTries(ReceivingError):
    """Wrong passwords came too fast; ``wait_s`` says how long to wait."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(
            message("There were too many wrong passwords."),
            next_step=plural(wait_s, "Wait {number} second, then try again.", "Wait {number} seconds, then try again."),
        )
        self.wait_s = wait_s


class FirstPassword(ReceivingError):
    """The password is right, and somebody else knows it: it is replaced before it opens anything."""

    def __init__(self) -> None:
        super().__init__(
            message("This password was made for you by somebody else."),
            next_step=message("Choose one of your own now."),
        )


@dataclass(frozen=True)
class SignedIn:
    """A session that has just begun: the token for the person's browser, and how long it lasts at most."""

    token: str
    access: Access
    expires_at: datetime


def has_people(ctx: Context) -> bool:
    """True once there is an account: from then on everybody must sign in."""
    with ctx.store() as store:
        return store.has_people()


def list_people(ctx: Context) -> tuple[Person, ...]:
    """All accounts by name."""
    with ctx.store() as store:
        return store.people()


def add_person(
    ctx: Context,
    name: str,
    role: Role,
    password: str,
    *,
    stores: Iterable[str] | None = None,
    programmes: Iterable[str] | None = None,
    first_password: bool = False,
) -> Person:
    """Add an account. The first one must be a coordinator of everything, who can then add the others.

    ``first_password``: somebody else knows the password, so it lets nobody in until it is replaced, in three days.

    Raises BadRequest for a name, password or list of stores that cannot be used, Conflict where the name is taken.
    """
    name = checked_name(name)
    check_password(password, name)
    person = Person(ctx.new_id(), name, role, checked_scope(stores, programmes), ctx.clock())
    hashed = hash_secret(password)
    with ctx.transaction() as store:
        if not store.has_people() and (role is not Role.COORDINATOR or person.scope.limited):
            raise BadRequest(
                message(
                    "The first account must be a coordinator of all stores and programmes, who can add the others."
                ),
                next_step=message("Add a coordinator without a list of stores or programmes first."),
                field="role",
            )
        store.add_person(person, hashed, first_until=_first_until(ctx, first_password))
    return person


def checked_name(name: str) -> str:
    """The name on one line; raises BadRequest."""
    name = " ".join(name.split())
    if not name or len(name) > MAX_NAME or find_hidden_sign(name, lines=False) is not None:
        raise BadRequest(
            message("The name is empty.")
            if not name
            else message("The name {name}… cannot be used.", name=repr(name[:20])),
            next_step=message("Type a name of 1 to {max_name} printable characters.", max_name=MAX_NAME),
            field="name",
        )
    return name


def checked_scope(stores: Iterable[str] | None, programmes: Iterable[str] | None) -> DataScope:
    """The scope without empty names; None means all. Raises BadRequest for an empty list."""
    no_store = message("The list of stores is empty.")
    no_programme = message("The list of programmes is empty.")
    return DataScope(
        _listed(stores, no_store, message("Name stores, or leave the list out for all."), "stores"),
        _listed(programmes, no_programme, message("Name programmes, or leave the list out for all."), "programmes"),
    )


def _listed(names: Iterable[str] | None, fault: Text, next_step: Text, field: str) -> frozenset[str] | None:
    if names is None:
        return None
    listed = frozenset(name.strip() for name in names if name.strip())
    if not listed:
        raise BadRequest(fault, next_step=next_step, field=field)
    return listed


def change_person(
    ctx: Context,
    person_id: str,
    role: Role,
    *,
    stores: Iterable[str] | None = None,
    programmes: Iterable[str] | None = None,
) -> None:
    """Give an account another role or scope, at once. Raises Conflict for the last coordinator of all, NotFound."""
    scope = checked_scope(stores, programmes)
    with ctx.transaction() as store:
        person = store.person(person_id)
        if person.active and (role is not Role.COORDINATOR or scope.limited):
            _check_coordinator_left(store, person_id)
        store.change_person(person_id, role, scope)


def _check_coordinator_left(store: Store, but: str) -> None:
    left = [each for each in store.people() if each.active and each.person_id != but]
    if not any(each.role is Role.COORDINATOR and not each.scope.limited for each in left):
        raise Conflict(
            message("This is the last coordinator of all stores: nobody could add people any more."),
            next_step=message("Add another coordinator first."),
            field="role",
        )


def set_password(ctx: Context, person_id: str, password: str, *, first_password: bool = False) -> None:
    """Replace a password; every session of the person ends. Raises BadRequest, NotFound.

    ``first_password``: as for a new account.
    """
    with ctx.store() as store:
        check_password(password, store.person(person_id).name)
    hashed = hash_secret(password)
    with ctx.transaction() as store:
        store.set_password(person_id, hashed, first_until=_first_until(ctx, first_password))


def _first_until(ctx: Context, first_password: bool) -> datetime | None:
    return ctx.clock() + FIRST_LIFE if first_password else None


def close_account(ctx: Context, person_id: str) -> None:
    """End an account and its sessions. Raises Conflict for the last coordinator of all stores, NotFound."""
    with ctx.transaction() as store:
        person = store.person(person_id)
        if person.active:
            _check_coordinator_left(store, person_id)
        store.disable_person(person_id, ctx.clock())


def open_account(ctx: Context, person_id: str) -> None:
    """Open a closed account again. Raises NotFound."""
    with ctx.transaction() as store:
        store.person(person_id)
        store.disable_person(person_id, None)


def sign_in(ctx: Context, name: str, password: str, *, address: str, new: str = "") -> SignedIn:
    """Begin a session; ``new`` replaces a first password.

    Raises SignInRefused, TooManyTries where wrong passwords come too fast, FirstPassword where it is to be replaced,
    BadRequest for a new one that cannot be used.
    """
    name = " ".join(name.split())[:MAX_NAME]
    person = check_slowly(ctx, name, address, lambda: right_password(ctx, name, password))
    with ctx.store() as store:
        first_until = store.first_password_until(person.person_id)
    hashed = _hash_of_own(ctx, person, password, new, first_until) if first_until else ""
    with ctx.transaction() as store:
        if hashed:
            store.set_password(person.person_id, hashed)
        return begin_session(ctx, store, person)


def _hash_of_own(ctx: Context, person: Person, first: str, new: str, until: datetime) -> str:
    if ctx.clock() >= until:
        raise SignInRefused(
            message("This first password has expired."), next_step=message("Ask a coordinator for a new one.")
        )
    if not new:
        raise FirstPassword
    if new == first:
        raise BadRequest(
            message("This is the first password again."),
            next_step=message("Choose another one, for example four words."),
            field="new",
        )
    check_password(new, person.name)
    return hash_secret(new)


def check_slowly(ctx: Context, name: str, address: str, check: Callable[[], Person | None], what: str = "") -> Person:
    """The person whom ``check`` finds; wrong tries for this name at this address come slower and slower.

    ``what`` keeps tries of another kind (a PIN) apart. Raises SignInRefused, TooManyTries.
    """
    key, now, address = f"{what}{name}", ctx.clock(), counted_as(address)
    with ctx.store() as store:
        wait_s = _wait_s(store.failed_sign_ins(address, now - COUNTED), key, now)
    if wait_s:
        raise TooManyTries(wait_s)
    found = check()
    with ctx.transaction() as store:
        if found:
            store.forget_failed_sign_ins(key, address)
            return found
        store.add_failed_sign_in(key, address, now, forget_before=now - COUNTED)
    raise SignInRefused(
        message("The name and the PIN do not match.") if what else message("The name and the password do not match."),
        next_step=message(
            "Check both; a store manager sets the PIN on the page “Your account”, or signs with a finger."
        )
        if what
        else message("Check both; a coordinator can set a new password."),
        field=what.strip().casefold() or "password",
    )


def counted_as(address: str) -> str:
    """The address as tries are counted: of IPv6 the network, since a single line has 2^64 addresses (RFC 6177).

    >>> counted_as("2001:db8::7"), counted_as("192.0.2.7"), counted_as("::ffff:192.0.2.7")
    ('2001:db8::/64', '192.0.2.7', '192.0.2.7')
    """
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, IPv4Address):
        return str(found)
    return str(found.ipv4_mapped or ip_network((found, 64), strict=False))


def right_password(ctx: Context, name: str, password: str) -> Person | None:
    """The person of this name where the password is right."""
    with ctx.store() as store:
        found = store.credentials(name)
    # The same work for a name that is not there, so that the time tells nothing.
    right = is_secret(found[1] if found else "", password[:MOST_PASSWORD])
    return found[0] if found and right else None


def begin_session(ctx: Context, store: Store, person: Person) -> SignedIn:
    """A session of this person, who has proved who he is."""
    token, now = secrets.token_urlsafe(32), ctx.clock()
    session = SessionRecord(token_digest(token), person.person_id, "", now, now, now + SESSION_LIFE)
    store.add_session(session)
    return SignedIn(token, _access(person, session.token_sha256), session.expires_at)


def _wait_s(failed: tuple[tuple[str, datetime], ...], name: str, now: datetime) -> int:
    """How long this name must wait at this address, in whole seconds.

    Tries that are later than now were made before the clock was set back, and would shut out by as much.
    """
    failed = tuple((key, at) for key, at in failed if at <= now)
    own = [at for key, at in failed if key == name.casefold()]
    wait = timedelta()
    if len(own) >= FREE_TRIES:
        wait = own[-1] + timedelta(seconds=min(LONGEST_WAIT_S, 2 ** (len(own) - FREE_TRIES + 1))) - now
    if len(failed) >= ADDRESS_TRIES:
        wait = max(wait, failed[-1][1] + timedelta(seconds=LONGEST_WAIT_S) - now)
    return max(0, -int(-wait.total_seconds() // 1))


def sign_out(ctx: Context, access: Access) -> None:
    """End this session."""
    if access.session:
        with ctx.transaction() as store:
            store.end_session(access.session)


def find_access(ctx: Context, token: str) -> Access | None:
    """What the holder of this token may do; None where the session is over, revoked, or was never begun."""
    if not token:
        return None
    now = ctx.clock()
    with ctx.store() as store:
        session = store.session(token_digest(token))
        if session is None or now >= session.expires_at or now - session.seen_at > IDLE_LIFE:
            return None
        if session.link_id:
            link = store.link(session.link_id)
            access = access_by_link(link, session.token_sha256) if link and is_link_open(link, now) else None
        else:
            person = store.person(session.person_id)
            access = _access(person, session.token_sha256) if person.active else None
        if access and now - session.seen_at > SEEN_EVERY:
            store.touch_session(session.token_sha256, now)
    return access


def find_access_by_name(ctx: Context, name: str) -> Access | None:
    """What the account of this name may do, where a trusted proxy says who it is; None where there is none."""
    with ctx.store() as store:
        found = store.credentials(name)
    return _access(found[0], f"proxy:{found[0].person_id}") if found else None


def _access(person: Person, session: str) -> Access:
    return Access(person.name, person.role, session, person.scope)


def access_by_link(link: ShipmentLink, session: str) -> Access:
    """What who came by this link may do."""
    return Access(link.label, Role.STORE_STAFF, session, shipment=link.shipment)


def is_link_open(link: ShipmentLink, now: datetime) -> bool:
    """The link was not ended and has not expired."""
    return link.revoked_at is None and now < link.expires_at


def may_see(ctx: Context, access: Access, *, shipment: str = "", store: str = "") -> bool:
    """True when this shipment (or store) is within what the person may see; an unknown one is nobody's to see."""
    with ctx.store() as found:
        if shipment:
            record = found.shipment(shipment)
            return access.sees(shipment, record.store, record.programme)
        if access.shipment or not access.scope.sees_store(store):
            return False
        # What a store asks for is one for all its programmes, so it is there for those alone who see all of them.
        programmes = access.scope.programmes
        return programmes is None or found.programmes_of(store) <= programmes


def sees_swap(ctx: Context, scope: DataScope, swap: Swap) -> bool:
    """True when both shipments of a swap are within this scope."""
    with ctx.store() as store:
        both = (store.shipment(each) for each in (swap.spare.shipment, swap.want.shipment))
        return all(scope.sees(record.store, record.programme) for record in both)


def find_note_kinds(ctx: Context, shipment: str, note_ids: Iterable[str]) -> frozenset[str]:
    """The kinds of these notes of a shipment, and of the notes that they withdraw; unknown ids have none."""
    with ctx.store() as store:
        known = {note.note_id: note for note in store.notes(shipment)}
    kinds, wanted = set(), list(note_ids)
    while wanted:
        note = known.pop(wanted.pop(), None)
        if note is not None:
            kinds.add(note_kind(type(note)))
            wanted += [note.withdrawn] if isinstance(note, NoteWithdrawn) else []
    return frozenset(kinds)


def write_audit(ctx: Context, lines: Iterable[AuditLine]) -> None:
    """Write down who saw and did what."""
    with ctx.transaction() as store:
        store.add_audit(lines)


def list_audit(ctx: Context, *, shipment: str = "") -> tuple[AuditLine, ...]:
    """Who saw and did what, the newest first, of one shipment or of all."""
    with ctx.store() as store:
        return store.audit(shipment=shipment)


def get_service_secret(ctx: Context, name: str) -> str:
    """A secret of this data folder, made at first use."""
    with ctx.store() as store:
        return store.secret(name, secrets.token_urlsafe(32))


def token_digest(token: str) -> str:
    """What is stored of a token: its SHA-256."""
    return hashlib.sha256(token.encode()).hexdigest()
