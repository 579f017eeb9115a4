"""The programme as a whole: readiness by week, where cartons are short, and whom to call before a visit."""

import csv
from dataclasses import dataclass
from datetime import date, timedelta
from io import StringIO

from receiving import dispatch
from receiving.dispatch import DispatchRow, Programme, ReadinessDay, Urgency
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import EVERYTHING, DataScope, ShipmentDelivered
from receiving.service.context import Context
from receiving.service.dispatch_words import advice_words, name_words
from receiving.service.list_pages import refresh_rows
from receiving.service.queries import get_overview
from receiving.service.stores import StoreDays
from receiving.sheets import csv_text

HISTORY_DAYS = 42
"""This many days of readiness are shown."""

CALL_DAYS = 3
"""This many working days before a visit a store should have counted: assumed, common practice, no source."""


def get_programme(ctx: Context, scope: DataScope = EVERYTHING) -> Programme:
    """How ready the visits within this scope are, by week, and where cartons are short."""
    return dispatch.summarise(get_overview(ctx, scope))


def list_readiness(ctx: Context, scope: DataScope = EVERYTHING, days: int = HISTORY_DAYS) -> tuple[ReadinessDay, ...]:
    """How ready the visits to come (within this scope) were on each of the last days, as it was kept."""
    today = ctx.now().astimezone().date()
    first = today - timedelta(days=days - 1)
    with ctx.store() as store:
        kept = store.moves_of_rows(first.isoformat(), scope)
    moves = [(date.fromisoformat(day), Urgency[state.upper()], number) for day, state, number in kept]
    found = dispatch.readiness(moves, first, max(today, *(day for day, _, _ in moves)) if moves else today)
    begun = next((n for n, day in enumerate(found) if day.visits), len(found))
    return found[begun:]


@dataclass(frozen=True)
class ProgrammeView:
    """The figures of the programme, and how ready its visits were from day to day."""

    figures: Programme
    days: tuple[ReadinessDay, ...]


def get_programme_view(ctx: Context, scope: DataScope = EVERYTHING) -> ProgrammeView:
    """How ready the visits within this scope are and were, and where cartons are short."""
    refresh_rows(ctx)
    with ctx.moment():
        return ProgrammeView(get_programme(ctx, scope), list_readiness(ctx, scope))


def make_readiness_csv(found: tuple[ReadinessDay, ...]) -> str:
    """How ready the visits to come were from day to day, as CSV."""
    header = ("day", "visits_to_come", "ready", "followed_up", "short", "not_counted")
    return csv_text(header, ((d.day, d.visits, d.ready, d.followed, d.short, d.unseen) for d in found))


def list_to_call(ctx: Context, days: int = CALL_DAYS, scope: DataScope = EVERYTHING) -> tuple[DispatchRow, ...]:
    """Shipments that nobody has counted with at most ``days`` working days left before the visit, the nearest first."""
    day_of = StoreDays(ctx.now())
    return tuple(
        row
        for row in get_overview(ctx, scope)
        if row.urgency is Urgency.UNSEEN
        and row.row.visit_date is not None
        and day_of(row.row.terms).calendar.between(row.today, row.row.visit_date) <= days
    )


def make_call_list_csv(rows: tuple[DispatchRow, ...]) -> str:
    """The list to call as CSV."""
    header = ("store", "name", "shipment", "visit_date", "cartons", "advice")
    return csv_text(header, map(_call_row, rows))


def _call_row(decided: DispatchRow) -> tuple[object, ...]:
    row = decided.row
    return row.store, row.store_name, row.shipment, row.visit_date, row.expected, str(advice_words(decided))


def make_programme_csv(found: Programme) -> str:
    """The figures of the programme as CSV: one table, its part named in the first column."""
    rows: list[tuple[object, ...]] = [
        ("week", week.monday, week.visits, week.ready, week.followed, week.short, week.unseen) for week in found.weeks
    ]
    parts = (("shipper", found.shippers), ("section", found.sections), ("kit", found.kits), ("lane", found.lanes))
    for part, shares in parts:
        rows += [
            (part, str(name_words(each.name)), each.shipments, each.expected, each.missing, "", "") for each in shares
        ]
    rows += [("item", str(name_words(name)), missing, "", "", "", "") for name, missing in found.items]
    rows += [
        ("days from delivery to count", days, shipments, "", "", "", "") for days, shipments in found.days_to_count
    ]
    header = ("part", "name", "visits or shipments", "ready or expected", "followed or missing", "short", "unseen")
    return csv_text(header, rows)


def import_deliveries(ctx: Context, name: str, data: bytes, *, by: str, scope: DataScope = EVERYTHING) -> int:
    """Note the days on which shipments were delivered (CSV: shipment, delivered_on), all or none; gives how many.

    Raises BadRequest with the first fault, and for a shipment that is unknown or, not within ``scope``.
    """
    days = _read_deliveries(name, data)
    with ctx.transaction() as store:
        action_id = ctx.new_id()
        known = {record.shipment: record for record in store.shipments()}
        for line, (shipment, day) in days.items():
            if shipment not in known or not scope.sees(known[shipment].store, known[shipment].programme):
                raise BadRequest(
                    message(
                        "Line {line} of {name} names shipment {shipment}, which is not here.",
                        line=line,
                        name=name,
                        shipment=repr(shipment[:60]),
                    ),
                    next_step=message("Import its manifest first, or take the line out; nothing was stored."),
                )
            note = ShipmentDelivered(ctx.new_id(), ctx.now(), by, day, action_id=action_id)
            store.add_notes(shipment, [note])
    return len(days)


def _read_deliveries(name: str, data: bytes) -> dict[int, tuple[str, date]]:
    try:
        reader = csv.DictReader(StringIO(data.decode("utf-8-sig")))
    except UnicodeDecodeError as fault:
        raise BadRequest(
            message("{name} is not UTF-8 text.", name=name), next_step=message("Save it as CSV in UTF-8.")
        ) from fault
    for column in ("shipment", "delivered_on"):
        if column not in (reader.fieldnames or ()):
            raise BadRequest(
                message("{name} has no column {column}.", name=name, column=repr(column)),
                next_step=message("It has shipment and delivered_on."),
            )
    found: dict[int, tuple[str, date]] = {}
    for row in reader:
        shipment, text = (row["shipment"] or "").strip(), (row["delivered_on"] or "").strip()
        if not text:
            continue
        try:
            found[reader.line_num] = (shipment, date.fromisoformat(text))
        except ValueError as fault:
            raise BadRequest(
                message(
                    "Line {line} of {name}: {text} is not a date.",
                    line=reader.line_num,
                    name=name,
                    text=repr(text[:40]),
                ),
                next_step=message(
                    "Give it as year-month-day, such as 2026-03-09; leave it empty where it is not delivered yet."
                ),
            ) from fault
    return found
