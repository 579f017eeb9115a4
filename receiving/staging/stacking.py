"""Stacks of cartons on the floor before a bay."""

from collections.abc import Sequence

from receiving.staging.loads import Load


def may_rest_on(upper: Load, lower: Load) -> bool:
    """True when ``upper`` may lie on ``lower``: no wider, no heavier, as fragile, and open-first over the rest.

    Common practice of stacking, no source.
    """
    return (
        upper.length_mm <= lower.length_mm
        and upper.width_mm <= lower.width_mm
        and upper.weight_g <= lower.weight_g
        and upper.fragile >= lower.fragile
        and upper.open_first >= lower.open_first
    )


def stack_up(loads: Sequence[Load], height_mm: int) -> list[list[Load]]:
    """Stacks no higher than ``height_mm``: each load on the tightest top that may carry it, else on a new stack."""
    stacks: list[list[Load]] = []
    heights: list[int] = []
    for load in loads:
        best = None
        for number, stack in enumerate(stacks):
            if heights[number] + load.height_mm <= height_mm and may_rest_on(load, stack[-1]):
                slack = (stack[-1].length_mm * stack[-1].width_mm, -heights[number])
                if best is None or slack < best[0]:
                    best = (slack, number)
        if best is None:
            stacks.append([load])
            heights.append(load.height_mm)
        else:
            stacks[best[1]].append(load)
            heights[best[1]] += load.height_mm
    return stacks
