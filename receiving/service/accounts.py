"""The people and what they may see; store staff's links to one shipment, and the tokens of other programs.

A link's secret and a token are made once, kept as a digest, limited to a shipment or to scopes, and ended at any time.
"""

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from receiving.dispatch import Swap
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.messages import Text, message
from receiving.model import Access, DataScope, Deed, NoteWithdrawn, Person, Role, ShipmentLink, note_kind
from receiving.model.hidden_characters import find_hidden_character
from receiving.service.auditing import as_actor, record, write_refusal
from receiving.service.context import Context
from receiving.service.signing_in import (
    FIRST_LIFE,
    MAX_NAME,
    SignedIn,
    SignInRefused,
    access_by_link,
    begin_session,
    check_password,
    end_session,
    hash_secret,
    is_link_open,
    make_first_password,
    token_digest,
)
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.store import ApiToken, SessionRecord, Store


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
    person, hashed = _new_account(ctx, name, role, password, stores, programmes)
    with ctx.transaction() as store:
        _store_account(ctx, store, person, hashed, first_password=first_password)
    return person


def _new_account(
    ctx: Context,
    name: str,
    role: Role,
    password: str,
    stores: Iterable[str] | None,
    programmes: Iterable[str] | None,
) -> tuple[Person, str]:
    """The account, checked, and its hashed password; called before the lock, as hashing takes a tenth of a second."""
    name = checked_name(name)
    check_password(password, name)
    return Person(ctx.new_id(), name, role, checked_scope(stores, programmes), ctx.clock()), hash_secret(password)


def _store_account(ctx: Context, store: Store, person: Person, hashed: str, *, first_password: bool) -> None:
    if not store.has_people() and (person.role is not Role.COORDINATOR or person.scope.limited):
        raise BadRequest(
            message("The first account must be a coordinator of all stores and programmes, who can add the others."),
            next_step=message("Add a coordinator without a list of stores or programmes first."),
            field="role",
        )
    if link := store.open_link_labelled(person.name, ctx.clock()):
        raise BadRequest(
            message("Store staff come as {name} by a link to shipment {of}.", name=link.label, of=link.shipment),
            next_step=message("End that link first, or choose another name."),
            field="name",
        )
    store.add_person(person, hashed, first_until=_first_until(ctx, first_password))
    record(ctx, store, Deed.ACCOUNT_ADDED, about=person.name, detail=_account_facts(person.role, person.scope))


class NotTheFirst(Conflict):
    """Another person added the first account meanwhile, so this one may not let himself in."""

    def __init__(self) -> None:
        super().__init__(
            message("Somebody else added the first account just now; yours was not added."),
            next_step=message("Ask whoever it was to add you, then sign in."),
        )


@dataclass(frozen=True)
class AccountMade:
    """An account that was added: with the password for its holder's first time, or, the first of all, signed in."""

    person: Person
    password: str = ""
    signed_in: SignedIn | None = None


def add_account(
    ctx: Context,
    name: str,
    role: Role,
    *,
    own_password: str = "",
    subject: str = "",
    stores: Iterable[str] | None = None,
    programmes: Iterable[str] | None = None,
    instead_of: Access | None = None,
) -> AccountMade:
    """Add an account with a first password. Who adds the first one gives its ``own_password``, and is signed in.

    ``subject`` is what the company's sign-on calls the person. Raises as `add_person` and `set_subject`, and
    NotTheFirst where another first account was added meanwhile.
    """
    with ctx.store() as store:
        first = not store.has_people()
    password = own_password if first else make_first_password()
    person, hashed = _new_account(ctx, name, role, password, stores, programmes)
    with ctx.transaction() as store:
        if first and store.has_people():  # whoever was quicker decides who else gets in
            raise NotTheFirst
        _store_account(ctx, store, person, hashed, first_password=not first)
        if subject.strip():
            set_subject(ctx, person.person_id, subject)
        if first:
            return AccountMade(person, signed_in=begin_session(ctx, store, person, instead_of, way="password"))
    return AccountMade(person, password)


def reset_password(ctx: Context, person_id: str) -> AccountMade:
    """Replace a password by a first one, for who forgot his; every session of the person ends. Raises NotFound."""
    password = make_first_password()
    set_password(ctx, person_id, password, first_password=True)
    with ctx.store() as store:
        return AccountMade(store.person(person_id), password)


def change_account(
    ctx: Context,
    person_id: str,
    role: Role,
    *,
    subject: str = "",
    stores: Iterable[str] | None = None,
    programmes: Iterable[str] | None = None,
) -> None:
    """Give an account another role, scope and name at the company's sign-on, all or none.

    Raises as `change_person` and `set_subject`.
    """
    with ctx.transaction():
        change_person(ctx, person_id, role, stores=stores, programmes=programmes)
        set_subject(ctx, person_id, subject)


def set_subject(ctx: Context, person_id: str, subject: str) -> None:
    """Say what the company's sign-on calls a person; empty takes it away. Raises BadRequest, Conflict, NotFound."""
    subject = subject.strip()
    if len(subject) > 255 or not subject.isprintable():
        raise BadRequest(
            message("This is not a name of the company's sign-on."),
            next_step=message("Use 255 characters at most."),
            field="subject",
        )
    with ctx.transaction() as store:
        person = store.person(person_id)
        store.set_subject(person_id, subject)
        if subject != person.subject:
            record(ctx, store, Deed.SIGN_ON_CHANGED, about=person.name, detail="set" if subject else "removed")


def checked_name(name: str) -> str:
    """The name on one line; raises BadRequest."""
    name = " ".join(name.split())
    if not name or len(name) > MAX_NAME or find_hidden_character(name, lines=False) is not None:
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
    for name in listed:
        refuse_hidden_characters({field: name}, lines=False)
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
        if (person.role, person.scope) != (role, scope):
            before, after = _account_facts(person.role, person.scope), _account_facts(role, scope)
            record(ctx, store, Deed.ACCOUNT_CHANGED, about=person.name, detail=f"{before} -> {after}")


def _account_facts(role: Role, scope: DataScope) -> str:
    """Role and scope for the audit log."""
    named = [("stores", scope.stores), ("programmes", scope.programmes)]
    return " ".join([role.value, *(f"{what}={','.join(sorted(each))}" for what, each in named if each is not None)])


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
        name = store.person(person_id).name
    check_password(password, name)
    hashed = hash_secret(password)
    with ctx.transaction() as store:
        store.set_password(person_id, hashed, first_until=_first_until(ctx, first_password))
        record(ctx, store, Deed.PASSWORD_CHANGED, about=name, detail="first password" if first_password else "")


def _first_until(ctx: Context, first_password: bool) -> datetime | None:
    return ctx.clock() + FIRST_LIFE if first_password else None


def close_account(ctx: Context, person_id: str) -> None:
    """End an account and its sessions. Raises Conflict for the last coordinator of all stores, NotFound."""
    with ctx.transaction() as store:
        person = store.person(person_id)
        if person.active:
            _check_coordinator_left(store, person_id)
        store.disable_person(person_id, ctx.clock())
        record(ctx, store, Deed.ACCOUNT_CLOSED, about=person.name)


def open_account(ctx: Context, person_id: str) -> None:
    """Open a closed account again. Raises NotFound."""
    with ctx.transaction() as store:
        store.disable_person(person_id, None)
        record(ctx, store, Deed.ACCOUNT_OPENED, about=store.person(person_id).name)


def may_see(ctx: Context, access: Access, *, shipment: str = "", store: str = "") -> bool:
    """True when this shipment (or store) is within what the person may see; an unknown one is nobody's to see."""
    with ctx.store() as found:
        if shipment:
            record = found.shipment(shipment)
            return access.sees(shipment, record.store, record.programme)
        if access.shipment or not access.scope.sees_store(store):
            return False
        # What a store asks for is one for all its programmes, so it is there for those alone who see all of them. A
        # store to which nothing goes is answered as those of others: else a 404 would tell that something goes there.
        seen = access.scope.programmes
        return seen is None or (bool(there := found.programmes_of(store)) and there <= seen)


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


def get_service_secret(ctx: Context, name: str) -> str:
    """A secret of this data folder, made at first use."""
    with ctx.transaction() as store:
        return store.secret(name, secrets.token_urlsafe(32))


LINK_DAYS = (1, 60)


def make_link(ctx: Context, shipment: str, label: str, *, days: int, by: str) -> tuple[ShipmentLink, str]:
    """A link for store staff to one shipment, and its secret.

    Raises BadRequest, also for a label that is somebody's name, since what is done by the link stands under its label;
    NotFound.
    """
    least, most = LINK_DAYS
    if not least <= days <= most:
        raise BadRequest(
            message("A link for {days} days cannot be made.", days=days),
            next_step=message("Choose {least} to {most} days.", least=least, most=most),
        )
    refuse_hidden_characters({"by": by}, lines=False)
    now, token = ctx.clock(), secrets.token_urlsafe(32)
    link = ShipmentLink(ctx.new_id(), shipment, checked_name(label), by, now, now + timedelta(days=days))
    with ctx.transaction() as store:
        if named := store.account_named(link.label):
            raise BadRequest(
                message("{name} has an account, and what this link does is recorded under its name.", name=named.name),
                next_step=message("Name the link after who uses it at the store, such as “Dock team”."),
                field="label",
            )
        store.add_link(link, token_digest(token))
        record(ctx, store, Deed.LINK_MADE, about=link.label, detail=f"days={days}", shipment=shipment)
    return link, token


def list_links(ctx: Context, shipment: str) -> tuple[ShipmentLink, ...]:
    """All links to this shipment, the newest first. Raises NotFound."""
    with ctx.store() as store:
        store.shipment(shipment)
        return store.links(shipment)


def revoke_link(ctx: Context, shipment: str, link_id: str) -> None:
    """End a link to this shipment and every session that came by it."""
    with ctx.transaction() as store:
        link = store.link(link_id)
        if link and link.shipment == shipment:
            store.revoke_link(link_id, ctx.clock())
            record(ctx, store, Deed.LINK_ENDED, about=link.label, shipment=shipment)


def come_by_link(ctx: Context, token: str, *, instead_of: Access | None = None) -> SignedIn:
    """Begin a session by a link, ``instead_of`` this browser's.

    Raises SignInRefused where the link is over, revoked or wrong.
    """
    now = ctx.clock()
    with ctx.store() as store:
        link = store.link_of_token(token_digest(token))
    if link is None or not is_link_open(link, now):
        about, shipment = (link.label, link.shipment) if link else ("", "")
        write_refusal(ctx, Deed.SIGN_IN_REFUSED, about=about, detail="link", shipment=shipment)
        raise SignInRefused(
            message("This link does not open a shipment any more."),
            next_step=message("Ask whoever sent it for a new one."),
        )
    with ctx.transaction() as store:
        fresh = secrets.token_urlsafe(32)
        session = SessionRecord(token_digest(fresh), "", link.link_id, now, now, link.expires_at)
        end_session(ctx, store, instead_of)
        store.add_session(session)
        by = as_actor(ctx, link.label, Role.STORE_STAFF)
        record(ctx, store, Deed.SIGNED_IN, about=link.label, detail="link", shipment=link.shipment, by=by)
    return SignedIn(fresh, access_by_link(link, session.token_sha256), link.expires_at)


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
        _named(stores, message("No usable store was named."), "stores"),
        _named(programmes, message("No usable programme was named."), "programmes"),
    )


def _named(names: Iterable[str] | None, fault: Text, field: str) -> frozenset[str] | None:
    if names is None:
        return None
    named = frozenset(each.strip() for each in names) - {""}
    if not named or len(named) > MOST_NAMES or any(len(each) > MAX_LABEL for each in named):
        raise BadRequest(
            fault,
            next_step=message("Name 1 to {most_names}, or none for all.", most_names=MOST_NAMES),
        )
    for each in named:
        refuse_hidden_characters({field: each}, lines=False)
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
    """A new token (for these stores and programmes alone) and its secret, shown only this once. Raises BadRequest."""
    label, wanted = " ".join(name.split()), frozenset(scopes)
    if not label or len(label) > MAX_LABEL:
        raise BadRequest(
            message("The token has no usable name."),
            next_step=message("Say in 1 to {max_name} characters what it is for.", max_name=MAX_LABEL),
        )
    refuse_hidden_characters({"name": label, "by": by}, lines=False)
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
