"""A programme as a whole: how ready its visits are by week, and where cartons are short."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from receiving.dispatch.deciding import DispatchRow, Urgency
from receiving.dispatch.naming import kind_alone
from receiving.dispatch.rows import ShipmentRow


@dataclass(frozen=True)
class Week:
    """The visits of one week, from its Monday: how many there are, by how each of them is."""

    monday: date
    visits: int
    ready: int
    followed: int
    short: int
    unseen: int


@dataclass(frozen=True)
class Share:
    """Of ``expected`` cartons of this name ``missing`` are, in ``shipments`` shipments that somebody looked at."""

    name: str
    shipments: int
    expected: int
    missing: int

    @property
    def share(self) -> float:
        """The share that is missing, 0 to 1."""
        return self.missing / self.expected if self.expected else 0.0


@dataclass(frozen=True)
class Programme:
    """All visits by week, and what is missing by shipper, section, kit, lane and by what is in a carton, worst first.

    ``days_to_count``: how many shipments were first counted this many days after they were delivered.
    """

    weeks: tuple[Week, ...]
    shippers: tuple[Share, ...]
    sections: tuple[Share, ...]
    kits: tuple[Share, ...]
    lanes: tuple[Share, ...]
    items: tuple[tuple[str, int], ...]
    days_to_count: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class ReadinessDay:
    """The visits still to come at the end of one day, by how each of them stood."""

    day: date
    ready: int
    followed: int
    short: int
    unseen: int

    @property
    def visits(self) -> int:
        """All of them."""
        return self.ready + self.followed + self.short + self.unseen


READY = frozenset({Urgency.COMPLETE, Urgency.TO_DECIDE})
SHORT = frozenset({Urgency.SHORT, Urgency.OVERDUE, Urgency.HOLD_ENDED})
MOST_ITEMS = 50


def summarise(rows: Iterable[DispatchRow]) -> Programme:
    """The programme as these rows show it; replacement shipments are left out, they serve the visits of others."""
    decided = [each for each in rows if not each.row.replaces]
    seen = [each.row for each in decided if each.row.looked_at]
    items = Counter(missing.item or kind_alone(missing.kind) for row in seen for missing in row.followed)
    return Programme(
        _weeks(decided),
        _shares((row.shipper, row) for row in seen),
        _shares((section, row) for row in seen for section in row.sections),
        _shares((row.kit, row) for row in seen if row.kit),
        _shares((row.lane, row) for row in seen if row.lane),
        tuple(sorted(items.items(), key=lambda each: (-each[1], each[0]))[:MOST_ITEMS]),
        tuple(sorted(Counter(_days_to_count(row) for row in seen if row.delivered and row.counted).items())),
    )


def readiness(moves: Iterable[tuple[date, Urgency, int]], first: date, last: date) -> tuple[ReadinessDay, ...]:
    """How ready the visits to come were from day to day, of how many came into each state or left it on each day.

    >>> moves = [(date(2026, 3, 2), Urgency.UNSEEN, 2), (date(2026, 3, 3), Urgency.UNSEEN, -1),
    ...          (date(2026, 3, 3), Urgency.COMPLETE, 1)]
    >>> [(day.ready, day.unseen) for day in readiness(moves, date(2026, 3, 2), date(2026, 3, 4))]
    [(0, 2), (1, 1), (1, 1)]
    """
    by_day: dict[date, list[tuple[Urgency, int]]] = defaultdict(list)
    for day, state, number in moves:
        by_day[max(day, first)].append((state, number))
    by_kind: Counter[str] = Counter()
    found = []
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        for state, number in by_day[day]:
            by_kind[_KINDS.get(state, "")] += number
        found.append(ReadinessDay(day, by_kind["ready"], by_kind["followed"], by_kind["short"], by_kind["unseen"]))
    return tuple(found)


_KINDS = {
    **dict.fromkeys(READY, "ready"),
    **dict.fromkeys(SHORT, "short"),
    Urgency.FOLLOWED: "followed",
    Urgency.UNSEEN: "unseen",
}


def _days_to_count(row: ShipmentRow) -> int:
    """Calendar days from the delivery to the first count; 0 for one that was counted before the carrier said so."""
    return max(0, (row.counted - row.delivered).days) if row.counted and row.delivered else 0


def _weeks(decided: Iterable[DispatchRow]) -> tuple[Week, ...]:
    by_week: dict[date, list[DispatchRow]] = defaultdict(list)
    for each in decided:
        if day := each.row.visit_date:
            by_week[day - timedelta(days=day.weekday())].append(each)
    return tuple(_week(monday, by_week[monday]) for monday in sorted(by_week))


def _week(monday: date, rows: list[DispatchRow]) -> Week:
    """A visit that is over counts by what was missing in the end."""
    states = [_state(each) for each in rows]
    return Week(monday, len(rows), *(states.count(state) for state in ("ready", "followed", "short", "unseen")))


def _state(decided: DispatchRow) -> str:
    row = decided.row
    if decided.urgency is Urgency.CLOSED:
        return "unseen" if not row.looked_at else "short" if row.short else "ready"
    if decided.urgency in READY:
        return "ready"
    if decided.urgency in SHORT:
        return "short"
    return "followed" if decided.urgency is Urgency.FOLLOWED else "unseen"


def _shares(named: Iterable[tuple[str, ShipmentRow]]) -> tuple[Share, ...]:
    rows: dict[str, list[ShipmentRow]] = defaultdict(list)
    for name, row in named:
        rows[name].append(row)
    found = [
        Share(name, len(own), sum(row.expected for row in own), sum(row.missing for row in own))
        for name, own in rows.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.share, each.name)))
