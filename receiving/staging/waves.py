"""Cartons in waves: brought, set and cleared, then the next; in each wave the fewest trips, and few stops.

A wave is what the floors before the bays take at once. What finds no floor is brought when the cartons of the wave
before it are set and their floor is clear. Common practice, no source.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from receiving.model import Carton, CartonKind, Layout, Spot, Trip
from receiving.staging.aisles import usable_depth_cm
from receiving.staging.bounds import bound_trips
from receiving.staging.destinations import setting_order
from receiving.staging.floor import Floors, dug_from_spots, floor_deck, spot_of, stand_in_stacks, stand_on_floors
from receiving.staging.loading import Effort, Placement
from receiving.staging.loads import Deck, Load
from receiving.staging.shipment import BLOCKING, Shipment
from receiving.staging.stops import fewer_stops
from receiving.staging.trips import (
    COMPARISONS_PER_S,
    PackingProblem,
    PackingSolution,
    Route,
    are_fewest,
    fits_alone,
    solve_packing,
)
from receiving.staging.unloading import order_for_unloading
from receiving.staging.work_order import opening_key

# What rides in which wave: each wave packed into the fewest trips, then whole trips put off where that saves one.
#
# A wave is what the floors before the bays take at once. What finds no floor rides in a later one, often on a cart that
# is nearly empty. So the cartons of two waves are packed together once more; where that takes fewer trips, what rides
# along with those of the later wave waits for it too. Common practice, no source.


PACKING, SHARING = 0.8, 0.3
"""Parts of the search that are spent on packing in all, and on that of two waves at once; the rest is for stops."""

PROVING = 0.8
"""As much as the packing of a single wave takes, once more: for the proof that all waves have the fewest trips."""


@dataclass(frozen=True)
class Wave:
    """One wave: its floors, what rides and on which trips, and the first trip that it may use (0-based)."""

    number: int
    floors: Floors
    first_free: int
    problem: PackingProblem
    solution: PackingSolution
    by_hand: tuple[Load, ...]
    stops_at_least: int = 0
    trips: tuple[Trip, ...] = ()

    @property
    def next_free(self) -> int:
        """The first trip that the wave after it may use."""
        return max(self.first_free, len(self.solution.trips)) + len(self.by_hand)


def packed_waves(
    shipment: Shipment,
    floors: Sequence[Floors],
    on_floor: Sequence[Carton],
    riding: Collection[str],
    loads: Mapping[str, Load],
    deck: Deck,
    time_limit_s: float,
) -> list[Wave]:
    """The waves with their trips; ``standing`` cartons are all on the floors, ``riding`` those still to be brought."""
    share = PACKING if len(floors) == 1 else PACKING - SHARING
    waves: list[Wave] = []
    first_free = shipment.overrides.driven
    for own in floors:
        names = [name for name in riding if shipment.layout is None or name in own.bay_of]
        if waves and not names:
            continue
        problem, by_hand = _problem(shipment, [loads[name] for name in names], deck, first_free)
        part = share * time_limit_s * len(names) / max(1, len(riding))
        solution = solve_packing(problem, time_limit_s=part)
        waves.append(Wave(len(waves) + 1, own, first_free, problem, solution, by_hand))
        first_free = waves[-1].next_free
    part = SHARING * time_limit_s / max(1, len(waves) - 1)
    for number in range(len(waves) - 1):
        both = _with_fewer_trips(shipment, waves[number], waves[number + 1], on_floor, loads, part)
        if both and not any(wave.problem.bound for wave in waves[number + 1 :]):
            waves[number : number + 2] = both
            waves[number + 1 :] = _numbered_on(waves[number].next_free, waves[number + 1 :])
    return waves


def _problem(
    shipment: Shipment, loads: Sequence[Load], deck: Deck, first_free: int
) -> tuple[PackingProblem, tuple[Load, ...]]:
    """What rides on carts, with the trips that people chose, and what is carried by hand."""
    on_cart = tuple(load for load in loads if fits_alone(load, deck))
    by_hand = tuple(load for load in loads if not fits_alone(load, deck))
    pins = {
        load.carton: shipment.overrides.trips[load.carton] - 1
        for load in on_cart
        if shipment.overrides.trips.get(load.carton, 0) > first_free
    }
    return PackingProblem(on_cart, deck, pins, first_free), by_hand


def _with_fewer_trips(
    shipment: Shipment,
    now: Wave,
    later: Wave,
    on_floor: Sequence[Carton],
    loads: Mapping[str, Load],
    time_limit_s: float,
) -> tuple[Wave, Wave] | None:
    """Both waves with what rides along with the later one's cartons put off, in fewer trips; None where none is found.

    The cartons are packed freely first, then with those of the later wave bound to the last trips and with what begins
    the work bound to the first.
    """
    both = replace(now.problem, loads=(*now.problem.loads, *later.problem.loads))
    driven = [placed for placed in later.solution.trips if placed]
    first = now.first_free + now.solution.driven - 1
    last = {one.load.carton: first + at for at, placed in enumerate(driven) for one in placed}
    if not last or now.solution.driven < 2:
        return None
    begins = _begins_the_work(now, on_floor)
    ends = {**dict.fromkeys(begins - last.keys(), now.first_free), **both.bound, **last}
    for problem in (both, replace(both, bound=ends)):
        found = solve_packing(problem, time_limit_s=time_limit_s / 2)
        fewer = not found.released and found.driven < now.solution.driven + len(driven)
        if fewer and (waves := _divided(shipment, now, later, found, begins, on_floor, loads)):
            return waves
    return None


def _divided(
    shipment: Shipment,
    now: Wave,
    later: Wave,
    found: PackingSolution,
    begins: frozenset[str],
    on_floor: Sequence[Carton],
    loads: Mapping[str, Load],
) -> tuple[Wave, Wave] | None:
    """The trips with something of the later wave to the later one, where its floor takes them and all can wait.

    What ``begins`` the work, and what people put on a trip of the earlier wave, cannot.
    """
    late = {load.carton for load in later.problem.loads}
    carts: tuple[list[Cart], list[Cart]] = ([], [])
    for placed in filter(None, found.trips):
        carts[any(one.load.carton in late for one in placed)].append(placed)
    put_off = {one.load.carton for placed in carts[1] for one in placed} - late
    names = (now.floors.bay_of.keys() - put_off, later.floors.bay_of.keys() | put_off)
    if put_off & (begins | now.problem.bound.keys()) or not carts[0]:
        return None
    floors = [stand_on_floors(shipment, [c for c in on_floor if c.carton in own], loads) for own in names]
    if any(own.held for own in floors):
        return None
    return _packed_so(now, floors[0], carts[0]), _packed_so(later, floors[1], carts[1])


def _begins_the_work(wave: Wave, on_floor: Sequence[Carton]) -> frozenset[str]:
    """What is opened first, and what work on a section begins with: its instructions, tags and parts."""
    riding = {load.carton for load in wave.problem.loads}
    return frozenset(
        carton.carton
        for carton in on_floor
        if carton.carton in riding and (carton.open_first or (carton.kind in BEGINNING and not carton.addresses))
    )


BEGINNING = BLOCKING | {CartonKind.TAGS}
"""Kinds that a whole section needs from the start (common practice, no source)."""

Cart = tuple[Placement, ...]
"""What rides on one trip, as it stands."""


def _packed_so(wave: Wave, floors: Floors, carts: Sequence[Cart]) -> Wave:
    """The wave with these carts."""
    loads = tuple(one.load for placed in carts for one in placed)
    trips = (*((),) * wave.first_free, *carts)
    solution = replace(wave.solution, trips=trips, at_least=min(wave.solution.at_least, len(carts)))
    return replace(wave, floors=floors, problem=replace(wave.problem, loads=loads), solution=solution)


def _numbered_on(first_free: int, waves: Sequence[Wave]) -> list[Wave]:
    """The waves with trips that count on from here; nothing of them is bound to a trip by its number."""
    found: list[Wave] = []
    for wave in waves:
        trips = (*((),) * first_free, *(placed for placed in wave.solution.trips if placed))
        problem, solution = replace(wave.problem, first_free=first_free), replace(wave.solution, trips=trips)
        found.append(replace(wave, first_free=first_free, problem=problem, solution=solution))
        first_free = found[-1].next_free
    return found


@dataclass(frozen=True)
class Search:
    """How much may be searched: seconds on a small machine, in steps."""

    time_limit_s: float

    def part(self, share: float) -> Effort:
        """This part of it."""
        return Effort(int(share * self.time_limit_s * COMPARISONS_PER_S))


def plan_waves(
    shipment: Shipment,
    floors: Sequence[Floors],
    cartons: tuple[Sequence[Carton], Sequence[Carton]],
    loads: Mapping[str, Load],
    begun: Mapping[int, tuple[Placement, ...]],
    deck: Deck,
    search: Search,
) -> tuple[Wave, ...]:
    """The trips of each wave; ``begun`` trips are listed with the first.

    ``cartons`` are all that stand on the floors, and those of them that are not at a bay yet.
    """
    on_floor, riding = cartons
    on_the_way = {one.load.carton for placed in begun.values() for one in placed}
    waiting = [carton.carton for carton in riding if carton.carton not in on_the_way]
    packed = packed_waves(shipment, floors, on_floor, waiting, loads, deck, search.time_limit_s)
    whole = [wave.floors for wave in packed]
    waves: list[Wave] = []
    for wave in packed:
        part = replace(search, time_limit_s=search.time_limit_s * len(wave.problem.loads) / max(1, len(waiting)))
        routes = _routes(shipment, (*wave.problem.loads, *wave.by_hand), wave.floors)
        solution, at_least = fewer_stops(wave.solution, wave.problem, routes, part.part(STOPPING))
        planned = replace(wave, solution=solution, stops_at_least=at_least)
        trips = _trips(shipment, planned, begun if wave.number == 1 else {}, whole, deck, part.part(UNLOADING))
        waves.append(replace(planned, trips=trips, floors=_by_arrival(shipment, wave.floors, trips, loads)))
    return tuple(waves)


STOPPING, UNLOADING = 0.15, 0.05
"""Parts of the search that are spent on fewer stops, and on loads that come off as they are driven."""


def _by_arrival(shipment: Shipment, floors: Floors, trips: Iterable[Trip], loads: Mapping[str, Load]) -> Floors:
    if shipment.layout is None:
        return floors
    on_floor = [carton for carton in shipment.manifest if carton.carton in floors.bay_of]
    opening = {carton.carton: turn for turn, carton in enumerate(sorted(on_floor, key=opening_key))}
    arrival = {carton: trip.trip for trip in trips for carton in trip.cartons}
    return stacked_by_arrival(floors, shipment.layout, loads, opening, arrival)


def trips_at_least(waves: Sequence[Wave], deck: Deck, search: Search) -> int:
    """The cart trips that no plan goes below, in however many waves; without those that were begun."""
    if len(waves) == 1:
        return waves[0].solution.at_least
    pinned = {trip for wave in waves for trip in wave.problem.bound.values()}
    loads = [load for wave in waves for load in wave.problem.loads]
    at_least, planned = max(len(pinned), bound_trips(loads, deck)), sum(wave.solution.driven for wave in waves)
    if at_least < planned and are_fewest(loads, deck, planned, PROVING * search.time_limit_s):
        return planned
    return at_least


def stops_at_least(waves: Sequence[Wave], deck: Deck) -> int:
    """The stops that no plan of as many trips goes below; of several waves: what each bay's cartons need."""
    if len(waves) == 1:
        return waves[0].stops_at_least
    by_bay: dict[str, list[Load]] = {}
    for wave in waves:
        for load in wave.problem.loads:
            if load.carton in wave.floors.bay_of:
                by_bay.setdefault(wave.floors.bay_of[load.carton].bay, []).append(load)
    return sum(bound_trips(own, deck) for own in by_bay.values())


def _routes(shipment: Shipment, loads: Iterable[Load], floors: Floors) -> dict[str, Route]:
    if shipment.layout is None:
        return {}
    stops = {bay.bay: number for number, bay in enumerate(setting_order(shipment.layout))}
    waiting = {bay.bay: bool(shipment.blockers(bay.section)) for bay in shipment.layout.bays}
    routes = {}
    for load in loads:
        bay = floors.bay_of[load.carton]
        routes[load.carton] = Route(stops[bay.bay], waiting[bay.bay])
    return routes


def _trips(
    shipment: Shipment,
    wave: Wave,
    begun: Mapping[int, tuple[Placement, ...]],
    floors: Sequence[Floors],
    deck: Deck,
    effort: Effort,
) -> tuple[Trip, ...]:
    """The trips, each load arranged for its stops."""
    trips = []
    stop_of, bays = _stop_numbers(shipment, floors)
    to_come = {number: placed for number, placed in enumerate(wave.solution.trips, start=1) if placed}
    carts = {**to_come, **begun}
    for number, placed in sorted(carts.items()):
        unloading = order_for_unloading(placed, stop_of, deck, Effort(effort.left // len(carts)))
        order = tuple(one.load.carton for one in sorted(unloading.placements, key=lambda one: one.load.open_first))
        grams = sum(one.load.weight_g for one in placed)
        spots = tuple(spot_of(one) for one in unloading.placements)
        stops = tuple(bays[stop] for stop in unloading.stops if stop in bays)
        walk_m, lifted = _walk_m(shipment, stops), unloading.lifted_off
        under_way = number in begun
        trips.append(Trip(number, order, grams / 1000, stops, False, 1, walk_m, spots, under_way, lifted, wave.number))
    first = max(len(wave.solution.trips), wave.first_free) + 1
    for number, load in enumerate(wave.by_hand, start=first):
        stops = _stops((load.carton,), wave.floors)
        kg, walk_m = load.weight_g / 1000, _walk_m(shipment, stops)
        trips.append(Trip(number, (load.carton,), kg, stops, by_hand=True, people=2, walk_m=walk_m, wave=wave.number))
    return tuple(trips)


def _stop_numbers(shipment: Shipment, floors: Sequence[Floors]) -> tuple[dict[str, int], dict[int, str]]:
    """The stop of each carton by number in setting order, and the bay of each number."""
    if shipment.layout is None:
        return {}, {}
    numbers = {bay.bay: number for number, bay in enumerate(setting_order(shipment.layout))}
    stop_of = {carton: numbers[bay.bay] for own in floors for carton, bay in own.bay_of.items()}
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


# Stacks before the bays drawn again once the trips are known, so that what comes later is put on top.
#
# Nothing should lie under a carton that came on an earlier trip, or that one must be lifted off again; and nothing
# under one that is opened later, or it must be dug out. Of the ways in which the same cartons fit the same floor the
# one is taken that handles the fewest twice. Common practice, no source.


def stacked_by_arrival(
    floors: Floors,
    layout: Layout,
    loads: Mapping[str, Load],
    opening: Mapping[str, int],
    arrival: Mapping[str, int],
) -> Floors:
    """The same cartons before the same bays; ``arrival`` gives each one's trip, 0 where it is at its bay already."""
    spots, dug, restacked = dict(floors.spots), dict(floors.dug), dict(floors.restacked)
    for bay in setting_order(layout):
        now = floors.spots.get(bay.bay, ())
        names = [name for spot in now for name in spot.cartons]
        if not names:
            continue
        ways: list[Sequence[Spot]] = [now]
        if lying_under_earlier(now, arrival):
            own = [loads[name] for name in names]
            ways += _ways(own, floor_deck(bay, usable_depth_cm(bay, layout)), opening, arrival)
        best = min(ways, key=lambda way: len(lying_under_earlier(way, arrival)) + len(dug_from_spots(way, opening)))
        spots[bay.bay] = tuple(best)
        for found, known in ((dug_from_spots(best, opening), dug), (lying_under_earlier(best, arrival), restacked)):
            known.pop(bay.bay, None)
            if found:
                known[bay.bay] = found
    return replace(floors, spots=spots, dug=dug, restacked=restacked)


def lying_under_earlier(spots: Sequence[Spot], arrival: Mapping[str, int]) -> tuple[str, ...]:
    """The cartons that come after one that lies over them, in the order in which they come."""
    late = dug_from_spots(spots, {carton: -trip for carton, trip in arrival.items()})
    return tuple(sorted(late, key=lambda carton: (arrival.get(carton, 0), carton)))


def _ways(
    loads: Sequence[Load], floor: Deck, opening: Mapping[str, int], arrival: Mapping[str, int]
) -> Iterator[Sequence[Spot]]:
    """Plain stacks that fit, in the order of arrival: without digging first, then with it."""
    for without_digging in (True, False):
        for by_size in (True, False):
            found = stand_in_stacks(
                loads, floor, opening, without_digging=without_digging, by_size=by_size, arrival=arrival
            )
            if found is not None:
                yield found
