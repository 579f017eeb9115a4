"""What a person who is signed in may look at and change of his own account; a store manager's PIN.

A PIN confirms a receipt on somebody else's phone, where a finger's signature would do too. It is hashed like a password
(argon2id) and slowed down like one, for one name at one address.
"""

import itertools
from dataclasses import dataclass
from datetime import timedelta

from receiving.errors import BadRequest, NotFound, ReceivingError
from receiving.messages import message
from receiving.model import ACCOUNT_ROLES, Access, Deed, Person, Role
from receiving.service.auditing import record
from receiving.service.context import Context
from receiving.service.signing_in import (
    FRESH,
    IDLE_LIFE,
    SignedIn,
    check_password,
    check_slowly,
    hash_secret,
    is_outdated,
    is_secret,
    right_password,
    sign_in,
)
from receiving.store import Passkey, SessionRecord


class NotFresh(ReceivingError):
    """Who changes how he signs in must have shown just now that it is he."""

    def __init__(self) -> None:
        super().__init__(
            message("You signed in some time ago."),
            next_step=message("Sign in again on this page, then make the change within five minutes."),
        )


@dataclass(frozen=True)
class OwnAccount:
    """An account as its holder sees it: passkeys, oldest first; where he is signed in, the session used last first.

    ``fresh``: this session began just now, so he may change how he signs in.
    """

    person: Person
    passkeys: tuple[Passkey, ...]
    sessions: tuple[SessionRecord, ...]
    fresh: bool


def is_fresh(ctx: Context, access: Access) -> bool:
    """True where this session began just now."""
    with ctx.store() as store:
        session = store.session(access.session)
    return session is not None and timedelta(0) <= ctx.clock() - session.created_at <= FRESH


def check_fresh(ctx: Context, access: Access) -> None:
    """Raises NotFresh where this session did not begin just now (OWASP ASVS 5.0, V7.5.1)."""
    if not is_fresh(ctx, access):
        raise NotFresh


def change_own_password(ctx: Context, access: Access, old: str, new: str, *, address: str) -> None:
    """Replace the password of who is signed in; his other sessions end, this one goes on.

    Raises SignInRefused where the old one is wrong, TooManyTries, BadRequest.
    """
    person = own_person(ctx, access)
    check_slowly(ctx, person.name, address, lambda: right_password(ctx, person.name, old))
    check_password(new, person.name)
    hashed = hash_secret(new)
    with ctx.transaction() as store:
        kept = store.session(access.session)
        store.set_password(person.person_id, hashed)
        record(ctx, store, Deed.PASSWORD_CHANGED, about=person.name, detail="own")
        if kept:
            store.add_session(kept)


def own_person(ctx: Context, access: Access) -> Person:
    """The account of who is signed in. Raises NotFound for who came by a link, or where nobody signs in."""
    with ctx.store() as store:
        found = store.credentials(access.name) if access.role in ACCOUNT_ROLES else None
    if found is None:
        raise NotFound(message("You have no account."), next_step=message("Sign in with an account."))
    return found[0]


def sign_in_again(ctx: Context, access: Access, password: str, *, address: str) -> SignedIn:
    """Begin a fresh session of who is signed in; the one before ends. Raises as `sign_in`."""
    return sign_in(ctx, own_person(ctx, access).name, password, address=address, instead_of=access)


def get_own_account(ctx: Context, access: Access) -> OwnAccount:
    """The account of who is signed in. Raises NotFound for who came by a link, or where nobody signs in."""
    now = ctx.clock()
    with ctx.moment() as store:
        person = own_person(ctx, access)
        sessions = (s for s in store.sessions(person.person_id) if now < s.expires_at and now - s.seen_at <= IDLE_LIFE)
        return OwnAccount(person, store.passkeys(person.person_id), tuple(sessions), is_fresh(ctx, access))


def end_other_sessions(ctx: Context, access: Access) -> None:
    """Sign out everywhere but here. Raises NotFresh."""
    check_fresh(ctx, access)
    person = own_person(ctx, access)
    with ctx.transaction() as store:
        ended = store.end_other_sessions(person.person_id, access.session)
        record(ctx, store, Deed.SESSIONS_ENDED, about=person.name, detail=f"sessions={ended}")


LEAST_PIN, MOST_PIN = 6, 12


def set_own_pin(ctx: Context, access: Access, pin: str) -> None:
    """Set the PIN of the store manager who is signed in; an empty one takes it away. Raises BadRequest, NotFresh."""
    check_fresh(ctx, access)
    person = own_person(ctx, access)
    if person.role is not Role.STORE_MANAGER:
        raise BadRequest(
            message("Only a store manager has a PIN."), next_step=message("Sign in with a store manager's account.")
        )
    if pin:
        _check_pin(pin)
    hashed = hash_secret(pin) if pin else ""
    with ctx.transaction() as store:
        store.set_pin(person.person_id, hashed)
        record(ctx, store, Deed.PIN_CHANGED, about=person.name, detail="set" if pin else "removed")


def _check_pin(pin: str) -> None:
    digits = pin.isascii() and pin.isdigit() and LEAST_PIN <= len(pin) <= MOST_PIN
    steps = {(int(after) - int(before)) % 10 for before, after in itertools.pairwise(pin)} if digits else set()
    if not digits or (len(steps) == 1 and steps <= {0, 1, 9}):
        raise BadRequest(
            message("This PIN counts up or repeats one digit.") if digits else message("A PIN is made of digits."),
            next_step=message(
                "Choose {least_pin} to {most_pin} digits that nobody guesses.", least_pin=LEAST_PIN, most_pin=MOST_PIN
            ),
            field="pin",
        )


def find_manager_by_pin(ctx: Context, shipment: str, name: str, pin: str, *, address: str) -> Person:
    """The store manager of this name, who may confirm for this shipment and gave this PIN.

    Raises SignInRefused, TooManyTries.
    """
    return check_slowly(ctx, " ".join(name.split()), address, lambda: _manager(ctx, shipment, name, pin), "PIN ")


def _manager(ctx: Context, shipment: str, name: str, pin: str) -> Person | None:
    with ctx.store() as store:
        found, record = store.credentials(" ".join(name.split())), store.shipment(shipment)
        hashed = store.pin_hash(found[0].person_id) if found else ""
    if not is_secret(hashed, pin[:MOST_PIN]) or found is None:
        return None
    person = found[0]
    if is_outdated(hashed):
        with ctx.transaction() as store:
            store.set_pin(person.person_id, hash_secret(pin[:MOST_PIN]))
    return person if person.role is Role.STORE_MANAGER and person.scope.sees(record.store, record.programme) else None
