"""Deciding on a visit: what can be done, what each choice costs, and which carton of another store would help."""

from collections.abc import Mapping
from dataclasses import dataclass

from receiving import dispatch
from receiving.dispatch import Chance, Costs, DispatchRow, Option, OrderStatus, Swap
from receiving.errors import NotFound
from receiving.messages import message
from receiving.model import EVERYTHING, DataScope
from receiving.service.accounts import sees_swap
from receiving.service.context import Context
from receiving.service.list_pages import refresh_rows
from receiving.service.queries import ShipmentView, get_shipment, list_shipments
from receiving.service.store_days import StoreDays
from receiving.service.swapping import get_costs, planned_swaps


@dataclass(frozen=True)
class Decision:
    """One shipment in full with its choices, the cheapest first, and what they follow from.

    ``orders`` says by carton whether an order still helps; ``swaps`` are those planned over all stores.
    """

    view: ShipmentView
    decided: DispatchRow
    options: tuple[Option, ...]
    orders: Mapping[str, OrderStatus]
    chance: Chance
    costs: Costs
    swaps: tuple[Swap, ...]
    calendar: str


def get_decision(ctx: Context, shipment: str, scope: DataScope = EVERYTHING) -> Decision:
    """The choices for one visit, weighed with what past shipments and other stores say. Raises NotFound.

    No swap names a shipment that is not within ``scope``.
    """
    days = StoreDays(ctx.now())
    refresh_rows(ctx)
    with ctx.moment():
        return _decision(ctx, get_shipment(ctx, shipment), days, scope)


def _decision(ctx: Context, view: ShipmentView, days: StoreDays, scope: DataScope) -> Decision:
    shipment = view.manifest.shipment
    if view.found.record.voided:
        raise NotFound(
            message("Shipment {shipment} is voided.", shipment=repr(shipment)),
            next_step=message("Choose one from the overview."),
        )
    row = view.row
    rows = (row, *(each for each in list_shipments(ctx, whole=False) if each.shipment != shipment))
    day = days(row.terms)
    decided = dispatch.decide(row, day)
    chance, costs = dispatch.learn(rows, day.today, decided.days_to_visit or 0), get_costs(ctx)
    late, items = dispatch.late_cartons(decided, day), {item for each in rows for item in each.spares}
    helped = bool(late) and all(m.item in items for m in row.followed if m.carton in late)
    planned = planned_swaps(ctx, rows, days, costs) if helped else ()  # it is planned over all stores
    swaps = tuple(swap for swap in planned if swap.want.shipment == shipment and sees_swap(ctx, scope, swap))
    return Decision(
        view,
        decided,
        dispatch.options(decided, day, chance, costs, {swap.want.carton: swap for swap in swaps}),
        {each.missing.carton: dispatch.order_status(each, decided) for each in decided.outlooks},
        chance,
        costs,
        swaps,
        day.calendar.named,
    )
