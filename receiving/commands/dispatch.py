"""``receiving overview`` and ``swaps``: what a coordinator must decide today, for a terminal or a nightly job.

A swap says which extra carton of which store goes to which visit; noting it says that it is on its way.
"""

import argparse
from datetime import date

from receiving import service
from receiving.cli import DONE, INCOMPLETE
from receiving.commands.files import file_bytes
from receiving.commands.terminal import show, show_json
from receiving.dispatch import PRESSING, Swap
from receiving.errors import BadRequest
from receiving.messages import Text, joined, message, plural
from receiving.service import CartonOutlook, DispatchRow, TakenSwap, day_words, share_words


def run_overview(options: argparse.Namespace) -> int:
    """Print every open shipment, the most pressing first; status 3 when one must be acted on before its visit."""
    with service.Context.at(options.data) as ctx:
        rows = service.get_overview(ctx)
    shown = [row for row in rows if options.days is None or _is_within(row, options.days)]
    for row in shown:
        show_json(_shipment_as_json(row)) if options.json else show(_shipment_line(row))
    if not shown and not options.json:
        none = message("No shipment is loaded yet.")
        show(none if not rows else message("No visit in these days, and nothing urgent."))
    return INCOMPLETE if any(row.urgency in PRESSING for row in shown) else DONE


def _is_within(row: DispatchRow, days: int) -> bool:
    """True for a visit in these days, and for what is urgent while its visit is over, or has no day."""
    if row.days_to_visit is None or row.days_to_visit < 0:
        return row.urgency in PRESSING
    return row.days_to_visit <= days


def _shipment_as_json(decided: DispatchRow) -> dict[str, object]:
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


def _shipment_line(decided: DispatchRow) -> Text:
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


def run_swaps(options: argparse.Namespace) -> int:
    """List the swaps as they are planned now; with ``--take`` or ``--take-all`` note them as on their way."""
    if (options.take or options.take_all) and not options.by.strip():
        raise BadRequest(
            message("Nobody is named who makes these swaps."), next_step=message("Add --by and your name.")
        )
    with service.Context.at(options.data) as ctx:
        if options.lanes:
            service.save_lanes(ctx, options.lanes.name, file_bytes(options.lanes))
        planned = sorted(service.get_swap_plan(ctx), key=_order)
        taken = planned if options.take_all else [_planned(planned, *names) for names in options.take or ()]
        if taken:
            service.take_swaps(ctx, map(TakenSwap.of, taken), by=options.by.strip())
            service.write_command(ctx, "swaps --take")
    shown = taken if options.take or options.take_all else planned
    for swap in shown:
        show_json(_swap_as_json(swap, taken=swap in taken)) if options.json else show(_swap_line(swap))
    if not options.json:
        show(_taken_words(len(planned), len(taken)))
    return DONE


def _order(swap: Swap) -> tuple[date, str, str]:
    return swap.want.visit, swap.want.shipment, swap.want.carton


def _planned(planned: list[Swap], shipment: str, carton: str) -> Swap:
    """The swap for this carton. Raises BadRequest."""
    found = next((each for each in planned if (each.want.shipment, each.want.carton) == (shipment, carton)), None)
    if found is None:
        raise BadRequest(
            message(
                "No swap is planned for carton {carton} of shipment {shipment}; nothing was noted.",
                carton=repr(carton),
                shipment=repr(shipment),
            ),
            next_step=message("Look at the list: receiving swaps, without --take."),
        )
    return found


def _taken_words(planned: int, taken: int) -> Text:
    if taken:
        return plural(
            taken,
            "{number} carton is noted as on its way; tell the store that has it.",
            "{number} cartons are noted as on their way; tell the stores that have them.",
        )
    if not planned:
        return message("No extra carton of one store would help the visit of another.")
    return message("To note one as on its way: {options}", options="--take SHIPMENT CARTON --by NAME")


def _swap_line(swap: Swap) -> Text:
    return message(
        "{shipment}, carton {carton} for store {store}, visited {visit}: {item} from store {other}"
        " ({from_shipment}), arrives {arrives}, costs {cost}",
        shipment=swap.want.shipment,
        carton=swap.want.carton,
        store=swap.want.store,
        visit=day_words(swap.want.visit),
        item=service.name_words(swap.want.item),
        other=swap.spare.store,
        from_shipment=swap.spare.shipment,
        arrives=day_words(swap.arrives),
        cost=share_words(swap.cost),
    )


def _swap_as_json(swap: Swap, *, taken: bool) -> dict[str, object]:
    return {
        "shipment": swap.want.shipment,
        "store": swap.want.store,
        "carton": swap.want.carton,
        "item": str(service.name_words(swap.want.item)),
        "visit": swap.want.visit.isoformat(),
        "from_shipment": swap.spare.shipment,
        "from_store": swap.spare.store,
        "arrives": swap.arrives.isoformat(),
        "cost": swap.cost,
        "taken": taken,
    }
