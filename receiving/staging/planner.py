"""Manifest, reconciliation and layout to a staging plan."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from receiving.model import (
    TWO_PEOPLE_KG,
    BayStaging,
    Cart,
    Carton,
    Caution,
    Held,
    Layout,
    Manifest,
    Note,
    Reconciliation,
    StagingPlan,
    StopBound,
    Topic,
    Trip,
    TripBound,
)
from receiving.staging.aisles import aisle_before, aisle_cautions
from receiving.staging.at_once import open_first
from receiving.staging.destinations import setting_order
from receiving.staging.floor import Floors, spot_of, stand_on_floors
from receiving.staging.handling import cautions_for, lift_advice
from receiving.staging.lifting import LIMITS_OF_USE
from receiving.staging.loading import Effort, Placement, never
from receiving.staging.loads import Deck, Load, deck_of, measure
from receiving.staging.shipment import Shipment, shipment_of, stay_or_go
from receiving.staging.stops import fewer_stops
from receiving.staging.trips import COMPARISONS_PER_S, PackingProblem, PackingSolution, Route, fits_alone, solve_packing
from receiving.staging.under_way import trips_under_way
from receiving.staging.unloading import order_for_unloading
from receiving.staging.work_order import opening_key, work_steps

ASSUMED_CART = Cart(max_load_kg=110, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)
"""A common platform cart, planned with until a layout states the store's own (our choice, no source)."""

ROWS_FROM_TOP = "Row 1 is the top row."


def plan_staging(
    manifest: Manifest,
    reconciliation: Reconciliation,
    layout: Layout | None,
    notes: Iterable[Note] = (),
    *,
    time_limit_s: float = 1.0,
    cancelled: Callable[[], bool] = never,
) -> StagingPlan:
    """Open-first order, cart trips, bays, work order and cautions for the received cartons of one shipment; pure.

    Cartons not found, or for which there is no bay or floor, are held with the reason. Without a layout there are no
    bays, and trips are planned for a common cart, which a caution says. ``time_limit_s`` bounds the search by a count
    of steps that takes about so long; the same input always gives the same plan. ``cancelled`` is asked while the plan
    is made: once it is true, PlanningCancelled is raised.
    """
    steps = int(time_limit_s * COMPARISONS_PER_S)
    shipment = shipment_of(manifest, reconciliation, layout, notes)
    deck = deck_of(layout.cart if layout else ASSUMED_CART)
    going, held = stay_or_go(shipment)
    loads, assumptions = measure(going, manifest)
    going, too_much = _liftable(shipment, going, loads, deck)
    floors = stand_on_floors(shipment, going, loads)
    going = [carton for carton in going if carton.carton not in {h.carton for h in floors.held}]
    riding = [carton for carton in going if not shipment.moved(carton.carton)]
    begun = trips_under_way((loads[carton.carton] for carton in riding), shipment.overrides.riding, deck)
    on_the_way = {one.load.carton for placed in begun.values() for one in placed}
    waiting = [loads[carton.carton] for carton in riding if carton.carton not in on_the_way]
    problem, by_hand = _problem(shipment, waiting, deck)
    solution = solve_packing(problem, time_limit_s=0.6 * time_limit_s, cancelled=cancelled)
    routes = _routes(shipment, riding, floors)
    solution, stops_at_least = fewer_stops(solution, problem, routes, Effort(steps // 5, cancelled))
    trips = _trips(shipment, solution, begun, by_hand, floors, deck, Effort(steps // 5, cancelled))
    stops_begun = sum(len(trip.stops) for trip in trips if trip.under_way)
    weighed = [carton.carton for carton in riding if carton.weight_kg is not None]
    lifting = lift_advice(trips, loads, weighed, layout.walk_m if layout else 0.0)
    return StagingPlan(
        open_first=open_first(shipment),
        trips=trips,
        bays=_bays(shipment, going, floors),
        cautions=_ranked((*_doubts(shipment, going, floors, solution), *cautions_for(shipment, trips, lifting, going))),
        held=(*held, *too_much, *floors.held),
        bound=TripBound(solution.driven + len(begun), solution.at_least + len(begun)),
        stop_bound=StopBound(_cart_stops(trips), stops_at_least + stops_begun),
        assumptions=(*assumptions, *([ROWS_FROM_TOP] if going else []), *([LIMITS_OF_USE] if lifting else [])),
        lifting=lifting,
        steps=work_steps(shipment),
    )


def _liftable(
    shipment: Shipment, going: Sequence[Carton], loads: Mapping[str, Load], deck: Deck
) -> tuple[list[Carton], list[Held]]:
    """Holds what neither the cart nor two people carry; a carton that was moved already needs no carrying."""
    kept, held = [], []
    for carton in going:
        load = loads[carton.carton]
        if shipment.moved(carton.carton) or fits_alone(load, deck) or load.weight_g <= TWO_PEOPLE_KG * 1000:
            kept.append(carton)
            continue
        why = (
            f"{load.weight_g / 1000:g} kg, {load.length_mm / 10:g} × {load.width_mm / 10:g} × "
            f"{load.height_mm / 10:g} cm: more than the cart takes and too heavy to carry by hand; "
            "open it here and stage its contents, or ask store management for suitable equipment"
        )
        held.append(Held(carton.carton, why))
    return kept, held


def _problem(shipment: Shipment, loads: Iterable[Load], deck: Deck) -> tuple[PackingProblem, list[Load]]:
    """What rides on carts, with the trips that people chose, and what is carried by hand."""
    on_cart: list[Load] = []
    by_hand: list[Load] = []
    for load in loads:
        (on_cart if fits_alone(load, deck) else by_hand).append(load)
    driven = shipment.overrides.driven
    pins = {
        load.carton: shipment.overrides.trips[load.carton] - 1
        for load in on_cart
        if shipment.overrides.trips.get(load.carton, 0) > driven
    }
    return PackingProblem(tuple(on_cart), deck, pins, driven), by_hand


def _routes(shipment: Shipment, cartons: Iterable[Carton], floors: Floors) -> dict[str, Route]:
    if shipment.layout is None:
        return {}
    stops = {bay.bay: number for number, bay in enumerate(setting_order(shipment.layout))}
    waiting = {bay.bay: bool(shipment.blockers(bay.section)) for bay in shipment.layout.bays}
    routes = {}
    for carton in cartons:
        bay = floors.bay_of[carton.carton]
        routes[carton.carton] = Route(stops[bay.bay], waiting[bay.bay])
    return routes


def _cart_stops(trips: Iterable[Trip]) -> int:
    return sum(len(trip.stops) for trip in trips if not trip.by_hand)


def _trips(
    shipment: Shipment,
    solution: PackingSolution,
    begun: Mapping[int, tuple[Placement, ...]],
    by_hand: Sequence[Load],
    floors: Floors,
    deck: Deck,
    effort: Effort,
) -> tuple[Trip, ...]:
    """The trips, each load arranged for its stops."""
    trips = []
    stop_of, bays = _stop_numbers(shipment, floors)
    to_come = {number: placed for number, placed in enumerate(solution.trips, start=1) if placed}
    carts = {**to_come, **begun}
    for number, placed in sorted(carts.items()):
        unloading = order_for_unloading(placed, stop_of, deck, Effort(effort.left // len(carts), effort.cancelled))
        order = tuple(one.load.carton for one in sorted(unloading.placements, key=lambda one: one.load.open_first))
        grams = sum(one.load.weight_g for one in placed)
        spots = tuple(spot_of(one) for one in unloading.placements)
        stops = tuple(bays[stop] for stop in unloading.stops if stop in bays)
        walk_m, lifted = _walk_m(shipment, stops), unloading.lifted_off
        under_way = number in begun
        trips.append(Trip(number, order, grams / 1000, stops, False, 1, walk_m, spots, under_way, lifted))
    first = max(len(solution.trips), shipment.overrides.driven) + 1
    for number, load in enumerate(by_hand, start=first):
        stops = _stops((load.carton,), floors)
        kg, walk_m = load.weight_g / 1000, _walk_m(shipment, stops)
        trips.append(Trip(number, (load.carton,), kg, stops, by_hand=True, people=2, walk_m=walk_m))
    return tuple(trips)


def _stop_numbers(shipment: Shipment, floors: Floors) -> tuple[dict[str, int], dict[int, str]]:
    """The stop of each carton by number in setting order, and the bay of each number."""
    if shipment.layout is None:
        return {}, {}
    numbers = {bay.bay: number for number, bay in enumerate(setting_order(shipment.layout))}
    stop_of = {carton: numbers[bay.bay] for carton, bay in floors.bay_of.items()}
    return stop_of, {number: name for name, number in numbers.items()}


def _stops(cartons: Iterable[str], floors: Floors) -> tuple[str, ...]:
    bays = {floors.bay_of[carton] for carton in cartons if carton in floors.bay_of}
    return tuple(bay.bay for bay in sorted(bays, key=lambda bay: (bay.order, bay.bay)))


def _walk_m(shipment: Shipment, stops: Sequence[str]) -> float:
    """There and back, along the bays in setting order to the last stop."""
    if shipment.layout is None:
        return 0.0
    along_cm, last_cm = 0.0, 0.0
    for bay in setting_order(shipment.layout):
        if bay.bay in stops:
            last_cm = along_cm + bay.width_cm / 2
        along_cm += bay.width_cm
    return round(2 * (shipment.layout.walk_m + last_cm / 100), 1)


def _bays(shipment: Shipment, going: Sequence[Carton], floors: Floors) -> tuple[BayStaging, ...]:
    if shipment.layout is None:
        return ()
    bays = []
    for bay in setting_order(shipment.layout):
        cartons = sorted((c for c in going if floors.bay_of.get(c.carton) == bay), key=opening_key)
        if cartons:
            ids = tuple(carton.carton for carton in cartons)
            moved = tuple(carton for carton in ids if shipment.moved(carton))
            spots = floors.spots.get(bay.bay, ())
            aisle = aisle_before(bay, shipment.layout, spots)
            bays.append(BayStaging(bay.bay, ids, spots, moved, aisle, floors.dug.get(bay.bay, ())))
    return tuple(bays)


def _ranked(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """What can hurt first; else in the order in which they were found."""
    return tuple(sorted(cautions, key=lambda caution: caution.topic))


def _doubts(
    shipment: Shipment, going: Sequence[Carton], floors: Floors, solution: PackingSolution
) -> Iterator[Caution]:
    """What should be checked before the plan is trusted."""
    if shipment.layout is None:
        cart = ASSUMED_CART
        yield Caution(
            f"No layout: no bays; trips are planned for a cart that takes {cart.max_load_kg:g} kg on "
            f"{cart.deck_length_cm:g} × {cart.deck_width_cm:g} cm, stacked to {cart.stack_height_cm:g} cm. "
            "Read the cart's own plate first.",
            topic=Topic.WRONG_LAYOUT,
        )
    elif shipment.layout.store != shipment.manifest.store:
        yield Caution(
            f"The layout is of store {shipment.layout.store}, the shipment is for store {shipment.manifest.store}: "
            "check both before anything is carried.",
            topic=Topic.WRONG_LAYOUT,
        )
    for carton in going:
        if doubt := shipment.goes_to(carton).doubt:
            yield Caution(f"Carton {carton.carton}: {doubt}.", carton.carton)
    yield from _carried_over(floors)
    for name in floors.crowded:
        stands = floors.bay_of[name].bay
        yield Caution(
            f"No floor is left for carton {name} before bay {stands}: keep it out of the aisle.", name, Topic.AISLE
        )
    if shipment.layout is not None:
        for words in aisle_cautions(shipment.layout, floors.used(shipment.layout)):
            yield Caution(words, topic=Topic.AISLE)
    yield from _refused_wishes(shipment, solution)


def _carried_over(floors: Floors) -> Iterator[Caution]:
    """One caution for all cartons that went from one bay's floor to another's."""
    ways: dict[tuple[str, str], list[str]] = {}
    for name, bay in floors.carried_over.items():
        ways.setdefault((bay, floors.bay_of[name].bay), []).append(name)
    for (bay, stands), names in ways.items():
        who, verb, they = (f"Carton {names[0]}", "belongs", "it stands")
        if len(names) > 1:
            who, verb, they = (f"Cartons {', '.join(names)}", "belong", "they stand")
        text = f"{who} {verb} to bay {bay}, which has no floor left: {they} before {stands}."
        yield Caution(text, names[0] if len(names) == 1 else "", Topic.FLOOR)


def _refused_wishes(shipment: Shipment, solution: PackingSolution) -> Iterator[Caution]:
    """What a person asked for and the plan cannot keep."""
    for name in solution.released:
        trip = shipment.overrides.trips[name]
        yield Caution(
            f"Carton {name} does not fit on trip {trip} with what else was put there; it rides elsewhere.",
            name,
            Topic.WISH,
        )
    for number, placed in enumerate(solution.trips, start=1):
        for name in (one.load.carton for one in placed if one.load.carton not in solution.released):
            wished = shipment.overrides.trips.get(name, number)
            if wished != number:
                why = "was driven without it" if wished <= shipment.overrides.driven else "is not needed"
                yield Caution(
                    f"Carton {name} was put on trip {wished}, which {why}: it rides on trip {number}.", name, Topic.WISH
                )
    bays = {bay.bay for bay in shipment.layout.bays} if shipment.layout else set()
    for name, chosen in {**shipment.overrides.bays, **shipment.overrides.moved}.items():
        if shipment.layout is not None and chosen not in bays:
            yield Caution(f"Carton {name} was put at bay {chosen}, which the layout does not have.", name, Topic.WISH)
