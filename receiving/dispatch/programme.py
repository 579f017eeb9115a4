"""A programme as a whole: how ready its visits are by week, and where cartons are short."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from receiving.dispatch.deciding import DispatchRow, Urgency
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
    """All visits by week, and what is missing by shipper, by section and by what is in the carton, the worst first.

    ``days_to_count``: how many shipments were first counted so many days after they were delivered.
    """

    weeks: tuple[Week, ...]
    shippers: tuple[Share, ...]
    sections: tuple[Share, ...]
    items: tuple[tuple[str, int], ...]
    days_to_count: tuple[tuple[int, int], ...]


READY = frozenset({Urgency.COMPLETE, Urgency.TO_DECIDE})
SHORT = frozenset({Urgency.SHORT, Urgency.OVERDUE, Urgency.HOLD_ENDED})
MOST_ITEMS = 50


def summarise(rows: Iterable[DispatchRow]) -> Programme:
    """The programme as these rows show it; replacement shipments are left out, they serve the visits of others."""
    decided = [each for each in rows if not each.row.replaces]
    seen = [each.row for each in decided if each.row.looked_at]
    items = Counter(missing.item or missing.kind.words for row in seen for missing in row.followed)
    return Programme(
        _weeks(decided),
        _shares((row.shipper, row) for row in seen),
        _shares((section, row) for row in seen for section in row.sections),
        tuple(sorted(items.items(), key=lambda each: (-each[1], each[0]))[:MOST_ITEMS]),
        tuple(sorted(Counter(_days_to_count(row) for row in seen if row.delivered and row.counted).items())),
    )


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
