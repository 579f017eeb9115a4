"""Stacks of cartons on the floor in front of a bay.

The rules are common practice of stacking, no source, but for the first: what stands in tiers is limited in height so
that it is stable (29 CFR 1910.176(b), from memory; it states no figure, the figures are in `floor`).
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, islice, product

from receiving.staging.loads import FRAGILE_BEARS_G, Deck, Load, may_carry

Stack = list[Load]
"""Bottom first."""


def may_rest_on(upper: Load, lower: Load) -> bool:
    """True when ``upper`` may lie on ``lower``: no wider, carried by it, and open-first over the rest."""
    return (
        upper.length_mm <= lower.length_mm
        and upper.width_mm <= lower.width_mm
        and may_carry(lower, upper)
        and upper.open_first >= lower.open_first
    )


def stack_up(
    loads: Sequence[Load],
    floor: Deck,
    opening: Mapping[str, int],
    *,
    without_digging: bool = True,
    arrival: Mapping[str, int],
) -> list[Stack]:
    """Stacks no higher than the floor allows: each load on the tightest top that may carry it, else on a new stack.

    ``opening`` gives the turn in which each carton is opened; ``without_digging``: no carton lies on one that is opened
    before it. ``arrival`` gives the trip that brings it: nothing lies on what comes later.
    """
    stacks: list[Stack] = []
    heights: list[int] = []
    for load in loads:
        limit = min(floor.height_mm, floor.fragile_mm) if load.fragile else floor.height_mm
        best = None
        for number, stack in enumerate(stacks):
            top = stack[-1]
            if heights[number] + load.height_mm > limit or not _may_join(load, stack):
                continue
            if without_digging and opening.get(top.carton, 0) < opening.get(load.carton, 0):
                continue
            if arrival.get(top.carton, 0) > arrival.get(load.carton, 0):
                continue
            slack = (top.length_mm * top.width_mm, -heights[number])
            if best is None or slack < best[0]:
                best = (slack, number)
        if best is None:
            stacks.append([load])
            heights.append(load.height_mm)
        else:
            stacks[best[1]].append(load)
            heights[best[1]] += load.height_mm
    return stacks


def _may_join(load: Load, stack: Stack) -> bool:
    fragile = [lower for lower in stack if lower.fragile]
    borne = sum(lower.weight_g for lower in fragile[1:]) + load.weight_g
    return may_rest_on(load, stack[-1]) and (not fragile or borne <= FRAGILE_BEARS_G)


def dug_cartons(stacks: Sequence[Sequence[str]], opening: Mapping[str, int]) -> tuple[str, ...]:
    """The cartons that lie under one that is opened after them, in opening order; stacks bottom first."""
    dug = [
        lower
        for stack in stacks
        for at, lower in enumerate(stack)
        if any(opening.get(upper, 0) > opening.get(lower, 0) for upper in stack[at + 1 :])
    ]
    return tuple(sorted(dug, key=lambda carton: opening.get(carton, 0)))


def handle_less(
    stacks: Sequence[Stack], floor: Deck, opening: Mapping[str, int], arrival: Mapping[str, int]
) -> list[Stack]:
    """The same stacks with cartons changed round, so that fewer are dug out or put under one of an earlier trip.

    A local search: two cartons change places, or one goes into another stack, where every rule of stacking still holds
    and each stack keeps its base.
    """
    best = [list(stack) for stack in stacks]
    wrong = [_wrong_pairs(stack, opening, arrival) for stack in best]
    tries, improved = CHANGES, True
    while improved:  # without a try that is left no change is made
        improved = False
        for change in islice(_changes(best, wrong), tries):
            tries -= 1
            now = {number: _wrong_pairs(stack, opening, arrival) for number, stack in change.items()}
            less = _sum(now.values()) < _sum(wrong[number] for number in change)
            if less and all(_keeps_rules(stack, best[number], floor) for number, stack in change.items()):
                improved = True
                for number, stack in change.items():
                    best[number], wrong[number] = stack, now[number]
                break
    return best


CHANGES = 2_000
"""Most changes that are tried for one floor: ten rounds of a dozen cartons, about 20 ms."""

Wrong = tuple[int, int]
"""The cartons of a stack that are handled twice, and the pairs because of which they are."""


def _changes(stacks: Sequence[Stack], wrong: Sequence[Wrong]) -> Iterator[dict[int, Stack]]:
    """Every two cartons changed round; then every one that lies on another put anywhere into another stack.

    Where nothing is wrong in either stack nothing can get better.
    """
    places = [(number, at) for number, stack in enumerate(stacks) for at in range(len(stack))]
    for (a, i), (b, j) in combinations(places, 2):
        if any(wrong[a]) or any(wrong[b]):
            change = {a: list(stacks[a]), b: list(stacks[b])}
            change[a][i], change[b][j] = stacks[b][j], stacks[a][i]
            yield change
    for (a, i), (b, j) in product(places, repeat=2):
        if i and a != b and (any(wrong[a]) or any(wrong[b])):
            one, other = list(stacks[a]), list(stacks[b])
            other.insert(j + 1, one.pop(i))
            yield {a: one, b: other}


def _keeps_rules(stack: Stack, before: Stack, floor: Deck) -> bool:
    return (stack[0].length_mm, stack[0].width_mm) == (before[0].length_mm, before[0].width_mm) and _may_stand(
        stack, floor
    )


def _wrong_pairs(stack: Stack, opening: Mapping[str, int], arrival: Mapping[str, int]) -> Wrong:
    cartons = pairs = 0
    for at, lower in enumerate(stack):
        turn, trip = opening.get(lower.carton, 0), arrival.get(lower.carton, 0)
        over = [upper.carton for upper in stack[at + 1 :]]
        dug = sum(opening.get(upper, 0) > turn for upper in over)
        late = sum(arrival.get(upper, 0) < trip for upper in over)
        cartons += bool(dug) + bool(late)
        pairs += dug + late
    return cartons, pairs


def _sum(counted: Iterable[Wrong]) -> Wrong:
    cartons, pairs = zip(*counted, strict=True)
    return sum(cartons), sum(pairs)


def _may_stand(stack: Stack, floor: Deck) -> bool:
    """Every carton of the stack may lie where it is, and is no higher than its kind may be."""
    top_mm = 0
    for at, load in enumerate(stack):
        top_mm += load.height_mm
        limit_mm = min(floor.height_mm, floor.fragile_mm) if load.fragile else floor.height_mm
        if at and (top_mm > limit_mm or not _may_join(load, stack[:at])):
            return False
    return True
