"""What a person who is signed in may look at and change of his own account."""

from receiving.errors import NotFound
from receiving.model import ACCOUNT_ROLES, Access, Person
from receiving.service.accounts import IDLE_LIFE, check_password, check_slowly, hash_secret, right_password
from receiving.service.desk import Desk
from receiving.store import SessionRecord


def change_own_password(desk: Desk, access: Access, old: str, new: str, *, address: str) -> None:
    """Replace the password of who is signed in; his other sessions end, this one goes on.

    Raises SignInRefused where the old one is wrong, TooManyTries, BadRequest.
    """
    person = own_account(desk, access)
    check_slowly(desk, person.name, address, lambda: right_password(desk, person.name, old))
    check_password(new, person.name)
    hashed = hash_secret(new)
    with desk.transaction() as store:
        kept = store.session(access.session)
        store.set_password(person.person_id, hashed)
        if kept:
            store.add_session(kept)


def own_account(desk: Desk, access: Access) -> Person:
    """The account of who is signed in. Raises NotFound for who came by a link, or where nobody signs in."""
    with desk.store() as store:
        found = store.credentials(access.name) if access.role in ACCOUNT_ROLES else None
    if found is None:
        raise NotFound("There is no account of yours.", next_step="Sign in with an account.")
    return found[0]


def own_sessions(desk: Desk, access: Access) -> tuple[SessionRecord, ...]:
    """Where the person who is signed in is signed in, the session used last first."""
    person, now = own_account(desk, access), desk.now()
    with desk.store() as store:
        return tuple(s for s in store.sessions(person.person_id) if now < s.expires_at and now - s.seen_at <= IDLE_LIFE)


def end_other_sessions(desk: Desk, access: Access) -> None:
    """Sign out everywhere but here."""
    person = own_account(desk, access)
    with desk.transaction() as store:
        store.end_other_sessions(person.person_id, access.session)
