"""Many shipments at a glance: what a coordinator must decide today, before a rep is sent."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import IntEnum

from receiving.model import Reconciliation


@dataclass(frozen=True)
class ShipmentRow:
    """One shipment in a list: its counts as of the last read (aware, UTC)."""

    shipment: str
    store: str
    dispatch_date: date | None
    expected: int
    here: int
    inside: int
    missing: int
    extra: int
    questions: int
    damaged: int
    revision: int
    last_read_at: datetime | None
    confirmed: bool

    @property
    def looked_at(self) -> bool:
        """True once anything of the shipment was read or noted as seen."""
        return self.last_read_at is not None or self.here > 0

    @property
    def short(self) -> bool:
        """True when a carton is missing or not yet seen."""
        return bool(self.missing or self.inside)


class Urgency(IntEnum):
    """How soon a coordinator must act; the lowest first."""

    SHORT = 0
    TO_DECIDE = 1
    COMPLETE = 2
    VISITED = 3


@dataclass(frozen=True)
class DispatchRow:
    """A shipment with what to do about it; ``days_to_visit`` is negative after the visit, None without a date."""

    row: ShipmentRow
    urgency: Urgency
    days_to_visit: int | None
    advice: str


def shipment_row(
    reconciliation: Reconciliation,
    *,
    dispatch_date: date | None,
    revision: int,
    last_read_at: datetime | None,
    confirmed: bool,
) -> ShipmentRow:
    """The counts of one shipment."""
    inside = sum(f.state.value == "inside" for f in reconciliation.cartons)
    return ShipmentRow(
        shipment=reconciliation.shipment,
        store=reconciliation.store,
        dispatch_date=dispatch_date,
        expected=reconciliation.expected,
        here=len(reconciliation.received),
        inside=inside,
        missing=len(reconciliation.short) - inside,
        extra=len(reconciliation.extra),
        questions=len(reconciliation.questions),
        damaged=sum(bool(f.damage) for f in reconciliation.cartons),
        revision=revision,
        last_read_at=last_read_at,
        confirmed=confirmed,
    )


def for_today(rows: Iterable[ShipmentRow], today: date) -> tuple[DispatchRow, ...]:
    """All rows, sorted: short ones with the nearest visit first; visits that are over and confirmed ones last."""
    return tuple(sorted((_decide(row, today) for row in rows), key=_order))


def _decide(row: ShipmentRow, today: date) -> DispatchRow:
    days = (row.dispatch_date - today).days if row.dispatch_date else None
    urgency = _urgency(row, days)
    return DispatchRow(row, urgency, days, _advice(row, urgency, days))


def _urgency(row: ShipmentRow, days: int | None) -> Urgency:
    if row.confirmed or (days is not None and days < 0):
        return Urgency.VISITED
    if row.short:
        return Urgency.SHORT
    if row.extra or row.questions or row.damaged:
        return Urgency.TO_DECIDE
    return Urgency.COMPLETE


def _order(decided: DispatchRow) -> tuple[int, int, int, str]:
    days = decided.days_to_visit
    distance = abs(days) if days is not None else 1_000_000
    return decided.urgency, distance, -decided.row.missing, decided.row.shipment


def _advice(row: ShipmentRow, urgency: Urgency, days: int | None) -> str:
    if urgency is Urgency.VISITED:
        if row.confirmed:
            return "The store has confirmed." if not row.short else f"The store has confirmed, {_gap(row)}."
        return (
            f"The visit date has passed without a confirmation, {_gap(row)}."
            if row.short
            else ("The visit date has passed; ask the store to confirm.")
        )
    when = _when(days)
    if not row.looked_at:
        return f"Nobody has looked yet; ask the store to scan the cartons. {when}"
    if urgency is Urgency.SHORT:
        return f"{_gap(row).capitalize()}: order or trace before sending the rep. {when}"
    if urgency is Urgency.TO_DECIDE:
        return f"All expected cartons are here; look at {_oddities(row)}. {when}"
    return f"All here. {when}"


def _gap(row: ShipmentRow) -> str:
    parts = [f"{row.missing} missing"] if row.missing else []
    parts += [f"{row.inside} inside an unopened outer box"] if row.inside else []
    return " and ".join(parts) or "nothing missing"


def _oddities(row: ShipmentRow) -> str:
    named = ((row.extra, "extra"), (row.questions, "undecided"), (row.damaged, "damaged"))
    return ", ".join(f"{count} {word}" for count, word in named if count)


def _when(days: int | None) -> str:
    if days is None:
        return "No visit is planned."
    return {0: "The visit is today.", 1: "The visit is tomorrow."}.get(days, f"The visit is in {days} days.")
