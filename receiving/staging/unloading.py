"""A cart load arranged so that it comes off as it is driven: the last stop first in, the first stop last.

The cartons of one trip are loaded again under the rule that nothing of a later stop lies over anything of an earlier
one, driving out along the bays or, at the same walk, back along them. Where no such load is found, the one with the
fewest cartons to lift off is taken, and they are named. Last in, first out is common practice of loading, no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from random import Random

from receiving.staging.loading import CartLoad, Effort, Placement, arrange, holds, lies_over
from receiving.staging.loads import Deck, Load
from receiving.staging.reloading import SEED, reload_carts

Leaving = dict[str, int]
"""The turn in which each carton leaves the cart."""


@dataclass(frozen=True)
class Unloading:
    """A trip's cartons in loading order, its stops in driving order, and what must be lifted off for others."""

    placements: tuple[Placement, ...]
    stops: tuple[int, ...]
    lifted_off: tuple[str, ...] = ()


def order_for_unloading(
    placements: Sequence[Placement], stop_of: Mapping[str, int], deck: Deck, effort: Effort
) -> Unloading:
    """The same cartons on the same cart, arranged for the stops that ``stop_of`` gives in setting order.

    Answers with the load as it is, and what is lifted off, where the effort finds nothing better.
    """
    loads = [one.load for one in placements]
    stops = tuple(sorted({stop_of.get(load.carton, 0) for load in loads}))
    ways = [stops] if len(stops) < 2 else [stops, stops[::-1]]
    best: Unloading | None = None
    for way in ways:
        lifted = lifted_off(placements, _leaving(loads, stop_of, way))
        if best is None or len(lifted) < len(best.lifted_off):
            best = Unloading(tuple(placements), way, lifted)
    assert best is not None
    for way, turns in _in_turn(loads, stop_of, ways):
        found = load_in_turn(loads, deck, turns, effort) if best.lifted_off and not effort.spent else None
        lifted = lifted_off(found, _leaving(loads, stop_of, way)) if found else best.lifted_off
        if found and len(lifted) < len(best.lifted_off):
            best = Unloading(found, way, lifted)
    if best.lifted_off:
        turns = _leaving(loads, stop_of, best.stops)
        found = swap_equals(best.placements, turns, deck, effort)
        best = Unloading(found, best.stops, lifted_off(found, turns))
    return best


def _leaving(loads: Sequence[Load], stop_of: Mapping[str, int], way: Sequence[int]) -> Leaving:
    return {load.carton: way.index(stop_of.get(load.carton, 0)) for load in loads}


def _in_turn(
    loads: Sequence[Load], stop_of: Mapping[str, int], ways: Sequence[tuple[int, ...]]
) -> Iterator[tuple[tuple[int, ...], Leaving]]:
    """Every way with all its stops apart; then with all stops of its first part, and of its second, as one."""
    for way in ways:
        yield way, _leaving(loads, stop_of, way)
    for way in ways:
        turns = _leaving(loads, stop_of, way)
        for cut in range(1, len(way)):
            yield way, {carton: int(turn >= cut) for carton, turn in turns.items()}


def load_in_turn(
    loads: Sequence[Load], deck: Deck, turns: Mapping[str, int], effort: Effort
) -> tuple[Placement, ...] | None:
    """All loads placed with nothing over what leaves before it, or None where the effort finds no such way."""
    found = arrange(loads, deck, effort, turns)
    if found is not None:
        return found
    part = Effort(effort.left // 4)
    before = part.left
    carts = reload_carts({0: CartLoad(deck, effort=part, leaving=turns)}, loads, {}, part, Random(SEED))  # nosec B311
    effort.left -= before - part.left
    return None if carts is None else tuple(carts[0].placements)


def swap_equals(
    placements: Sequence[Placement], turns: Mapping[str, int], deck: Deck, effort: Effort
) -> tuple[Placement, ...]:
    """The same places with cartons of equal size changed round, so that fewer lie over what leaves before them."""
    best, wrong = list(placements), _wrong(placements, turns)
    improved = True
    while improved and wrong and not effort.spent:
        improved = False
        for i, j in combinations(range(len(best)), 2):
            if _sides(best[i].load) != _sides(best[j].load):
                continue
            tried = list(best)
            tried[i], tried[j] = replace(best[i], load=best[j].load), replace(best[j], load=best[i].load)
            effort.left -= len(best) ** 2 // 2
            fewer = _wrong(tried, turns)
            if fewer < wrong and holds(tried, deck):
                best, wrong, improved = tried, fewer, True
            if effort.spent:
                break
    return tuple(best)


def _sides(load: Load) -> tuple[int, ...]:
    return (load.length_mm, load.width_mm, load.height_mm, load.rank)


def _wrong(placements: Sequence[Placement], turns: Mapping[str, int]) -> int:
    """How many pairs there are where the upper one leaves later."""
    return sum(
        lies_over(one, lower)
        for one in placements
        for lower in placements
        if turns.get(one.load.carton, 0) > turns.get(lower.load.carton, 0)
    )


def lifted_off(placements: Sequence[Placement], leaving: Mapping[str, int]) -> tuple[str, ...]:
    """The cartons that lie over one that leaves before them, in loading order."""
    return tuple(
        one.load.carton
        for one in placements
        if any(leaving[one.load.carton] > leaving[lower.load.carton] and lies_over(one, lower) for lower in placements)
    )
