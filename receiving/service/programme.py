"""The programme as a whole: readiness by week, where cartons are short, and whom to call before a visit."""

from receiving import dispatch
from receiving.dispatch import DispatchRow, Programme, Urgency
from receiving.service.desk import Desk
from receiving.service.dispatch_words import advice_words
from receiving.service.store_days import StoreDays
from receiving.service.viewing import overview
from receiving.sheets import csv_text

CALL_DAYS = 3
"""So many working days before a visit a store should have counted: assumed, common practice, no source."""


def programme(desk: Desk, stores: frozenset[str] | None = None) -> Programme:
    """How ready the visits to these stores are, by week, and where cartons are short."""
    return dispatch.summarise(overview(desk, stores))


def to_call(desk: Desk, days: int = CALL_DAYS, stores: frozenset[str] | None = None) -> tuple[DispatchRow, ...]:
    """Shipments that nobody has counted with at most ``days`` working days left before the visit, the nearest first."""
    day_of = StoreDays(desk.now())
    return tuple(
        row
        for row in overview(desk, stores)
        if row.urgency is Urgency.UNSEEN
        and row.row.visit_date is not None
        and day_of(row.row.terms).calendar.between(row.today, row.row.visit_date) <= days
    )


def call_list_csv(rows: tuple[DispatchRow, ...]) -> str:
    """The list to call as CSV."""
    header = ("store", "name", "shipment", "visit_date", "cartons", "advice")
    return csv_text(header, map(_call_row, rows))


def _call_row(decided: DispatchRow) -> tuple[object, ...]:
    row = decided.row
    return row.store, row.store_name, row.shipment, row.visit_date, row.expected, advice_words(decided)


def programme_csv(found: Programme) -> str:
    """The figures of the programme as CSV: one table, its part named in the first column."""
    rows: list[tuple[object, ...]] = [
        ("week", week.monday, week.visits, week.ready, week.followed, week.short, week.unseen) for week in found.weeks
    ]
    for part, shares in (("shipper", found.shippers), ("section", found.sections)):
        rows += [(part, each.name, each.shipments, each.expected, each.missing, "", "") for each in shares]
    rows += [("item", name, missing, "", "", "", "") for name, missing in found.items]
    header = ("part", "name", "visits or shipments", "ready or expected", "followed or missing", "short", "unseen")
    return csv_text(header, rows)
