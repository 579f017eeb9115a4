"""Stacks before the bays drawn again once the trips are known, so that what comes later is put on top.

Nothing should lie under a carton that came on an earlier trip, or that one must be lifted off again; and nothing under
one that is opened later, or it must be dug out. Of the ways in which the same cartons fit the same floor the one is
taken that handles the fewest twice. Common practice, no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from receiving.model import Layout, Spot
from receiving.staging.aisles import usable_depth_cm
from receiving.staging.destinations import setting_order
from receiving.staging.floor import Floors, dug_in, floor_deck, in_stacks
from receiving.staging.loads import Deck, Load


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
        best = min(ways, key=lambda way: len(lying_under_earlier(way, arrival)) + len(dug_in(way, opening)))
        spots[bay.bay] = tuple(best)
        for found, known in ((dug_in(best, opening), dug), (lying_under_earlier(best, arrival), restacked)):
            known.pop(bay.bay, None)
            if found:
                known[bay.bay] = found
    return replace(floors, spots=spots, dug=dug, restacked=restacked)


def lying_under_earlier(spots: Sequence[Spot], arrival: Mapping[str, int]) -> tuple[str, ...]:
    """The cartons that come after one that lies over them, in the order in which they come."""
    late = dug_in(spots, {carton: -trip for carton, trip in arrival.items()})
    return tuple(sorted(late, key=lambda carton: (arrival.get(carton, 0), carton)))


def _ways(
    loads: Sequence[Load], floor: Deck, opening: Mapping[str, int], arrival: Mapping[str, int]
) -> Iterator[Sequence[Spot]]:
    """Plain stacks that fit, in the order of arrival: without digging first, then with it."""
    for without_digging in (True, False):
        for by_size in (True, False):
            found = in_stacks(loads, floor, opening, without_digging=without_digging, by_size=by_size, arrival=arrival)
            if found is not None:
                yield found
