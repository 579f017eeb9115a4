"""Deciding on a visit: what can be done, what each choice costs, and which carton of another store would help.

Swaps are planned over all stores and taken by a coordinator, from costs and lanes that the house states.
"""

import csv
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from io import StringIO
from typing import Self

from receiving import dispatch
from receiving.dispatch import Chance, Costs, DispatchRow, Option, OrderStatus, Swap
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.messages import figure, message
from receiving.model import EVERYTHING, DataScope, FollowUp
from receiving.service.accounts import sees_swap
from receiving.service.context import Context
from receiving.service.list_pages import get_list_version, refresh_rows
from receiving.service.notes import add_notes
from receiving.service.queries import ShipmentView, get_shipment, list_shipments
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.service.stores import StoreDays
from receiving.store import DocumentKind
from receiving.store.records import from_text, to_text

TRANSIT_DAYS = 2
"""Working days from one store to another where no lane says: assumed, common practice, no source."""
LANE_COLUMNS = ("from", "to", "cost", "days")
MOST_LANES = 200_000
MOST_COST = 1_000


@dataclass(frozen=True)
class TakenSwap:
    """A swap as it was chosen: the carton of a shipment, and the shipment whose extra one is brought."""

    shipment: str
    carton: str
    spare_of: str

    @classmethod
    def of(cls, swap: Swap) -> Self:
        """This one of a plan."""
        return cls(swap.want.shipment, swap.want.carton, swap.spare.shipment)


def get_swap_plan(ctx: Context, scope: DataScope = EVERYTHING) -> tuple[Swap, ...]:
    """Which extra carton of which store goes to which visit, so that the fewest visits fail.

    It is planned over all stores; swaps of which a shipment is not within ``scope`` are left out.
    """
    found = planned_swaps(ctx, list_shipments(ctx), StoreDays(ctx.now()), get_costs(ctx))
    return tuple(swap for swap in found if not scope.limited or sees_swap(ctx, scope, swap))


@dataclass(frozen=True)
class SwapsView:
    """The swaps that are planned, what choices are taken to cost, and how many lanes are known."""

    swaps: tuple[Swap, ...]
    costs: Costs
    lanes: int


def get_swaps_view(ctx: Context, scope: DataScope = EVERYTHING) -> SwapsView:
    """The swaps as `get_swap_plan` has them, with what they follow from."""
    refresh_rows(ctx)
    with ctx.moment():
        return SwapsView(get_swap_plan(ctx, scope), get_costs(ctx), len(get_lanes(ctx)))


def take_swaps(ctx: Context, chosen: Iterable[TakenSwap], *, by: str, scope: DataScope = EVERYTHING) -> int:
    """Note that these cartons of other stores are on their way, all or none; gives how many.

    Raises BadRequest where none is chosen, and Conflict for one that is planned no more: somebody else took it, the
    carton turned up, or its way became too long.
    """
    wanted = tuple(dict.fromkeys(chosen))
    if not wanted:
        raise BadRequest(
            message("No swap was chosen."), next_step=message("Tick the cartons to bring, then send it again.")
        )
    seen = get_list_version(ctx)
    found = get_swap_plan(ctx, scope)  # takes long; what was stored meanwhile may have changed it
    with ctx.transaction():
        if get_list_version(ctx) != seen:
            found = get_swap_plan(ctx, scope)
        planned = {TakenSwap.of(swap): swap for swap in found}
        gone = next((each for each in wanted if each not in planned), None)
        if gone is not None:
            raise Conflict(
                message(
                    "Carton {carton} for shipment {shipment} can no longer be brought that way.",
                    carton=gone.carton,
                    shipment=gone.shipment,
                ),
                next_step=message("Look at the swaps as they are planned now; nothing was noted."),
            )
        action_id = ctx.new_id()
        for each in wanted:
            _note(ctx, planned[each], by, action_id)
    return len(wanted)


def _note(ctx: Context, swap: Swap, by: str, action_id: str) -> None:
    fields = {
        "carton": swap.want.carton,
        "step": FollowUp.ON_ITS_WAY.value,
        "due": swap.arrives,
        "remark": f"from store {swap.spare.store}",
        "spare_of": swap.spare.shipment,
    }
    add_notes(ctx, swap.want.shipment, "shortage_followed", [fields], by=by, action_id=action_id)


def planned_swaps(
    ctx: Context, rows: Iterable[dispatch.ShipmentRow], days: StoreDays, costs: Costs
) -> tuple[Swap, ...]:
    """The swaps over these rows, all there are."""
    rows = tuple(rows)
    spares = _spares(rows)
    if not spares:
        return ()
    items = {spare.item for spare in spares}
    may_want = (row for row in rows if any(missing.item in items for missing in row.followed) and _may_lack(row, days))
    wants = [want for row in may_want for want in _wants(row, days(row.terms), costs)]
    terms = {row.store: row.terms for row in rows}
    lanes = get_lanes(ctx)

    def lane(start: str, end: str) -> tuple[float, date]:
        cost, transit = lanes.get((start, end), (costs.swap, TRANSIT_DAYS))
        day = days(terms[end])
        return cost, day.calendar.add(day.today + timedelta(days=1), transit - 1)

    return dispatch.plan_swaps(spares, wants, lane)


def _spares(rows: Iterable[dispatch.ShipmentRow]) -> list[dispatch.Spare]:
    """The extra cartons of all stores, less those that were promised to a visit."""
    extra: Counter[tuple[str, str, str]] = Counter()
    promised: Counter[tuple[str, str]] = Counter()
    for row in rows:
        extra.update((row.store, row.shipment, item) for item in row.spares)
        promised.update(row.brought)
    left = {key: qty - promised[key[1:]] for key, qty in extra.items()}
    return [dispatch.Spare(*key, qty) for key, qty in left.items() if qty > 0]


def _may_lack(row: dispatch.ShipmentRow, days: StoreDays) -> bool:
    """False where all that is missing could be ordered in time: asked of all rows, so it works nothing out."""
    noted = any(missing.followed or missing.request for missing in row.followed)
    return noted or row.visit_date is None or days.order_now(row.terms) >= row.visit_date


def _wants(row: dispatch.ShipmentRow, day: dispatch.StoreDay, costs: Costs) -> Iterable[dispatch.Want]:
    """The cartons that a visit to come will lack though they were ordered now."""
    visit = row.visit_date
    if visit is None or visit < day.today or not row.looked_at:
        return
    late = dispatch.late_cartons(dispatch.decide(row, day), day)
    for missing in row.followed:
        if missing.carton in late:
            worth = costs.second_visit / len(late)
            yield dispatch.Want(row.store, row.shipment, missing.carton, missing.item, visit, worth)


def get_costs(ctx: Context) -> Costs:
    """What a second visit, a day's wait and a swap cost; assumed until somebody says otherwise."""
    with ctx.store() as store:
        document = store.document(DocumentKind.COSTS)
    return from_text(document.body, Costs) if document else Costs()


def save_costs(ctx: Context, costs: Costs) -> None:
    """Keep what choices cost, in visits. Raises BadRequest for a negative one."""
    for name, value in (
        (message("a second visit"), costs.second_visit),
        (message("a day"), costs.day),
        (message("a swap"), costs.swap),
    ):
        if not 0 <= value <= MOST_COST:
            raise BadRequest(
                message("The cost of {name} is {cost}.", name=name, cost=float(value)),
                next_step=message("Give it in visits, 0 to {most_cost}.", most_cost=MOST_COST),
            )
    with ctx.transaction() as store:
        store.add_document(DocumentKind.COSTS, "", to_text(costs), file_name="costs", added_at=ctx.now())


def get_lanes(ctx: Context) -> dict[tuple[str, str], tuple[float, int]]:
    """From store to store: what one carton costs, in visits, and its working days."""
    with ctx.store() as store:
        document = store.document(DocumentKind.LANES)
    return _read_lanes(document.body) if document else {}


def save_lanes(ctx: Context, name: str, data: bytes) -> int:
    """Keep a table of lanes (CSV: from, to, cost, days); gives how many. Raises BadRequest with the first fault."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise BadRequest(
            message("{name} is not UTF-8 text.", name=name), next_step=message("Save it as CSV in UTF-8.")
        ) from fault
    lanes = _read_lanes(text)
    refuse_hidden_characters({name: text})
    with ctx.transaction() as store:
        store.add_document(DocumentKind.LANES, "", text, file_name=name, added_at=ctx.now())
    return len(lanes)


def _read_lanes(text: str) -> dict[tuple[str, str], tuple[float, int]]:
    reader = csv.DictReader(StringIO(text))
    if missing := [name for name in LANE_COLUMNS if name not in (reader.fieldnames or ())]:
        raise BadRequest(
            message("The table of lanes has no column {missing}.", missing=repr(missing[0])),
            next_step=message("It has {columns}.", columns=", ".join(LANE_COLUMNS)),
        )
    lanes: dict[tuple[str, str], tuple[float, int]] = {}
    for row in reader:
        lanes[(row["from"] or "").strip(), (row["to"] or "").strip()] = _lane(row, reader.line_num)
        if len(lanes) > MOST_LANES:
            raise BadRequest(
                message("The table has over {most_lanes} lanes.", most_lanes=figure(MOST_LANES)),
                next_step=message("Leave out those that nobody uses."),
            )
    return lanes


def _lane(row: Mapping[str, str], line: int) -> tuple[float, int]:
    try:
        cost, days = float(row["cost"]), int(row["days"])
    except (TypeError, ValueError):
        cost, days = -1.0, 0
    if not (0 <= cost <= MOST_COST and 1 <= days <= 60 and row["from"] and row["to"]):
        raise BadRequest(
            message(
                "Line {line} of the table of lanes is {written}.",
                line=line,
                written=repr(",".join(str(value) for value in row.values())[:80]),
            ),
            next_step=message("Each line has from, to, a cost in visits (0 or more) and working days (1 to 60)."),
        )
    return cost, days


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
