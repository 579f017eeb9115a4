"""Many shipments at a glance: what a coordinator must decide today, before a rep is sent."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import IntEnum

from receiving.model import CartonState, FollowUp, Note, Reconciliation, ShortageFollowed, VisitDecided


@dataclass(frozen=True)
class MissingCarton:
    """A carton that is missing, and the last that was done about it.

    ``request`` is the replacement request that asks for it, empty where none does. ``settled``: it need not hold the
    visit, because it is due by then or because it was decided to do without.
    """

    carton: str
    followed: ShortageFollowed | None
    request: str
    settled: bool

    @property
    def words(self) -> str:
        """What is done about it, empty where nothing is."""
        if self.followed is None:
            return f"asked for on {self.request}" if self.request else ""
        remark = f" ({self.followed.remark})" if self.followed.remark else ""
        return f"{step_words(self.followed)}{remark}"


@dataclass(frozen=True)
class ShipmentRow:
    """One shipment in a list: its counts as of the last read (aware, UTC).

    ``followed`` are its missing cartons with what is done about each; ``visit`` is the coordinator's last decision.
    """

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
    followed: tuple[MissingCarton, ...] = ()
    visit: VisitDecided | None = None

    @property
    def looked_at(self) -> bool:
        """True once anything of the shipment was read or noted as seen."""
        return self.last_read_at is not None or self.here > 0

    @property
    def short(self) -> bool:
        """True when a carton is missing or not yet seen."""
        return bool(self.missing or self.inside)

    @property
    def held(self) -> bool:
        """True while the coordinator holds the visit."""
        return self.visit is not None and not self.visit.go

    @property
    def visit_date(self) -> date | None:
        """The day of the visit: the planned one, or the one that it is held until."""
        return self.visit.until if self.held and self.visit and self.visit.until else self.dispatch_date

    @property
    def settled(self) -> bool:
        """True when what is short need not hold the visit: all of it comes in time, or the rep goes all the same."""
        if self.visit is not None and self.visit.go:
            return True
        return not self.inside and self.missing == sum(each.settled for each in self.followed)


class Urgency(IntEnum):
    """How soon a coordinator must act; the lowest first."""

    SHORT = 0
    UNSEEN = 1
    FOLLOWED = 2
    TO_DECIDE = 3
    COMPLETE = 4
    VISITED = 5


PRESSING = frozenset({Urgency.SHORT, Urgency.UNSEEN})
"""What must be acted on before the rep is sent; the nearest visit goes first, whichever of these it is."""


@dataclass(frozen=True)
class DispatchRow:
    """A shipment with what to do about it; ``days_to_visit`` is negative after the visit, None without a date."""

    row: ShipmentRow
    urgency: Urgency
    days_to_visit: int | None
    advice: str


def missing_cartons(
    reconciliation: Reconciliation,
    notes: Iterable[Note],
    *,
    visit_date: date | None,
    requested: Mapping[str, str],
) -> tuple[MissingCarton, ...]:
    """The missing cartons with what is done about each, in manifest order.

    ``notes`` are those that stand, oldest first; ``requested`` gives the replacement request by carton.
    """
    last = {note.carton: note for note in notes if isinstance(note, ShortageFollowed)}
    return tuple(
        MissingCarton(
            carton := finding.carton.carton,
            last.get(carton),
            requested.get(carton, ""),
            _is_settled(last.get(carton), visit_date),
        )
        for finding in reconciliation.in_state(CartonState.SHORT)
    )


def _is_settled(followed: ShortageFollowed | None, visit: date | None) -> bool:
    if followed is None or followed.step is FollowUp.NOT_COMING:
        return False
    if followed.step is FollowUp.DONE_WITHOUT or visit is None:
        return True
    return followed.due is not None and followed.due <= visit


def shipment_row(
    reconciliation: Reconciliation,
    *,
    dispatch_date: date | None,
    revision: int,
    last_read_at: datetime | None,
    confirmed: bool,
    visit: VisitDecided | None = None,
) -> ShipmentRow:
    """The counts of one shipment, and the last decision on its visit."""
    inside = len(reconciliation.in_state(CartonState.INSIDE))
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
        visit=visit,
    )


def for_today(rows: Iterable[ShipmentRow], today: date) -> tuple[DispatchRow, ...]:
    """All rows, sorted: pressing ones with the nearest visit first; visits that are over and confirmed ones last."""
    return tuple(sorted((_decide(row, today) for row in rows), key=_order))


def _decide(row: ShipmentRow, today: date) -> DispatchRow:
    days = (row.visit_date - today).days if row.visit_date else None
    urgency = _urgency(row, days)
    return DispatchRow(row, urgency, days, _advice(row, urgency, days))


def _urgency(row: ShipmentRow, days: int | None) -> Urgency:
    if row.confirmed or (days is not None and days < 0):
        return Urgency.VISITED
    if row.short:
        if row.settled:
            return Urgency.FOLLOWED
        return Urgency.SHORT if row.looked_at else Urgency.UNSEEN
    if row.extra or row.questions or row.damaged or row.held:
        return Urgency.TO_DECIDE
    return Urgency.COMPLETE


def _order(decided: DispatchRow) -> tuple[int, int, int, str]:
    days = decided.days_to_visit
    distance = abs(days) if days is not None else 1_000_000
    rank = 0 if decided.urgency in PRESSING else decided.urgency
    return rank, distance, -decided.row.missing, decided.row.shipment


def _advice(row: ShipmentRow, urgency: Urgency, days: int | None) -> str:
    if urgency is Urgency.VISITED:
        return _after_the_visit(row)
    held = f"{held_words(row.visit)}{_because(row.visit)}." if row.visit and row.held else ""
    return " ".join(part for part in (held, _what_to_do(row, urgency), _when(days)) if part)


def _after_the_visit(row: ShipmentRow) -> str:
    if row.confirmed:
        return "The store has confirmed." if not row.short else f"The store has confirmed, {_gap(row)}."
    if row.short:
        return f"The visit date has passed without a confirmation, {_gap(row)}."
    return "The visit date has passed; ask the store to confirm."


def _what_to_do(row: ShipmentRow, urgency: Urgency) -> str:
    match urgency:
        case Urgency.UNSEEN:
            return "Nobody has looked yet; ask the store to scan the cartons."
        case Urgency.SHORT:
            return f"{_gap(row).capitalize()}{_followed_words(row)}: {_open_step(row)}."
        case Urgency.FOLLOWED if row.visit is not None and row.visit.go:
            return f"{_gap(row).capitalize()}{_followed_words(row)}; the rep goes all the same{_because(row.visit)}."
        case Urgency.FOLLOWED:
            return f"{_gap(row).capitalize()}{_followed_words(row)}: nothing that must hold the visit."
        case Urgency.TO_DECIDE if row.held and not (row.extra or row.questions or row.damaged):
            return "All here: the visit need not be held."
        case Urgency.TO_DECIDE:
            return f"All expected cartons are here; look at {_oddities(row)}."
        case _:
            return "All here."


def step_words(followed: ShortageFollowed) -> str:
    """What is done about a missing carton, and by when it is due."""
    due = f", due {day_words(followed.due)}" if followed.due else ""
    return f"{followed.step.words}{due}"


def held_words(visit: VisitDecided) -> str:
    """That a visit is held, and until when."""
    until = f" until {day_words(visit.until)}" if visit.until else ""
    return f"The visit is held{until}"


def _because(visit: VisitDecided) -> str:
    return f" ({visit.remark.rstrip('.')})" if visit.remark else ""


def _open_step(row: ShipmentRow) -> str:
    """What is still to be done about what is short."""
    taken_up = sum(each.followed is not None and each.followed.step is not FollowUp.NOT_COMING for each in row.followed)
    if row.missing > taken_up:
        return f"order or trace {'the rest ' if taken_up else ''}before sending the rep"
    if not all(each.settled for each in row.followed):
        return "not sure to be there by the visit; hold it, or do without"
    return "ask the store to open the outer box"


def _followed_words(row: ShipmentRow) -> str:
    """How much of what is missing is taken care of, in brackets: ``" (1 due by Tue 1 Dec, 1 done without)"``."""
    followed = [each.followed for each in row.followed if each.followed]
    coming = [note for note in followed if note.step in (FollowUp.ON_ITS_WAY, FollowUp.SENT_AGAIN)]
    dues = [note.due for note in coming if note.due]
    undated = len(coming) - len(dues)
    without = sum(note.step is FollowUp.DONE_WITHOUT for note in followed)
    asked = sum(each.followed is None and bool(each.request) for each in row.followed)
    parts = [
        f"{len(dues)} due by {day_words(max(dues))}" if dues else "",
        f"{undated} on the way without a day" if undated else "",
        f"{without} done without" if without else "",
        f"{asked} asked for" if asked else "",
    ]
    said = ", ".join(part for part in parts if part)
    return f" ({said})" if said else ""


def day_words(day: date | None) -> str:
    """A day as a person reads it.

    >>> day_words(date(2026, 12, 1))
    'Tue 1 Dec'
    """
    return f"{day:%a} {day.day} {day:%b}" if day else ""


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
