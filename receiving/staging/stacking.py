"""Stacks of cartons on the floor before a bay.

The rules are common practice of stacking, no source, but for the first: what stands in tiers is limited in height so
that it is stable (29 CFR 1910.176(b), from memory; it states no figure, the figures are in `floor`).
"""

from collections.abc import Mapping, Sequence

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


def dug_out(stacks: Sequence[Sequence[str]], opening: Mapping[str, int]) -> tuple[str, ...]:
    """The cartons that lie under one that is opened after them, in opening order; stacks bottom first."""
    dug = [
        lower
        for stack in stacks
        for at, lower in enumerate(stack)
        if any(opening.get(upper, 0) > opening.get(lower, 0) for upper in stack[at + 1 :])
    ]
    return tuple(sorted(dug, key=lambda carton: opening.get(carton, 0)))
