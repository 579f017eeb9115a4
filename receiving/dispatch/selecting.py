"""Which rows of the board are shown, and in which order."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from receiving.dispatch.deciding import DispatchRow, Urgency, order_key


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
            return decided.latest_order if decided.unsettled else None
        case _:
            return row.last_read_at
