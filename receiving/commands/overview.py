"""``receiving overview``: what a coordinator must decide today, for a terminal or a nightly job."""

import argparse

from receiving import service
from receiving.cli import DONE, INCOMPLETE
from receiving.commands.terminal import show, show_json
from receiving.dispatch import PRESSING
from receiving.messages import Text, joined, message
from receiving.service import CartonOutlook, DispatchRow


def run(options: argparse.Namespace) -> int:
    """Print every open shipment, the most pressing first; status 3 when one must be acted on before its visit."""
    with service.Context.at(options.data) as ctx:
        rows = service.get_overview(ctx)
    shown = [row for row in rows if options.days is None or _is_within(row, options.days)]
    for row in shown:
        show_json(_plain(row)) if options.json else show(_line(row))
    if not shown and not options.json:
        none = message("No shipment is loaded yet.")
        show(none if not rows else message("No visit in these days, and nothing that presses."))
    return INCOMPLETE if any(row.urgency in PRESSING for row in shown) else DONE


def _is_within(row: DispatchRow, days: int) -> bool:
    """True for a visit in these days, and for what presses though its visit is over, or has no day and may be soon."""
    if row.days_to_visit is None or row.days_to_visit < 0:
        return row.urgency in PRESSING
    return row.days_to_visit <= days


def _plain(decided: DispatchRow) -> dict[str, object]:
    row = decided.row
    return {
        "shipment": row.shipment,
        "store": row.store,
        "visit": row.visit_date.isoformat() if row.visit_date else None,
        "days_to_visit": decided.days_to_visit,
        "state": decided.urgency.name.lower(),
        "expected": row.expected,
        "here": row.here,
        "to_check": row.to_check,
        "missing": [_missing(each) for each in decided.outlooks],
        "held": row.held,
        "advice": str(service.advice_words(decided)),
    }


def _missing(outlook: CartonOutlook) -> dict[str, object]:
    return {
        "carton": outlook.missing.carton,
        "done": str(service.missing_words(outlook.missing)),
        "settled": outlook.resolved,
        "status": outlook.status.value,
        "positions": outlook.missing.positions,
        "weight": outlook.missing.weight.value,
    }


def _line(decided: DispatchRow) -> Text:
    row = decided.row
    state = message(
        "store {store}, {shipment}: {here} of {number} here.",
        store=row.store,
        shipment=row.shipment,
        here=row.here,
        number=row.expected,
    )
    missing = ", ".join(each.carton for each in row.followed)
    short = message("Missing: {cartons}.", cartons=missing) if missing else ""
    return joined(state, service.advice_words(decided), short)
