"""People sign in, come by a link, and are let in or refused; what a password must be, and how it is hashed.

A session is a random token of 256 bits; the store holds its SHA-256 alone. Tries are slowed down for one name at one
address, and for one address over all names, so that nobody can lock another person out. Passwords and PINs are hashed
with argon2id by the second recommended choice of RFC 9106, section 4 (64 MiB, 3 passes, 4 lanes); the OWASP Password
Storage Cheat Sheet asks for 19 MiB and 2 passes at least. A hash of less is made anew when its secret is given.
"""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError
from argon2.profiles import RFC_9106_LOW_MEMORY

from receiving.errors import BadRequest, ReceivingError
from receiving.messages import Text, message, plural
from receiving.model import Access, Deed, Person, Role, ShipmentLink
from receiving.service.auditing import as_actor, counted_as, record, write_refusal
from receiving.service.context import Context
from receiving.store import SessionRecord, Store

FRESH = timedelta(minutes=5)
"""For how long after signing in somebody may change how he signs in."""

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


def sign_in(
    ctx: Context, name: str, password: str, *, address: str, new: str = "", instead_of: Access | None = None
) -> SignedIn:
    """Begin a session (``instead_of`` the one of this browser, which ends); ``new`` replaces a first password.

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
            by = as_actor(ctx, person.name, person.role)
            record(ctx, store, Deed.PASSWORD_CHANGED, about=person.name, detail="own", by=by)
        return begin_session(ctx, store, person, instead_of, way="password")


def _hash_of_own(ctx: Context, person: Person, first: str, new: str, until: datetime) -> str:
    if ctx.clock() >= until:
        write_refusal(ctx, Deed.SIGN_IN_REFUSED, about=person.name, detail="first password over")
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
    kind = what.strip() or "password"
    with ctx.store() as store:
        wait_s = _wait_s(store.failed_sign_ins(address, now - COUNTED), key, now)
    if wait_s:
        write_refusal(ctx, Deed.SIGN_IN_SLOWED, about=_account_name(ctx, name), detail=kind)
        raise TooManyTries(wait_s)
    found = check()
    with ctx.transaction() as store:
        if found:
            store.forget_failed_sign_ins(key, address)
            return found
        store.add_failed_sign_in(key, address, now, forget_before=now - COUNTED)
        deed = Deed.PIN_REFUSED if what else Deed.SIGN_IN_REFUSED
        write_refusal(ctx, deed, about=_account_name(ctx, name), detail=kind)
    raise SignInRefused(
        message("The name and the PIN do not match.") if what else message("The name and the password do not match."),
        next_step=message(
            "Check both; a store manager sets the PIN on the page “Your account”, or signs with a finger."
        )
        if what
        else message("Check both; a coordinator can set a new password."),
        field=kind.casefold(),
    )


def _account_name(ctx: Context, typed: str) -> str:
    """The name of the account that was typed; empty for another text, which may be a password in the wrong field."""
    with ctx.store() as store:
        found = store.account_named(typed)
    return found.name if found else ""


def right_password(ctx: Context, name: str, password: str) -> Person | None:
    """The person of this name where the password is right."""
    with ctx.store() as store:
        found = store.credentials(name)
    # The same work for a name that is not there, so that the time tells nothing.
    right = is_secret(found[1] if found else "", password[:MOST_PASSWORD])
    if found is None or not right:
        return None
    person, hashed = found
    if is_outdated(hashed):
        renewed = hash_secret(password[:MOST_PASSWORD])
        with ctx.transaction() as store:
            store.renew_hash(person.person_id, hashed, renewed)
    return person


def begin_session(
    ctx: Context,
    store: Store,
    person: Person,
    instead_of: Access | None = None,
    *,
    way: str,
    shown_at: datetime | None = None,
) -> SignedIn:
    """A session of this person, who has proved who he is in this ``way``; the one that it is ``instead_of`` ends.

    ``shown_at`` is when he did, where that was not just now: the session lasts from then on.
    """
    end_session(ctx, store, instead_of)
    token, now = secrets.token_urlsafe(32), ctx.clock()
    since = shown_at or now
    session = SessionRecord(token_digest(token), person.person_id, "", since, now, since + SESSION_LIFE)
    store.add_session(session)
    record(ctx, store, Deed.SIGNED_IN, about=person.name, detail=way, by=as_actor(ctx, person.name, person.role))
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
            end_session(ctx, store, access)


def end_session(ctx: Context, store: Store, access: Access | None) -> None:
    """End the session of a browser, where it has one."""
    if access is not None and access.session and store.end_session(access.session):
        by = as_actor(ctx, access.name, access.role or "")
        record(ctx, store, Deed.SIGNED_OUT, about=access.name, shipment=access.shipment, by=by)


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
            with ctx.transaction():
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


def token_digest(token: str) -> str:
    """What is stored of a token: its SHA-256."""
    return hashlib.sha256(token.encode()).hexdigest()


LEAST_PASSWORD, MOST_PASSWORD = 12, 200
COMMON = Path(__file__).with_name("common_passwords.txt")
"""Digests of the 10,000 commonest passwords of 12 characters or more (SecLists, MIT; its licence lies beside it)."""
_DIGITS = 12
_LEAST_DIFFERENT = 5

FIRST_LIFE = timedelta(days=3)
"""For how long a first password lets somebody in to choose his own."""
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""No letter that looks like another one: a first password is read out or typed from paper."""


def check_password(password: str, name: str) -> None:
    """Raises BadRequest for a password that is too short, too long, or easily guessed (NIST SP 800-63B, 5.1.1.2)."""
    wrong: Text = ""
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        wrong = plural(len(password), "The password has {number} character.", "The password has {number} characters.")
    elif is_repeating(password):
        wrong = message("The password repeats a few characters.")
    elif name.casefold() in password.casefold():
        wrong = message("The password contains the name.")
    elif common_digest(password) in _common():
        wrong = message("The password is one of the first that attackers try.")
    if wrong:
        raise BadRequest(
            wrong,
            next_step=message(
                "Choose {least} to {most} characters, for example four words.",
                least=LEAST_PASSWORD,
                most=MOST_PASSWORD,
            ),
            field="new",
        )


def is_repeating(password: str) -> bool:
    """It is made of a few characters alone.

    >>> is_repeating("abababababab"), is_repeating("four plain words")
    (True, False)
    """
    return len(set(password.casefold())) < _LEAST_DIFFERENT


def common_digest(password: str) -> str:
    """How a common password is written down: the first digits of its SHA-256, whatever its case."""
    return hashlib.sha256(password.casefold().encode("utf-8", "surrogatepass")).hexdigest()[:_DIGITS]


@cache
def _common() -> frozenset[str]:
    return frozenset(COMMON.read_text().split())


def make_first_password() -> str:
    """A password of 79 random bits for somebody else, who replaces it when he signs in.

    >>> len(make_first_password()), make_first_password() == make_first_password()
    (19, False)
    """
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(4))


def hash_secret(secret: str) -> str:
    """The argon2id hash of a password or PIN."""
    return _hasher().hash(secret)


def is_outdated(hashed: str) -> bool:
    """The hash was made with other parameters than new ones are."""
    return _hasher().check_needs_rehash(hashed)


@cache
def _hasher() -> PasswordHasher:
    return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)


def is_secret(hashed: str, secret: str) -> bool:
    """True when this secret has that hash; an empty hash is nobody's and takes as long."""
    try:
        return _hasher().verify(hashed or _hash_of_nobody(), secret) and bool(hashed)
    except VerificationError:
        return False


@cache
def _hash_of_nobody() -> str:
    return hash_secret(secrets.token_urlsafe(16))
