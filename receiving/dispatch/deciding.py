"""What is to be done about a shipment on one day at its store, and which rows the board shows in which order."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, StrEnum

from receiving.dispatch.calendar import StoreDay, StoreTerms
from receiving.dispatch.rows import MissingCarton, ShipmentRow, Weight
from receiving.model import FollowUp


class CartonStatus(StrEnum):
    """How it stands with a missing carton."""

    OPEN = "open"
    NOT_COMING = "not_coming"
    ASKED_FOR = "asked_for"
    OVERDUE = "overdue"
    COMING_LATE = "coming_late"
    COMING_UNDATED = "coming_undated"
    COMING_IN_TIME = "coming_in_time"
    DONE_WITHOUT = "done_without"
    REPLACED = "replaced"


NEEDS_NOTHING = frozenset({CartonStatus.COMING_IN_TIME, CartonStatus.DONE_WITHOUT, CartonStatus.REPLACED})


@dataclass(frozen=True)
class CartonOutlook:
    """A missing carton on one day. ``arrives`` is the working day on which it can be there.

    ``covered``: the coordinator sent the rep knowing that it is missing. ``settled``: it need not hold the visit.
    """

    missing: MissingCarton
    status: CartonStatus
    arrives: date | None
    covered: bool
    resolved: bool


class Urgency(IntEnum):
    """How soon a coordinator must act; the lowest first."""

    OVERDUE = 0
    SHORT = 1
    HOLD_ENDED = 2
    UNSEEN = 3
    FOLLOWED = 4
    TO_DECIDE = 5
    AWAITED = 6
    COMPLETE = 7
    CLOSED = 8


PRESSING = frozenset({Urgency.OVERDUE, Urgency.SHORT, Urgency.HOLD_ENDED, Urgency.UNSEEN})
"""What must be acted on before the rep is sent."""

_AT_THE_TOP = frozenset({Urgency.OVERDUE, Urgency.SHORT})
"""Known to be short before a visit: nothing else stands above it."""


class NextStep(StrEnum):
    """What is to be done next."""

    CHASE = "chase"
    ORDER = "order"
    ORDER_THE_REST = "order_the_rest"
    HOLD_OR_DO_WITHOUT = "hold_or_do_without"
    OPEN_OUTER = "open_outer"
    SCAN = "scan"
    DECIDE_AGAIN = "decide_again"
    LOOK = "look"
    END_THE_HOLD = "end_the_hold"
    AWAIT = "await"
    CONFIRM = "confirm"
    NOTHING = "nothing"


@dataclass(frozen=True)
class DispatchRow:
    """A shipment on one day: what to do about it. ``days_to_visit`` is negative after the visit, None without a date.

    ``latest_order`` is the last day on which an order still arrives before the visit, None without a visit to come;
    ``in_time_until`` the last day on which a delivery is in time.
    """

    row: ShipmentRow
    urgency: Urgency
    days_to_visit: int | None
    outlooks: tuple[CartonOutlook, ...]
    next_step: NextStep
    today: date
    in_time_until: date | None = None
    latest_order: date | None = None
    order_day: date | None = None

    @property
    def resolved(self) -> bool:
        """True when what is short need not hold the visit."""
        return _is_resolved(self.row, self.outlooks)

    @property
    def unresolved(self) -> tuple[MissingCarton, ...]:
        """The missing cartons that may hold the visit."""
        return tuple(each.missing for each in self.outlooks if not each.resolved)

    @property
    def goes_all_the_same(self) -> bool:
        """True when the rep is sent though something is missing."""
        return bool(self.row.visit and self.row.visit.go and self.row.short)


DayOf = Callable[[StoreTerms], StoreDay]
"""Now, at a store with these terms."""


def for_today(rows: Iterable[ShipmentRow], day_of: DayOf) -> tuple[DispatchRow, ...]:
    """All rows, sorted: visits that are known to be short first, the nearest on top; those that are over last."""
    return tuple(sorted((decide(row, day_of(row.terms)) for row in rows), key=order_key))


def decide(row: ShipmentRow, day: StoreDay) -> DispatchRow:
    """What is to be done about a shipment on this day."""
    visit = row.visit_date
    days = (visit - day.today).days if visit else None
    outlooks = tuple(_outlook(missing, row, day) for missing in row.followed)
    urgency = _urgency(row, outlooks, days, day)
    to_come = visit if days is not None and days >= 0 else None
    return DispatchRow(
        row,
        urgency,
        days,
        outlooks,
        _next_step(row, urgency, outlooks),
        day.today,
        in_time_until=day.calendar.before(to_come) if to_come else None,
        latest_order=day.latest_order(row.terms, to_come) if to_come else None,
        order_day=day.order_day(row.terms),
    )


def _outlook(missing: MissingCarton, row: ShipmentRow, day: StoreDay) -> CartonOutlook:
    due = missing.followed.due if missing.followed else None
    arrives = day.calendar.on_or_after(due) if due else None
    status = _status(missing, arrives, row.visit_date, day)
    covered = bool(row.visit and row.visit.go and missing.carton in row.visit.cartons)
    undated = status is CartonStatus.COMING_UNDATED and row.visit_date is None
    return CartonOutlook(missing, status, arrives, covered, covered or undated or status in NEEDS_NOTHING)


def _status(missing: MissingCarton, arrives: date | None, visit: date | None, day: StoreDay) -> CartonStatus:
    if missing.replaced:
        return CartonStatus.REPLACED
    if missing.followed is None:
        return CartonStatus.ASKED_FOR if missing.request else CartonStatus.OPEN
    if missing.followed.step is FollowUp.NOT_COMING:
        return CartonStatus.NOT_COMING
    if missing.followed.step is FollowUp.DONE_WITHOUT:
        return CartonStatus.DONE_WITHOUT
    if arrives is None:
        return CartonStatus.COMING_UNDATED
    if arrives < day.today:
        return CartonStatus.OVERDUE
    return CartonStatus.COMING_IN_TIME if visit is None or arrives < visit else CartonStatus.COMING_LATE


def _is_resolved(row: ShipmentRow, outlooks: tuple[CartonOutlook, ...]) -> bool:
    """A go that was given before anybody looked covers only that nobody looked."""
    if not row.looked_at and row.visit is not None and row.visit.go:
        return True
    inside = not row.inside or row.inside_covered
    return inside and row.missing == sum(each.resolved for each in outlooks)


def _urgency(row: ShipmentRow, outlooks: tuple[CartonOutlook, ...], days: int | None, day: StoreDay) -> Urgency:
    if days is not None and days < 0:
        return Urgency.HOLD_ENDED if row.held else Urgency.CLOSED
    if row.replaces and not row.looked_at:
        overdue = row.due is not None and day.calendar.on_or_after(row.due) < day.today
        return Urgency.OVERDUE if overdue else Urgency.AWAITED
    if row.short:
        return _urgency_of_a_shortage(row, outlooks)
    if row.confirmed:
        return Urgency.CLOSED
    return Urgency.TO_DECIDE if row.odd or row.held else Urgency.COMPLETE


def _urgency_of_a_shortage(row: ShipmentRow, outlooks: tuple[CartonOutlook, ...]) -> Urgency:
    if _is_resolved(row, outlooks):
        return Urgency.FOLLOWED
    if any(each.status is CartonStatus.OVERDUE and not each.resolved for each in outlooks):
        return Urgency.OVERDUE
    return Urgency.SHORT if row.looked_at else Urgency.UNSEEN


def order_key(decided: DispatchRow) -> tuple[int, int, int, int, str]:
    """Where a row stands in a list: by urgency, the nearest visit, what waits for the missing cartons, their number."""
    days = decided.days_to_visit
    distance = abs(days) if days is not None else 1_000_000
    rank = 0 if decided.urgency in _AT_THE_TOP else int(decided.urgency)
    return rank, distance, -_load(decided.unresolved), -decided.row.missing, decided.row.shipment


def _load(missing: Iterable[MissingCarton]) -> int:
    """How many positions wait; a carton that a whole section waits for weighs more than any number of them."""
    return sum(1_000 if each.weight is Weight.SECTION else each.positions for each in missing)


def _next_step(row: ShipmentRow, urgency: Urgency, outlooks: tuple[CartonOutlook, ...]) -> NextStep:
    match urgency:
        case Urgency.OVERDUE:
            return NextStep.CHASE
        case Urgency.SHORT:
            return _open_step(row, outlooks)
        case Urgency.HOLD_ENDED:
            return NextStep.DECIDE_AGAIN
        case Urgency.UNSEEN:
            return NextStep.SCAN
        case Urgency.TO_DECIDE:
            return NextStep.LOOK if row.odd else NextStep.END_THE_HOLD
        case Urgency.AWAITED:
            return NextStep.AWAIT
        case Urgency.CLOSED if not row.confirmed:
            return NextStep.CONFIRM
        case _:
            return NextStep.NOTHING


def _open_step(row: ShipmentRow, outlooks: tuple[CartonOutlook, ...]) -> NextStep:
    """What is still to be done about what is short."""
    loose = sum(
        each.status in (CartonStatus.OPEN, CartonStatus.NOT_COMING, CartonStatus.ASKED_FOR) and not each.covered
        for each in outlooks
    )
    if loose or row.missing > len(outlooks):
        taken_up = len(outlooks) > loose
        return NextStep.ORDER_THE_REST if taken_up else NextStep.ORDER
    if not all(each.resolved for each in outlooks):
        return NextStep.HOLD_OR_DO_WITHOUT
    return NextStep.OPEN_OUTER


# Which rows of the board are shown, and in which order.


class SortKey(StrEnum):
    """What the board can be sorted by."""

    URGENCY = "urgency"
    STORE = "store"
    VISIT = "visit"
    HERE = "here"
    MISSING = "missing"
    ORDER_BY = "order_by"
    LAST_READ = "last_read"


@dataclass(frozen=True)
class Selection:
    """What is looked for: every word, one of the states, a visit in a range of days (both ends count).

    ``section`` is one of the names that the manifest gives, ``shipper`` the one that sent it; empty: any.
    """

    words: str = ""
    states: frozenset[Urgency] = frozenset()
    visit_from: date | None = None
    visit_to: date | None = None
    section: str = ""
    shipper: str = ""
    sort: SortKey = SortKey.URGENCY
    descending: bool = False

    @property
    def narrows(self) -> bool:
        """True when it leaves any row out."""
        days = self.visit_from is not None or self.visit_to is not None
        return bool(self.words.split() or self.states or days or self.section or self.shipper)


def select(
    rows: Iterable[DispatchRow], wanted: Selection, found: Mapping[str, Collection[str]] | None = None
) -> tuple[DispatchRow, ...]:
    """The rows that are looked for, sorted; of equal ones the more pressing first, and those without a value last.

    ``found`` gives by word the shipments that it is a carton or a code of; they need not name it.
    """
    words = wanted.words.casefold().split()
    kept = [row for row in rows if _fits(row, wanted, words, found or {})]
    kept.sort(key=order_key)
    if wanted.sort is SortKey.URGENCY:
        return tuple(reversed(kept)) if wanted.descending else tuple(kept)
    known = [row for row in kept if _value(row, wanted.sort) is not None]
    unknown = [row for row in kept if _value(row, wanted.sort) is None]
    known.sort(key=lambda row: _value(row, wanted.sort), reverse=wanted.descending)  # type: ignore[arg-type,return-value]
    return (*known, *unknown)


def _fits(decided: DispatchRow, wanted: Selection, words: list[str], found: Mapping[str, Collection[str]]) -> bool:
    row = decided.row
    day = row.visit_date
    return (
        (not wanted.states or decided.urgency in wanted.states)
        and (wanted.visit_from is None or (day is not None and day >= wanted.visit_from))
        and (wanted.visit_to is None or (day is not None and day <= wanted.visit_to))
        and (not wanted.section or wanted.section in row.sections)
        and (not wanted.shipper or wanted.shipper == row.shipper)
        and all(word in _text(decided) or row.shipment in found.get(word, ()) for word in words)
    )


def _text(decided: DispatchRow) -> str:
    row = decided.row
    return f"{row.shipment} {row.store} {row.store_name}".casefold()


def _value(decided: DispatchRow, key: SortKey) -> object:
    row = decided.row
    match key:
        case SortKey.STORE:
            return (row.store, row.shipment)
        case SortKey.VISIT:
            return row.visit_date
        case SortKey.HERE:
            return row.here / row.expected if row.expected else None
        case SortKey.MISSING:
            return row.missing
        case SortKey.ORDER_BY:
            return decided.latest_order if decided.unresolved else None
        case _:
            return row.last_read_at
