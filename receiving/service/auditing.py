"""Who did what, written down with what was done, in the same transaction: nothing is done that no line tells of.

One tap is one action: sent again because its answer was lost, it is answered again and not done again (`run_once`).
Who it is says the context: a request's sender, or the user of the operating system whose command runs. What was typed
as a name is stored only where it is an account's, since people type passwords there. Many refusals share lines.
"""

import hashlib
import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from ipaddress import IPv4Address, ip_address, ip_network
from typing import TypeVar

import msgspec

from receiving.errors import BadRequest, Conflict
from receiving.messages import message
from receiving.model import Access, Actor, AuditLine, AuditWanted, Deed
from receiving.service.context import Context
from receiving.sheets import csv_text
from receiving.store import ActionRecord, Store
from receiving.store.records import from_text, to_text

A = TypeVar("A")


def run_once(
    ctx: Context, action_id: str, content: Mapping[str, object], work: Callable[[], A], answer_type: type[A]
) -> A:
    """Do this work under an id that its sender made (a UUID), or give the answer recorded when it was done.

    ``content`` is everything that was asked for: values that JSON can hold, in any order of names. ``work`` calls use
    cases; they, the id and the answer are stored in one transaction. ``answer_type`` is the type of the answer, which
    is kept as JSON: a value of the model, or dicts and lists of plain values. Where ``work`` fails, nothing is stored
    and the same id may be sent again. Without an id (empty) the work is done each time.

    Raises BadRequest for an id that is not a UUID, Conflict when the id came with other content before, and what
    ``work`` raises.
    """
    if not action_id:
        return work()
    answer = run_once_if_done(ctx, action_id, content, work, answer_type)
    if answer is None:
        raise LookupError(f"action {action_id} was done and gave no answer")
    return answer


def run_once_if_done(
    ctx: Context, action_id: str, content: Mapping[str, object], work: Callable[[], A | None], answer_type: type[A]
) -> A | None:
    """As `run_once`, with an id, for work that gives None where it was not done: then the id may be sent again."""
    action_id, digest = _checked(action_id), content_sha256(content)
    with ctx.transaction() as store:
        known = store.action(action_id)
        if known is None:
            done = work()
            if done is None:
                return None
            answer = to_text(done)
            store.add_action(ActionRecord(action_id, digest, answer), answered_at=ctx.now())
        elif known.content_sha256 == digest:
            answer = known.answer
        else:
            raise Conflict(
                message(
                    "The action {action_id} was sent before with other content; nothing more was stored.",
                    action_id=action_id,
                ),
                next_step=message("Reload the page and see what is stored; then do it again."),
            )
    return from_text(answer, answer_type)


def content_sha256(content: Mapping[str, object]) -> str:
    """SHA-256 of this content as JSON with sorted names, as hex digits.

    >>> content_sha256({"a": 1, "b": [2]}) == content_sha256({"b": [2], "a": 1})
    True
    """
    return hashlib.sha256(msgspec.json.encode(content, order="deterministic")).hexdigest()


def _checked(action_id: str) -> str:
    try:
        return str(uuid.UUID(action_id))
    except ValueError:
        raise BadRequest(
            message("The action id {action_id} is not a UUID.", action_id=repr(action_id[:40])),
            next_step=message("Reload the page and do it again."),
        ) from None


COUNTED = timedelta(minutes=15)
"""For how long refusals are counted together."""
MOST_EXPORTED = 100_000

AUDIT_COLUMNS: Mapping[str, Callable[[AuditLine], object]] = {
    "number": lambda line: line.seq,
    "at": lambda line: line.at.isoformat(),
    "who": lambda line: line.name,
    "role": lambda line: line.role,
    "what": lambda line: line.action,
    "about": lambda line: line.about,
    "detail": lambda line: line.detail,
    "times": lambda line: line.times,
    "shipment": lambda line: line.shipment,
    "store": lambda line: line.store,
    "status": lambda line: line.status or None,
    "from": lambda line: line.address,
    "request": lambda line: line.request_id,
}


@dataclass(frozen=True)
class AuditLog:
    """Lines of the audit log, the newest first, and the names of all accounts."""

    lines: tuple[AuditLine, ...]
    names: tuple[str, ...]


def record(
    ctx: Context,
    store: Store,
    deed: Deed,
    *,
    about: str = "",
    detail: str = "",
    shipment: str = "",
    by: Actor | None = None,
) -> None:
    """Write down a deed in the transaction that does it; ``by`` is who did it where the context cannot know yet."""
    store.add_audit([_line(ctx, deed, by or ctx.actor, about=about, detail=detail, shipment=shipment)])


def write_refusal(
    ctx: Context, deed: Deed, *, about: str = "", detail: str = "", shipment: str = "", by: Actor | None = None
) -> None:
    """Write down, or count, that somebody was refused; call it outside of what is undone with the refusal."""
    line = _line(ctx, deed, by or ctx.actor, about=about, detail=detail, shipment=shipment)
    with ctx.transaction() as store:
        store.count_refusal(line, counted_as(line.address), forget_before=line.at - COUNTED)


def write_command(ctx: Context, command: str, *, shipment: str = "", about: str = "") -> None:
    """Write down that a command was run on this data folder."""
    with ctx.transaction() as store:
        record(ctx, store, Deed.COMMAND_RUN, about=about, detail=command, shipment=shipment)


def write_restored(ctx: Context, backup: str) -> None:
    """Write down that this data folder was made of a backup."""
    with ctx.transaction() as store:
        record(ctx, store, Deed.RESTORED, about=backup)


def _line(ctx: Context, deed: Deed, by: Actor, *, about: str, detail: str, shipment: str) -> AuditLine:
    return AuditLine(
        *(ctx.clock(), by.name, by.role, deed.value, shipment, "", 0, by.address, by.request_id),
        about=about,
        detail=detail,
    )


def as_actor(ctx: Context, name: str, role: str) -> Actor:
    """The sender of this request, once it is known who he is."""
    return replace(ctx.actor, name=name, role=role)


def write_arrival(ctx: Context, access: Access, way: str) -> None:
    """Write down that somebody came in whom another server names with each request, once he comes after a pause."""
    by = as_actor(ctx, access.name, access.role or "")
    with ctx.transaction() as store:
        record(ctx, store, Deed.SIGNED_IN, about=access.name, detail=way, by=by)


def write_audit(ctx: Context, lines: Iterable[AuditLine]) -> None:
    """Write down who saw and did what."""
    with ctx.transaction() as store:
        store.add_audit(lines)


def list_audit(ctx: Context, wanted: AuditWanted = AuditWanted()) -> tuple[AuditLine, ...]:  # noqa: B008 - it is frozen
    """Who saw and did what, the newest first, with what was counted until now."""
    with ctx.transaction() as store:
        store.write_refusals(ctx.clock(), ctx.clock() - COUNTED)
    with ctx.store() as store:
        return store.audit(wanted)


def get_audit_log(ctx: Context, wanted: AuditWanted) -> AuditLog:
    """The lines that are wanted, with the names by which lines may be looked for."""
    lines = list_audit(ctx, wanted)
    with ctx.store() as store:
        return AuditLog(lines, tuple(person.name for person in store.people()))


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


def make_audit_csv(lines: Iterable[AuditLine]) -> str:
    """The lines as CSV, for other programs: English, with every column."""
    return csv_text(tuple(AUDIT_COLUMNS), ([value(line) for value in AUDIT_COLUMNS.values()] for line in lines))
