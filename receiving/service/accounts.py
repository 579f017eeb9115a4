"""People sign in, come by a link, and are let in or refused; who saw and did what is written down.

Passwords are hashed with argon2id (RFC 9106, second recommended choice: 64 MiB, 3 passes). A session is a random token
of 256 bits; the store holds its SHA-256 alone. Tries are slowed down for one name at one address, and for one address
over all names, so that nobody can lock another person out.
"""

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from receiving.errors import BadRequest, Conflict, ReceivingError
from receiving.model import Access, AuditLine, NoteWithdrawn, Person, Role, ShipmentLink
from receiving.service.desk import Desk
from receiving.store import SessionRecord
from receiving.store.records import note_kind

SESSION_LIFE = timedelta(days=30)
IDLE_LIFE = timedelta(days=7)
SEEN_EVERY = timedelta(minutes=10)
LEAST_PASSWORD, MOST_PASSWORD = 12, 200
MAX_NAME = 80
LINK_DAYS = (1, 60)

FREE_TRIES = 5
"""Wrong passwords for one name at one address that cost no wait; each further one doubles it, from 2 s to a minute."""
ADDRESS_TRIES = 60
"""Wrong passwords of one address, whatever the names, after which it waits a minute between tries."""
COUNTED = timedelta(minutes=15)
LONGEST_WAIT_S = 60


class SignInRefused(ReceivingError):
    """Name and password do not belong together."""


class TooManyTries(ReceivingError):
    """Wrong passwords came too fast; ``wait_s`` says how long to wait."""

    def __init__(self, wait_s: int) -> None:
        super().__init__("There were too many wrong passwords.", next_step=f"Wait {wait_s} seconds, then try again.")
        self.wait_s = wait_s


@dataclass(frozen=True)
class SignedIn:
    """A session that has just begun: the token for the person's browser, and how long it lasts at most."""

    token: str
    access: Access
    expires_at: datetime


def has_people(desk: Desk) -> bool:
    """True once there is an account: from then on everybody must sign in."""
    with desk.store() as store:
        return store.has_people()


def people(desk: Desk) -> tuple[Person, ...]:
    """All accounts by name."""
    with desk.store() as store:
        return store.people()


def add_person(desk: Desk, name: str, role: Role, password: str, *, stores: Iterable[str] | None = None) -> Person:
    """Add an account. The first one must be a coordinator of all stores, who can then add the others.

    Raises BadRequest for a name, password or list of stores that cannot be used, Conflict where the name is taken.
    """
    name = checked_name(name)
    check_password(password, name)
    person = Person(desk.new_id(), name, role, checked_stores(stores), desk.now())
    hashed = _hash(password)
    with desk.transaction() as store:
        if not store.has_people() and (role is not Role.COORDINATOR or person.stores is not None):
            raise BadRequest(
                "The first account must be a coordinator of all stores, who can add the others.",
                next_step="Add a coordinator without a list of stores first.",
            )
        store.add_person(person, hashed)
    return person


def checked_name(name: str) -> str:
    """The name on one line; raises BadRequest."""
    name = " ".join(name.split())
    if not name or len(name) > MAX_NAME or not name.isprintable():
        raise BadRequest(
            "The name is empty." if not name else f"The name {name[:20]!r}… cannot be used.",
            next_step=f"Type a name of 1 to {MAX_NAME} printable characters.",
        )
    return name


def check_password(password: str, name: str) -> None:
    """Raises BadRequest for a password that is too short, too long, or easily guessed (NIST SP 800-63B, 5.1.1.2)."""
    wrong = ""
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        wrong = f"has {len(password)} characters"
    elif len(set(password.casefold())) < 5:
        wrong = "repeats a few characters"
    elif name.casefold() in password.casefold():
        wrong = "contains the name"
    if wrong:
        raise BadRequest(
            f"The password {wrong}.",
            next_step=f"Choose {LEAST_PASSWORD} to {MOST_PASSWORD} characters, for example four words.",
        )


def checked_stores(stores: Iterable[str] | None) -> frozenset[str] | None:
    """The stores without empty ones; None means all. Raises BadRequest for an empty list."""
    if stores is None:
        return None
    listed = frozenset(store.strip() for store in stores if store.strip())
    if not listed:
        raise BadRequest("The list of stores is empty.", next_step="Name stores, or leave the list away for all.")
    return listed


def set_password(desk: Desk, person_id: str, password: str) -> None:
    """Replace a password; every session of the person ends. Raises BadRequest, NotFound."""
    with desk.store() as store:
        check_password(password, store.person(person_id).name)
    hashed = _hash(password)
    with desk.transaction() as store:
        store.set_password(person_id, hashed)


def close_account(desk: Desk, person_id: str) -> None:
    """End an account and its sessions. Raises Conflict for the last coordinator of all stores, NotFound."""
    with desk.transaction() as store:
        person = store.person(person_id)
        left = [each for each in store.people() if each.active and each.person_id != person_id]
        if person.active and not any(each.role is Role.COORDINATOR and each.stores is None for each in left):
            raise Conflict(
                "This is the last coordinator of all stores: nobody could add people any more.",
                next_step="Add another coordinator first.",
            )
        store.disable_person(person_id, desk.now())


def open_account(desk: Desk, person_id: str) -> None:
    """Open a closed account again. Raises NotFound."""
    with desk.transaction() as store:
        store.person(person_id)
        store.disable_person(person_id, None)


def sign_in(desk: Desk, name: str, password: str, *, address: str) -> SignedIn:
    """Begin a session. Raises SignInRefused, and TooManyTries where wrong passwords come too fast."""
    name, now = " ".join(name.split())[:MAX_NAME], desk.now()
    with desk.store() as store:
        wait_s = _wait_s(store.failed_sign_ins(address, now - COUNTED), name, now)
        if wait_s:
            raise TooManyTries(wait_s)
        found = store.credentials(name)
    # The same work for a name that is not there, so that the time tells nothing.
    right = _verify(found[1] if found else _hash_of_nobody(), password[:MOST_PASSWORD])
    with desk.transaction() as store:
        if not found or not right:
            store.add_failed_sign_in(name, address, now, forget_before=now - COUNTED)
        else:
            store.forget_failed_sign_ins(name, address)
            token = secrets.token_urlsafe(32)
            session = SessionRecord(_sha256(token), found[0].person_id, "", now, now, now + SESSION_LIFE)
            store.add_session(session)
            return SignedIn(token, _access(found[0], session.token_sha256), session.expires_at)
    raise SignInRefused(
        "Name and password do not belong together.",
        next_step="Check both; a coordinator can set a new password.",
    )


def _wait_s(failed: tuple[tuple[str, datetime], ...], name: str, now: datetime) -> int:
    """How long this name must wait at this address, in whole seconds."""
    own = [at for key, at in failed if key == name.casefold()]
    wait = timedelta()
    if len(own) >= FREE_TRIES:
        wait = own[-1] + timedelta(seconds=min(LONGEST_WAIT_S, 2 ** (len(own) - FREE_TRIES + 1))) - now
    if len(failed) >= ADDRESS_TRIES:
        wait = max(wait, failed[-1][1] + timedelta(seconds=LONGEST_WAIT_S) - now)
    return max(0, -int(-wait.total_seconds() // 1))


def sign_out(desk: Desk, access: Access) -> None:
    """End this session."""
    if access.session:
        with desk.transaction() as store:
            store.end_session(access.session)


def access_of(desk: Desk, token: str) -> Access | None:
    """What the holder of this token may do; None where the session is over, revoked, or was never begun."""
    if not token:
        return None
    now = desk.now()
    with desk.store() as store:
        session = store.session(_sha256(token))
        if session is None or now >= session.expires_at or now - session.seen_at > IDLE_LIFE:
            return None
        if session.link_id:
            link = store.link(session.link_id)
            access = _access_by(link, session.token_sha256) if link and _usable(link, now) else None
        else:
            person = store.person(session.person_id)
            access = _access(person, session.token_sha256) if person.active else None
        if access and now - session.seen_at > SEEN_EVERY:
            store.touch_session(session.token_sha256, now)
    return access


def access_by_name(desk: Desk, name: str) -> Access | None:
    """What the account of this name may do, where a trusted proxy says who it is; None where there is none."""
    with desk.store() as store:
        found = store.credentials(name)
    return _access(found[0], f"proxy:{found[0].person_id}") if found else None


def _access(person: Person, session: str) -> Access:
    return Access(person.name, person.role, session, person.stores)


def _access_by(link: ShipmentLink, session: str) -> Access:
    return Access(link.label, Role.STORE_STAFF, session, shipment=link.shipment)


def _usable(link: ShipmentLink, now: datetime) -> bool:
    return link.revoked_at is None and now < link.expires_at


def make_link(desk: Desk, shipment: str, label: str, *, days: int, by: str) -> tuple[ShipmentLink, str]:
    """A link for store staff to one shipment, and its secret. Raises BadRequest, NotFound."""
    least, most = LINK_DAYS
    if not least <= days <= most:
        raise BadRequest(f"A link for {days} days cannot be made.", next_step=f"Choose {least} to {most} days.")
    now, token = desk.now(), secrets.token_urlsafe(32)
    link = ShipmentLink(desk.new_id(), shipment, checked_name(label), by, now, now + timedelta(days=days))
    with desk.transaction() as store:
        store.add_link(link, _sha256(token))
    return link, token


def links(desk: Desk, shipment: str) -> tuple[ShipmentLink, ...]:
    """All links to this shipment, the newest first. Raises NotFound."""
    with desk.store() as store:
        store.shipment(shipment)
        return store.links(shipment)


def revoke_link(desk: Desk, shipment: str, link_id: str) -> None:
    """End a link to this shipment and every session that came by it."""
    with desk.transaction() as store:
        link = store.link(link_id)
        if link and link.shipment == shipment:
            store.revoke_link(link_id, desk.now())


def come_by_link(desk: Desk, token: str) -> SignedIn:
    """Begin a session by a link. Raises SignInRefused where the link is over, revoked or wrong."""
    now = desk.now()
    with desk.transaction() as store:
        link = store.link_of_token(_sha256(token))
        if link is None or not _usable(link, now):
            raise SignInRefused(
                "This link does not open a shipment any more.", next_step="Ask whoever sent it for a new one."
            )
        fresh = secrets.token_urlsafe(32)
        session = SessionRecord(_sha256(fresh), "", link.link_id, now, now, link.expires_at)
        store.add_session(session)
    return SignedIn(fresh, _access_by(link, session.token_sha256), link.expires_at)


def may_see(desk: Desk, access: Access, *, shipment: str = "", store: str = "") -> bool:
    """True when this shipment (or store) is within what the person may see; an unknown one is nobody's to see."""
    if shipment:
        with desk.store() as found:
            return access.sees(shipment, found.shipment(shipment).store)
    return not access.shipment and access.sees_store(store)


def note_kinds(desk: Desk, shipment: str, note_ids: Iterable[str]) -> frozenset[str]:
    """The kinds of these notes of a shipment, and of the notes that they withdraw; unknown ids have none."""
    with desk.store() as store:
        known = {note.note_id: note for note in store.notes(shipment)}
    kinds, wanted = set(), list(note_ids)
    while wanted:
        note = known.pop(wanted.pop(), None)
        if note is not None:
            kinds.add(note_kind(note))
            wanted += [note.withdrawn] if isinstance(note, NoteWithdrawn) else []
    return frozenset(kinds)


def write_audit(desk: Desk, lines: Iterable[AuditLine]) -> None:
    """Write down who saw and did what."""
    with desk.transaction() as store:
        store.add_audit(lines)


def audit(desk: Desk, *, shipment: str = "") -> tuple[AuditLine, ...]:
    """Who saw and did what, the newest first, of one shipment or of all."""
    with desk.store() as store:
        return store.audit(shipment=shipment)


def service_secret(desk: Desk, name: str) -> str:
    """A secret of this data folder, made at first use."""
    with desk.store() as store:
        return store.secret(name, secrets.token_urlsafe(32))


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _hash(password: str) -> str:
    from argon2 import PasswordHasher

    return PasswordHasher().hash(password)


def _verify(hashed: str, password: str) -> bool:
    from argon2 import PasswordHasher
    from argon2.exceptions import VerificationError

    try:
        return PasswordHasher().verify(hashed, password)
    except VerificationError:
        return False


_NOBODY: list[str] = []


def _hash_of_nobody() -> str:
    if not _NOBODY:
        _NOBODY.append(_hash(secrets.token_urlsafe(16)))
    return _NOBODY[0]
