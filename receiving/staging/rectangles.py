"""Rectangles on a rectangle, in either direction: an exact search with a step budget.

Corners are only tried at sums of side lengths (normal patterns; Herz 1972, Christofides & Whitlock 1977): every
packing can be pushed down and to the left until all its corners stand there. The search always settles the lowest,
then leftmost, free corner: a rectangle stands in it, or the cell up to the next pattern in both directions is waste.
Total waste is limited by the free area, which prunes tight packings at once; a skyline met again with the same
rectangles left and no more waste allowed is not searched twice.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, auto

Sides = tuple[int, int]
Skyline = list[tuple[int, int, int]]
Placing = tuple[Sides, int, int, int, int]


class Verdict(Enum):
    """What the search can say."""

    PACKED = auto()
    IMPOSSIBLE = auto()
    UNDECIDED = auto()


@dataclass(frozen=True)
class Placed:
    """One rectangle (its index in the input) with its lower left corner and its sides as placed."""

    index: int
    x: int
    y: int
    length: int
    width: int


@dataclass(frozen=True)
class Packing:
    """The verdict, and where each rectangle stands when packed, in input order."""

    verdict: Verdict
    placed: tuple[Placed, ...] = ()


def pack_rectangles(sides: Sequence[Sides], length: int, width: int, *, steps: int = 2_000) -> Packing:
    """Pack all rectangles into ``length`` × ``width`` (any whole unit), turning them by 90° where that helps.

    ``steps`` limits the corners tried; past it the verdict is undecided.
    """
    if not sides:
        return Packing(Verdict.PACKED)
    if sum(a * b for a, b in sides) > length * width:
        return Packing(Verdict.IMPOSSIBLE)
    if any(min(s) > min(length, width) or max(s) > max(length, width) for s in sides):
        return Packing(Verdict.IMPOSSIBLE)
    search = _Search(sides, length, width, steps)
    found = search.run()
    if found is None:
        return Packing(Verdict.UNDECIDED if search.steps <= 0 else Verdict.IMPOSSIBLE)
    return Packing(Verdict.PACKED, found)


class _Search:
    def __init__(self, sides: Sequence[Sides], length: int, width: int, steps: int) -> None:
        self.length, self.width, self.steps = length, width, steps
        self.by_sides: dict[Sides, list[int]] = {}
        for index, (a, b) in enumerate(sides):
            self.by_sides.setdefault((max(a, b), min(a, b)), []).append(index)
        self.left = Counter({pair: len(ids) for pair, ids in self.by_sides.items()})
        self.order = sorted(self.left, key=lambda s: (-s[0] * s[1], s))
        self.xs = _patterns(sides, length)
        self.ys = _patterns(sides, width)
        self.waste = length * width - sum(a * b for a, b in sides)
        self.done: list[Placing] = []
        self.count = len(sides)
        self.hopeless: dict[tuple[object, ...], int] = {}

    def run(self) -> tuple[Placed, ...] | None:
        if not self._search():
            return None
        free = {pair: list(ids) for pair, ids in self.by_sides.items()}
        placed = [Placed(free[pair].pop(0), x, y, a, b) for pair, x, y, a, b in self.done]
        return tuple(sorted(placed, key=lambda p: p.index))

    def _search(self) -> bool:
        """Depth first with a stack of its own: waste cells may follow each other deeper than Python's."""
        levels = [self._level([(0, 0, self.length)], self.waste)]
        self.steps -= 1
        while levels and self.steps > 0:
            level = levels[-1]
            self._take_back(level)
            option = next(level.options, None)
            if option is None:
                self.hopeless[level.state] = level.waste
                levels.pop()
                continue
            level.taken = option.placed
            if option.placed is not None:
                self.left[option.placed[0]] -= 1
                self.done.append(option.placed)
                if len(self.done) == self.count:
                    return True
            self.steps -= 1
            below = self._level(option.skyline, option.waste)
            if self.hopeless.get(below.state, -1) < below.waste:
                levels.append(below)
        return False

    def _level(self, skyline: Skyline, waste: int) -> "_Level":
        state = (*skyline, *(self.left[pair] for pair in self.order))
        return _Level(state, waste, self._options(skyline, waste))

    def _take_back(self, level: "_Level") -> None:
        if level.taken is not None:
            self.done.pop()
            self.left[level.taken[0]] += 1
            level.taken = None

    def _options(self, skyline: Skyline, waste: int) -> Iterator["_Option"]:
        """What may stand in the lowest, then leftmost, free corner; last of all, that nothing does.

        ``skyline`` holds (height, from, to) from left to right.
        """
        at = min(range(len(skyline)), key=lambda i: (skyline[i][0], i))
        y, x, end = skyline[at]
        for pair in self.order:
            if not self.left[pair]:
                continue
            for a, b in {pair: None, (pair[1], pair[0]): None}:
                if x + a <= end and y + b <= self.width:
                    yield _Option(_raise(skyline, at, x + a, y + b), waste, (pair, x, y, a, b))
        yield from self._waste_cell(skyline, at, waste)

    def _waste_cell(self, skyline: Skyline, at: int, waste: int) -> Iterator["_Option"]:
        y, x, end = skyline[at]
        to = min(end, _next(self.xs, x, end))
        top = _next(self.ys, y, self.width)
        if end - x < self._narrowest():
            to = end
            top = max(top, min((s[0] for s in (*skyline[at - 1 : at], *skyline[at + 1 : at + 2])), default=self.width))
        lost = (to - x) * (top - y)
        if lost <= waste and y < self.width:
            yield _Option(_raise(skyline, at, to, top), waste - lost)

    def _narrowest(self) -> int:
        return min(pair[1] for pair in self.order if self.left[pair])


@dataclass
class _Option:
    """The skyline and waste after a step, and what was placed by it; None for a waste cell."""

    skyline: Skyline
    waste: int
    placed: Placing | None = None


@dataclass
class _Level:
    """A skyline in the search: what may still be tried from it, and what was placed last."""

    state: tuple[object, ...]
    waste: int
    options: Iterator[_Option]
    taken: Placing | None = None


def _raise(skyline: Skyline, at: int, to: int, height: int) -> Skyline:
    y, x, end = skyline[at]
    pieces = [*skyline[:at], (height, x, to), *([(y, to, end)] if to < end else []), *skyline[at + 1 :]]
    joined = [pieces[0]]
    for piece in pieces[1:]:
        if piece[0] == joined[-1][0]:
            joined[-1] = (piece[0], joined[-1][1], piece[2])
        else:
            joined.append(piece)
    return joined


def _patterns(sides: Sequence[Sides], limit: int) -> list[int]:
    """All sums of some sides, one side of each rectangle at most, up to ``limit``."""
    sums = 1
    mask = (1 << (limit + 1)) - 1
    for a, b in sides:
        sums |= (sums << a | sums << b) & mask
    return [value for value in range(limit + 1) if sums >> value & 1]


def _next(values: list[int], value: int, limit: int) -> int:
    place = bisect_right(values, value)
    return values[place] if place < len(values) else limit
