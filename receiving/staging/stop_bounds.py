"""How few stops the cart trips of a plan could make: a bound that no plan of as many trips goes below.

Draw a line between each trip and each bay that it stops at. The trips and bays of one connected part carry the loads
of those bays and no others, so a part needs at least the trips that its loads need, and, being connected, at least
trips + bays - 1 stops (a tree has one edge less than it has vertices). Each bay is stopped at by as many trips as its
own loads need. The best division of the bays into parts is found by dynamic programming over sets of bays; bays that
are bound to one trip belong to one part.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from receiving.staging.bounds import bound_trips
from receiving.staging.loading import deck_mm3, volume_mm3
from receiving.staging.loads import Deck, Load

MOST_KNOTS = 8
"""With more bays than this the divisions are too many (3^8 for each number of trips); what each bay needs is summed."""

IMPOSSIBLE = 1 << 30

Division = tuple[tuple[frozenset[int], int], ...]
"""Sets of bays, each with the number of its trips."""


@dataclass(frozen=True)
class Parts:
    """No plan has fewer stops than ``at_least``; ``parts`` would reach that: sets of bays, each with its trips."""

    at_least: int
    parts: Division


def fewest_stops(
    loads: Sequence[Load], stops: Mapping[str, int], bound: Mapping[str, int], deck: Deck, trips: int
) -> Parts:
    """The least stops of ``trips`` cart trips that take these loads, each to its stop, some ``bound`` to a trip."""
    bays = _by_bay(loads, stops)
    whole = ((frozenset(bays), trips),)
    if not bays or not trips:
        return Parts(0, ())
    each = {bay: bound_trips(own, deck) for bay, own in bays.items()}
    least = max(trips, sum(each.values()))
    knots = _tied(bays, loads, stops, bound)
    if len(knots) > MOST_KNOTS:
        return Parts(least, whole)
    fewest, parts = _divided(knots, bays, each, deck, trips)
    return Parts(max(least, fewest), tuple(parts)) if parts else Parts(least, whole)


def _by_bay(loads: Iterable[Load], stops: Mapping[str, int]) -> dict[int, list[Load]]:
    bays: dict[int, list[Load]] = {}
    for load in loads:
        bays.setdefault(stops[load.carton], []).append(load)
    return bays


def _tied(
    bays: Iterable[int], loads: Iterable[Load], stops: Mapping[str, int], bound: Mapping[str, int]
) -> list[frozenset[int]]:
    """The bays in knots: those with loads bound to one trip are in one knot."""
    knots = [frozenset([bay]) for bay in bays]
    on_trip: dict[int, set[int]] = {}
    for load in loads:
        if load.carton in bound:
            on_trip.setdefault(bound[load.carton], set()).add(stops[load.carton])
    for together in on_trip.values():
        touched = [knot for knot in knots if knot & together]
        knots = [knot for knot in knots if not knot & together] + [frozenset().union(*touched)]
    return knots


def _divided(
    knots: Sequence[frozenset[int]], bays: Mapping[int, Sequence[Load]], each: Mapping[int, int], deck: Deck, trips: int
) -> tuple[int, Division]:
    """The fewest stops over all divisions of the knots into parts, and of those divisions the one with most room."""

    @cache
    def bays_in(members: int) -> frozenset[int]:
        return frozenset().union(*(knot for at, knot in enumerate(knots) if members >> at & 1))

    @cache
    def needs(members: int) -> int:
        return bound_trips([load for bay in bays_in(members) for load in bays[bay]], deck)

    @cache
    def fill(members: int) -> float:
        own = [load for bay in bays_in(members) for load in bays[bay]]
        return max(sum(load.weight_g for load in own) / deck.max_g, sum(map(volume_mm3, own)) / deck_mm3(deck))

    @cache
    def fewest(left: int, free: int) -> tuple[int, float, Division]:
        """Stops for the knots that are left on exactly this many trips, and how full the fullest part is."""
        if not left:
            return (0 if not free else IMPOSSIBLE), 0.0, ()
        # The lowest knot that is left goes into the next part, so that each division is met in one order only.
        first = left & -left
        best: tuple[int, float, Division] = (IMPOSSIBLE, 0.0, ())
        for members in _with(first, left ^ first):
            inside = bays_in(members)
            singly = sum(each[bay] for bay in inside)
            for used in range(max(1, needs(members)), free + 1):
                rest, fullest, parts = fewest(left ^ members, free - used)
                found = (max(used + len(inside) - 1, singly) + rest, max(fill(members) / used, fullest))
                if found < best[:2]:
                    best = (*found, ((inside, used), *parts))
        return best

    count, _, parts = fewest((1 << len(knots)) - 1, trips)
    return count, parts


def _with(first: int, others: int) -> Iterator[int]:
    """``first`` joined with each subset of ``others``, as bits."""
    chosen = others
    while chosen:
        yield chosen | first
        chosen = (chosen - 1) & others
    yield first
