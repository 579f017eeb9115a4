"""Deciding on a visit: what can be done, what each choice costs, and which carton of another store would help."""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from io import StringIO

from receiving import dispatch
from receiving.dispatch import Chance, Costs, DispatchRow, Option, OrderStatus, Swap
from receiving.errors import BadRequest, NotFound
from receiving.service.desk import Desk
from receiving.service.store_days import StoreDays
from receiving.service.viewing import shipments
from receiving.store import DocumentKind
from receiving.store.records import from_text, to_text

TRANSIT_DAYS = 2
"""Working days from one store to another where no lane says: assumed, common practice, no source."""
LANE_COLUMNS = ("from", "to", "cost", "days")
MOST_LANES = 200_000
MOST_COST = 1_000


@dataclass(frozen=True)
class Decision:
    """One shipment with its choices, the cheapest first, and what they follow from.

    ``orders`` says by carton whether an order still helps; ``swaps`` are those planned over all stores.
    """

    decided: DispatchRow
    options: tuple[Option, ...]
    orders: Mapping[str, OrderStatus]
    chance: Chance
    costs: Costs
    swaps: tuple[Swap, ...]
    calendar: str


def decision(desk: Desk, shipment: str) -> Decision:
    """The choices for one visit, weighed with what past shipments and other stores say. Raises NotFound."""
    days = StoreDays(desk.now())
    rows = shipments(desk)
    row = next((row for row in rows if row.shipment == shipment), None)
    if row is None:
        raise NotFound(f"There is no shipment {shipment!r}.", next_step="Choose one from the overview.")
    day = days(row.terms)
    decided = dispatch.decide(row, day)
    chance, costs = dispatch.learn(rows, day.today, decided.days_to_visit or 0), costs_of(desk)
    swaps = tuple(swap for swap in _swaps(desk, rows, days, costs) if swap.want.shipment == shipment)
    return Decision(
        decided,
        dispatch.options(decided, day, chance, costs, {s.want.carton: (s.spare.store, s.arrives) for s in swaps}),
        {each.missing.carton: dispatch.order_status(each, decided) for each in decided.outlooks},
        chance,
        costs,
        swaps,
        day.calendar.named,
    )


def swap_plan(desk: Desk) -> tuple[Swap, ...]:
    """Which extra carton of which store goes to which visit, over all stores, so that the fewest visits fail."""
    return _swaps(desk, shipments(desk), StoreDays(desk.now()), costs_of(desk))


def _swaps(desk: Desk, rows: Iterable[dispatch.ShipmentRow], days: StoreDays, costs: Costs) -> tuple[Swap, ...]:
    rows = tuple(rows)
    extra: dict[tuple[str, str, str], int] = {}
    for row in rows:
        for item in row.spares:
            key = (row.store, row.shipment, item)
            extra[key] = extra.get(key, 0) + 1
    spares = [dispatch.Spare(*key, qty) for key, qty in extra.items()]
    if not spares:
        return ()
    wants = [want for row in rows for want in _wants(dispatch.decide(row, days(row.terms)), costs)]
    terms = {row.store: row.terms for row in rows}
    lanes = lanes_of(desk)

    def lane(start: str, end: str) -> tuple[float, date]:
        cost, transit = lanes.get((start, end), (costs.swap, TRANSIT_DAYS))
        day = days(terms[end])
        return cost, day.calendar.add(day.today + timedelta(days=1), transit - 1)

    return dispatch.plan_swaps(spares, wants, lane)


def _wants(decided: DispatchRow, costs: Costs) -> Iterable[dispatch.Want]:
    """The cartons that a visit to come may fail for; what is on its way in time is not wanted."""
    row, visit = decided.row, decided.row.visit_date
    if visit is None or decided.days_to_visit is None or decided.days_to_visit < 0 or not row.looked_at:
        return
    blocking = [each for each in decided.unsettled if each.weight is not dispatch.Weight.NOTHING and each.item]
    for missing in blocking:
        worth = costs.second_visit / len(blocking)
        yield dispatch.Want(row.store, row.shipment, missing.carton, missing.item, visit, worth)


def costs_of(desk: Desk) -> Costs:
    """What a second visit, a day's wait and a swap cost; assumed until somebody says otherwise."""
    with desk.store() as store:
        document = store.document(DocumentKind.COSTS)
    return from_text(document.body, Costs) if document else Costs()


def save_costs(desk: Desk, costs: Costs) -> None:
    """Keep what choices cost, in visits. Raises BadRequest for a negative one."""
    for name, value in (("a second visit", costs.second_visit), ("a day", costs.day), ("a swap", costs.swap)):
        if not 0 <= value <= MOST_COST:
            raise BadRequest(f"The cost of {name} is {value:g}.", next_step=f"Give it in visits, 0 to {MOST_COST}.")
    with desk.transaction() as store:
        store.add_document(DocumentKind.COSTS, "", to_text(costs), file_name="costs", added_at=desk.now())


def lanes_of(desk: Desk) -> dict[tuple[str, str], tuple[float, int]]:
    """From store to store: what one carton costs, in visits, and its working days."""
    with desk.store() as store:
        document = store.document(DocumentKind.LANES)
    return _read_lanes(document.body) if document else {}


def save_lanes(desk: Desk, name: str, data: bytes) -> int:
    """Keep a table of lanes (CSV: from, to, cost, days); gives how many. Raises BadRequest with the first fault."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise BadRequest(f"{name} is not UTF-8 text.", next_step="Save it as CSV in UTF-8.") from fault
    lanes = _read_lanes(text)
    with desk.transaction() as store:
        store.add_document(DocumentKind.LANES, "", text, file_name=name, added_at=desk.now())
    return len(lanes)


def _read_lanes(text: str) -> dict[tuple[str, str], tuple[float, int]]:
    reader = csv.DictReader(StringIO(text))
    if missing := [name for name in LANE_COLUMNS if name not in (reader.fieldnames or ())]:
        raise BadRequest(
            f"The table of lanes has no column {missing[0]!r}.", next_step=f"It has {', '.join(LANE_COLUMNS)}."
        )
    lanes: dict[tuple[str, str], tuple[float, int]] = {}
    for row in reader:
        lanes[(row["from"] or "").strip(), (row["to"] or "").strip()] = _lane(row, reader.line_num)
        if len(lanes) > MOST_LANES:
            raise BadRequest(f"The table has over {MOST_LANES:,} lanes.", next_step="Leave out those that nobody uses.")
    return lanes


def _lane(row: Mapping[str, str], line: int) -> tuple[float, int]:
    try:
        cost, days = float(row["cost"]), int(row["days"])
    except (TypeError, ValueError):
        cost, days = -1.0, 0
    if not (0 <= cost <= MOST_COST and 1 <= days <= 60 and row["from"] and row["to"]):
        raise BadRequest(
            f"Line {line} of the table of lanes is {','.join(str(value) for value in row.values())[:80]!r}.",
            next_step="Each line has from, to, a cost in visits (0 or more) and working days (1 to 60).",
        )
    return cost, days
