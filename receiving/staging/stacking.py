"""How loads stand on one cart: stacks by weight and firmness, their bases side by side on the deck."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from receiving.staging.loads import Deck, Load, clip_to_deck
from receiving.staging.rectangles import Verdict, pack_rectangles


@dataclass(frozen=True)
class Stack:
    """Loads one on another, bottom first, and the lower left corner and sides of its base, in millimetres."""

    loads: tuple[Load, ...]
    x_mm: int = 0
    y_mm: int = 0
    length_mm: int = 0
    width_mm: int = 0

    @property
    def height_mm(self) -> int:
        """The height of the whole stack."""
        return sum(load.height_mm for load in self.loads)


def may_rest_on(upper: Load, lower: Load) -> bool:
    """True when ``upper`` may lie on ``lower``: no wider, no heavier, as fragile, and open-first over the rest.

    Common practice of loading, no source.
    """
    return (
        upper.length_mm <= lower.length_mm
        and upper.width_mm <= lower.width_mm
        and upper.weight_g <= lower.weight_g
        and upper.fragile >= lower.fragile
        and upper.open_first >= lower.open_first
    )


def arrange(loads: Iterable[Load], deck: Deck, *, steps: int = 400) -> tuple[Stack, ...] | None:
    """Stacks for these loads on one cart, placed on the deck, or None where no arrangement was found.

    An answer always keeps every limit; None means "not found within ``steps``", not "impossible".
    """
    clipped = [clip_to_deck(load, deck) for load in loads]
    if sum(load.weight_g for load in clipped) > deck.max_g:
        return None
    if sum(load.length_mm * load.width_mm * load.height_mm for load in clipped) > deck.area_mm2 * deck.height_mm:
        return None
    tried = set()
    for order in _ORDERS:
        stacks = pile(sorted(clipped, key=order), deck.height_mm)
        bases = tuple((stack[0].length_mm, stack[0].width_mm) for stack in stacks)
        if bases in tried:
            continue
        tried.add(bases)
        packing = pack_rectangles(bases, deck.length_mm, deck.width_mm, steps=steps)
        if packing.verdict is Verdict.PACKED:
            return tuple(
                Stack(tuple(stacks[p.index]), p.x, p.y, p.length, p.width)
                for p in sorted(packing.placed, key=lambda p: (p.x, p.y))
            )
    return None


def pile(loads: Sequence[Load], height_mm: int) -> list[list[Load]]:
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


_Order = Callable[[Load], tuple[int, int, int, int, str]]
_ORDERS: tuple[_Order, ...] = (
    lambda a: (a.rank, -a.length_mm * a.width_mm, -a.weight_g, -a.height_mm, a.carton),
    lambda a: (a.rank, -a.weight_g, -a.length_mm * a.width_mm, -a.height_mm, a.carton),
    lambda a: (a.rank, -a.height_mm, -a.length_mm * a.width_mm, -a.weight_g, a.carton),
)


def loading_order(stacks: Iterable[Stack]) -> tuple[str, ...]:
    """The carton ids in the order in which they go on the cart: bases first, open-first last."""
    layers = [(level, place, load) for place, stack in enumerate(stacks) for level, load in enumerate(stack.loads)]
    return tuple(
        load.carton for _, _, load in sorted(layers, key=lambda e: (e[2].open_first, e[2].fragile, e[0], e[1]))
    )
