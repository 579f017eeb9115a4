"""Stacks of cartons drawn from above, each with its carton numbers where they can be seen."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from receiving.model import Spot
from web.pages.tone import Tone
from web.pages.words import listed

LARGEST_FONT_CM = 15.0
SMALLEST_FONT_CM = 2.5
LETTER_WIDTH, LINE_HEIGHT = 0.7, 1.1
"""A bold digit's width and a line's height in font sizes: the widest of the usual sans faces (DejaVu Sans Bold)."""
SAMPLES = 17


@dataclass(frozen=True)
class Box:
    """A stack in a drawing, in centimetres. ``lines`` are its cartons, top first; empty where none can be seen."""

    x_cm: float
    y_cm: float
    width_cm: float
    depth_cm: float
    lines: tuple[str, ...]
    font_cm: float
    text_x_cm: float
    first_line_cm: float
    tone: Tone


@dataclass(frozen=True)
class Drawing:
    """A floor or a deck seen from above, in centimetres. ``spoken`` says it in words."""

    name: str
    width_cm: float
    depth_cm: float
    boxes: tuple[Box, ...]
    spoken: str


def draw(name: str, width_cm: float, depth_cm: float, spots: Sequence[Spot], moved: set[str]) -> Drawing:
    """The stacks on a floor or deck of this size; those whose cartons are all ``moved`` are marked."""
    stacks = _from_above(spots)
    boxes = tuple(_box(stack, stacks[number + 1 :], moved) for number, stack in enumerate(stacks))
    boxes = tuple(_with_hidden(box, number, stacks, boxes) for number, box in enumerate(boxes))
    spoken = "; ".join(f"stack {listed(reversed(stack.cartons))}" for stack in stacks)
    return Drawing(
        name,
        max(width_cm, *(box.x_cm + box.width_cm for box in boxes)),
        max(depth_cm, *(box.y_cm + box.depth_cm for box in boxes)),
        boxes,
        f"{name}, {width_cm:g} by {depth_cm:g} cm: {spoken}",
    )


def _from_above(spots: Sequence[Spot]) -> tuple[Spot, ...]:
    """The stacks lowest first; spots on one footprint are one stack."""
    stacks: dict[tuple[float, float, float, float], Spot] = {}
    for spot in sorted(spots, key=lambda spot: spot.z_cm):
        foot = (spot.x_cm, spot.y_cm, spot.length_cm, spot.width_cm)
        below = stacks.pop(foot, None)
        stacks[foot] = replace(spot, cartons=below.cartons + spot.cartons) if below else spot
    return tuple(stacks.values())


def _box(stack: Spot, above: Sequence[Spot], moved: set[str]) -> Box:
    lines = tuple(reversed(stack.cartons))
    x_cm, y_cm, font_cm = _best_place(stack, above, lines)
    return Box(
        round(stack.x_cm, 1),
        round(stack.y_cm, 1),
        round(stack.length_cm, 1),
        round(stack.width_cm, 1),
        lines if font_cm >= SMALLEST_FONT_CM else (),
        round(font_cm, 1),
        round(x_cm, 1),
        round(y_cm - font_cm * LINE_HEIGHT * (len(lines) - 1) / 2, 1),
        Tone.HERE if moved.issuperset(lines) else Tone.PLAIN,
    )


def _with_hidden(box: Box, number: int, stacks: Sequence[Spot], boxes: Sequence[Box]) -> Box:
    """The box with one more line that counts the cartons under it of which nothing can be seen."""
    hidden = sum(
        len(stacks[below].cartons)
        for below in range(number)
        if not boxes[below].lines and _top_over(below, stacks) == number
    )
    if not hidden or not box.lines:
        return box
    lines = (*box.lines, f"+{hidden} below")
    x_cm, y_cm, font_cm = _best_place(stacks[number], stacks[number + 1 :], lines)
    if font_cm < SMALLEST_FONT_CM:
        return box
    first_cm = round(y_cm - font_cm * LINE_HEIGHT * (len(lines) - 1) / 2, 1)
    return replace(box, lines=lines, font_cm=round(font_cm, 1), text_x_cm=round(x_cm, 1), first_line_cm=first_cm)


def _top_over(below: int, stacks: Sequence[Spot]) -> int:
    """The highest stack that lies on most of this one."""
    above = range(below + 1, len(stacks))
    return max(above, key=lambda other: (_shared_cm2(stacks[below], stacks[other]), other), default=-1)


def _shared_cm2(one: Spot, other: Spot) -> float:
    wide = min(one.x_cm + one.length_cm, other.x_cm + other.length_cm) - max(one.x_cm, other.x_cm)
    deep = min(one.y_cm + one.width_cm, other.y_cm + other.width_cm) - max(one.y_cm, other.y_cm)
    return max(0.0, wide) * max(0.0, deep)


def _best_place(stack: Spot, above: Sequence[Spot], lines: Sequence[str]) -> tuple[float, float, float]:
    """Where the text is largest inside the stack and clear of the stacks above it: x, y and font in centimetres."""
    across = LETTER_WIDTH * max(map(len, lines)) / 2 + 0.15
    along = LINE_HEIGHT * len(lines) / 2 + 0.05
    middle = (SAMPLES - 1) / 2
    best = (stack.x_cm, stack.y_cm, 0.0)
    for i, j in sorted(product(range(SAMPLES), repeat=2), key=lambda at: abs(at[0] - middle) + abs(at[1] - middle)):
        x_cm = stack.x_cm + stack.length_cm * (i + 0.5) / SAMPLES
        y_cm = stack.y_cm + stack.width_cm * (j + 0.5) / SAMPLES
        inside = min(
            (x_cm - stack.x_cm) / across,
            (stack.x_cm + stack.length_cm - x_cm) / across,
            (y_cm - stack.y_cm) / along,
            (stack.y_cm + stack.width_cm - y_cm) / along,
        )
        font_cm = min([LARGEST_FONT_CM, inside, *(_clear(x_cm, y_cm, other, across, along) for other in above)])
        if font_cm > best[2] + 1e-6:
            best = (x_cm, y_cm, font_cm)
    return best


def _clear(x_cm: float, y_cm: float, other: Spot, across: float, along: float) -> float:
    """The largest font at this point whose text does not reach under the other stack."""
    dx_cm = max(other.x_cm - x_cm, x_cm - other.x_cm - other.length_cm, 0.0)
    dy_cm = max(other.y_cm - y_cm, y_cm - other.y_cm - other.width_cm, 0.0)
    return max(dx_cm / across, dy_cm / along)
