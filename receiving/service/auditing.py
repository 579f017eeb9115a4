"""Who did what, written down with what was done, in the same transaction: nothing is done that no line tells of.

Who it is says the context: a request's sender, or the user of the operating system whose command runs. What was typed
as a name is stored only where it is an account's, since people type passwords there. Many refusals share lines.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from ipaddress import IPv4Address, ip_address, ip_network

from receiving.model import Access, Actor, AuditLine, AuditWanted, Deed
from receiving.service.context import Context
from receiving.sheets import csv_text
from receiving.store import Store

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
