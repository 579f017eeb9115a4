"""Cartons in waves: brought, set and cleared, then the next; in each wave the fewest trips, and few stops.

A wave is what the floors before the bays take at once. What finds no floor is brought when the cartons of the wave
before it are set and their floor is clear. Common practice, no source.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from receiving.model import Carton, Trip
from receiving.staging.arrival import stacked_by_arrival
from receiving.staging.bounds import at_least_trips
from receiving.staging.destinations import setting_order
from receiving.staging.floor import Floors, spot_of
from receiving.staging.loading import Effort, Placement
from receiving.staging.loads import Deck, Load
from receiving.staging.shipment import Shipment
from receiving.staging.stops import fewer_stops
from receiving.staging.trips import COMPARISONS_PER_S, Route
from receiving.staging.unloading import order_for_unloading
from receiving.staging.wave_packing import Wave, packed_waves
from receiving.staging.work_order import opening_key


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
    snapshot, riding = cartons
    on_the_way = {one.load.carton for placed in begun.values() for one in placed}
    waiting = [carton.carton for carton in riding if carton.carton not in on_the_way]
    packed = packed_waves(shipment, floors, snapshot, waiting, loads, deck, search.time_limit_s)
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
    snapshot = [carton for carton in shipment.manifest if carton.carton in floors.bay_of]
    opening = {carton.carton: turn for turn, carton in enumerate(sorted(snapshot, key=opening_key))}
    arrival = {carton: trip.trip for trip in trips for carton in trip.cartons}
    return stacked_by_arrival(floors, shipment.layout, loads, opening, arrival)


def trips_at_least(waves: Sequence[Wave], deck: Deck) -> int:
    """The cart trips that no plan goes below, in however many waves; without those that were begun."""
    if len(waves) == 1:
        return waves[0].solution.at_least
    pinned = {trip for wave in waves for trip in wave.problem.bound.values()}
    return max(len(pinned), at_least_trips([load for wave in waves for load in wave.problem.loads], deck))


def stops_at_least(waves: Sequence[Wave], deck: Deck) -> int:
    """The stops that no plan of as many trips goes below; of several waves: what each bay's cartons need."""
    if len(waves) == 1:
        return waves[0].stops_at_least
    by_bay: dict[str, list[Load]] = {}
    for wave in waves:
        for load in wave.problem.loads:
            if load.carton in wave.floors.bay_of:
                by_bay.setdefault(wave.floors.bay_of[load.carton].bay, []).append(load)
    return sum(at_least_trips(own, deck) for own in by_bay.values())


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
