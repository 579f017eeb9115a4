"""Carts loaded bay by bay: each load goes to the trips that its bay is dealt to, as far as they take it.

A deal puts the bays in a row and cuts the row into trips of equal share; a bay at a cut is on both trips. Loads are
placed in one of the usual loading orders, so that what carries is loaded before what is carried. A load that finds no
place on the trips of its bay goes to any other.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from random import Random

from receiving.staging.loading import CartLoad, Effort, Placement, share
from receiving.staging.loads import Deck, Load
from receiving.staging.reloading import SEED, reload_carts
from receiving.staging.stop_bounds import Parts
from receiving.staging.ways import LoadingOrder, Preference

FITTING_IN = 12
"""One part in this many of the effort is spent on the loads of a deal that found no place, before it is given up."""

TURNS = 6
"""Rows of bays that are tried for each part."""


Deal = dict[tuple[int, int], float]
"""What each trip should take of each bay, by (bay, trip), in shares of a cart."""


def deals(parts: Parts, shares: Mapping[int, float], trips: Sequence[int], first: frozenset[int]) -> Iterator[Deal]:
    """Ways to deal bays to trips, those of the parts in setting order first; the part with ``first`` has trip one."""
    everything = (frozenset().union(*(bays for bays, _ in parts.parts)), len(trips))
    divided = sorted(parts.parts, key=lambda part: (not part[0] & first, min(part[0])))
    for turn, ordered in product(range(TURNS), (divided, [everything])):
        deal: Deal = {}
        at = 0
        for bays, count in ordered:
            row = _turned(sorted(bays, key=lambda bay: (bay not in first, bay)), turn)
            for bay, place, part in _cut(row, shares, count):
                deal[bay, trips[at + place]] = part
            at += count
        yield deal


def _turned(row: list[int], turn: int) -> list[int]:
    """The row of bays, every other time from its end, begun elsewhere each time."""
    at = turn // 2 % len(row)
    turned = row[at:] + row[:at]
    return turned[::-1] if turn % 2 else turned


def _cut(row: Sequence[int], shares: Mapping[int, float], trips: int) -> Iterator[tuple[int, int, float]]:
    """Bay, trip and share where the row is cut into trips of equal share."""
    each = sum(shares[bay] for bay in row) / trips
    done = 0.0
    for bay in row:
        begins, ends = done, done + shares[bay]
        for trip in range(trips):
            part = min(ends, (trip + 1) * each) - max(begins, trip * each)
            if part > 1e-9:
                yield bay, trip, part
        done = ends


def load_by_bay(
    loads: Sequence[Load],
    bays: Mapping[str, int],
    bound: Mapping[str, int],
    deal: Mapping[tuple[int, int], float],
    deck: Deck,
    way: tuple[Preference, LoadingOrder],
    effort: Effort,
) -> dict[int, tuple[Placement, ...]] | None:
    """The trips of a deal loaded, or None where a load finds no place on any; ``bound`` loads go to their trip.

    Loads that find none at first are fitted in by loading parts of the carts again.
    """
    preference, order = way
    left = dict(deal)
    carts = {trip: CartLoad(deck, preference, effort) for trip in {*(trip for _, trip in deal), *bound.values()}}
    waiting = [load for load in loads if load.carton in bound]
    homeless: list[Load] = []

    def room_on(trip: int) -> Deck:
        return _room(deck, [load for load in waiting if bound[load.carton] == trip])

    for load in sorted(loads, key=order):
        bay = bays[load.carton]
        if load.carton in bound:
            waiting.remove(load)
            wanted = [bound[load.carton]]
        else:
            dealt = _trips_of(bay, left)
            wanted = dealt + [trip for trip in carts if trip not in dealt]
        taken = _load_first(carts, wanted, load, room_on)
        if taken is None:
            homeless.append(load)
        elif (bay, taken) in left:
            left[bay, taken] -= share(load, deck)
        if effort.spent:
            return None
    for cart in carts.values():
        cart.deck = deck
    if homeless:
        part = Effort(effort.left // FITTING_IN)
        before = part.left
        fitted = reload_carts(carts, homeless, bound, part, Random(SEED))  # nosec B311
        effort.left -= before - part.left
        if fitted is None:
            return None
        carts = fitted
    return {trip: tuple(cart.placements) for trip, cart in carts.items()}


def _load_first(
    carts: Mapping[int, CartLoad], wanted: Iterable[int], load: Load, room_on: Callable[[int], Deck]
) -> int | None:
    """Load it on the first of the wanted trips that has a place for it, which is given; None where none has."""
    for trip in wanted:
        carts[trip].deck = room_on(trip)
        placed = carts[trip].place_for(load)
        if placed is not None:
            carts[trip].add(placed)
            return trip
    return None


def _trips_of(bay: int, left: Mapping[tuple[int, int], float]) -> list[int]:
    """The trips that the bay is dealt to, the one that should still take most of it first."""
    own = [(-share, trip) for (of, trip), share in left.items() if of == bay]
    return [trip for _, trip in sorted(own)]


def _room(deck: Deck, waiting: Sequence[Load]) -> Deck:
    """The deck less what is kept for loads that are bound to it: their weight, and height for what lies on top."""
    if not waiting:
        return deck
    kept_mm = max((load.height_mm for load in waiting if load.open_first), default=0)
    return replace(deck, max_g=deck.max_g - sum(load.weight_g for load in waiting), height_mm=deck.height_mm - kept_mm)
