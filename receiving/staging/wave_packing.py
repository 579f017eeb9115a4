"""What rides in which wave: each wave packed into the fewest trips, then whole trips put off where that saves one.

A wave is what the floors before the bays take at once. What finds no floor rides in a later one, often on a cart that
is nearly empty. So the cartons of two waves are packed together once more; where that takes fewer trips, what rides
along with those of the later wave waits for it too. Common practice, no source.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from receiving.model import Carton, CartonKind, Trip
from receiving.staging.floor import Floors, stand_on_floors
from receiving.staging.loading import Placement
from receiving.staging.loads import Deck, Load
from receiving.staging.shipment import BLOCKING, Shipment
from receiving.staging.trips import PackingProblem, PackingSolution, fits_alone, solve_packing

PACKING, SHARING = 0.8, 0.3
"""Parts of the search that are spent on packing in all, and on that of two waves at once; the rest is for stops."""


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
    snapshot: Sequence[Carton],
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
        both = _with_fewer_trips(shipment, waves[number], waves[number + 1], snapshot, loads, part)
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
    snapshot: Sequence[Carton],
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
    begins = _begins_the_work(now, snapshot)
    ends = {**dict.fromkeys(begins - last.keys(), now.first_free), **both.bound, **last}
    for problem in (both, replace(both, bound=ends)):
        found = solve_packing(problem, time_limit_s=time_limit_s / 2)
        fewer = not found.released and found.driven < now.solution.driven + len(driven)
        if fewer and (waves := _divided(shipment, now, later, found, begins, snapshot, loads)):
            return waves
    return None


def _divided(
    shipment: Shipment,
    now: Wave,
    later: Wave,
    found: PackingSolution,
    begins: frozenset[str],
    snapshot: Sequence[Carton],
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
    floors = [stand_on_floors(shipment, [c for c in snapshot if c.carton in own], loads) for own in names]
    if any(own.held for own in floors):
        return None
    return _packed_so(now, floors[0], carts[0]), _packed_so(later, floors[1], carts[1])


def _begins_the_work(wave: Wave, snapshot: Sequence[Carton]) -> frozenset[str]:
    """What is opened first, and what work on a section begins with: its instructions, tags and parts."""
    riding = {load.carton for load in wave.problem.loads}
    return frozenset(
        carton.carton
        for carton in snapshot
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
