"""Bin packing by weight alone, exact: patterns found by column generation, chosen by diving and by HiGHS.

Source: Gilmore & Gomory, Operations Research 9 (1961) 849–859. The linear relaxation, rounded up, is a lower bound
at every step through the bound of Farley, Operations Research 38 (1990) 922–923; the whole-number choice among the
patterns found gives the plan. Before that, where bins must be nearly full and all patterns that are can be listed,
the choice among these says at once whether the bound can be met (triplets of 249 items: 0.5 s, where diving took
28 s and a bin too many). The solvers (scipy's HiGHS) are limited by counts, never by a clock.

Why patterns and HiGHS: on the assignment model, with the same bound and 5 s each, HiGHS proved 5 and OR-Tools CP-SAT
8 of 8 carts' weights (40 cartons), and neither any of 4 triplet (t60) or 4 uniform (u120) instances; patterns with
HiGHS proved all 16, in 0.2, 0.7 and 1.7 s of CPU in the median, with no library more (tests/bench/staging_plans.py).
"""

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, gcd
from operator import mul
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from receiving.staging.bounds import bound_bins

ROUNDS = 400
"""Most rounds of column generation."""

NODES = 200
"""Most nodes of the final search."""

MOST_STEPS = 100_000
"""Most steps of listing all patterns that leave little free: about a tenth of a second, as measured."""

MOST_PATTERNS = 5_000
"""Most patterns to choose among at once: 2,700 triplets take a second, 50,000 patterns of uniform items take seven."""

DEEPEST = 100
"""Most items in a bin for such a list."""

NEVER = 1 << 30
"""Stands for a demand that no choice covers."""

OPTIMAL, INFEASIBLE = 0, 2
"""What scipy's ``milp`` reports."""

DIVES = 4
"""Times that the search for whole numbers begins anew."""

Pattern = tuple[int, ...]


@dataclass(frozen=True)
class Bins:
    """Indexes of the sizes by bin, and a number of bins that no packing goes below."""

    bins: tuple[tuple[int, ...], ...]
    at_least: int


def fewest_bins(sizes: Sequence[int], capacity: int) -> Bins:
    """Pack ``sizes`` (whole numbers, none above ``capacity``) into as few bins as can be; proven when they meet.

    >>> fewest_bins([6, 6, 4, 4], 10).bins
    ((0, 2), (1, 3))
    """
    counts = Counter(sizes)
    distinct = sorted(counts, reverse=True)
    start = best_fit_decreasing(sizes, capacity)
    at_least = bound_bins(sizes, capacity) if sizes else 0
    if len(start) <= at_least:
        return Bins(_dealt(start, sizes), at_least)
    step = gcd(capacity, *distinct)
    master = _Master([size // step for size in distinct], [counts[size] for size in distinct], capacity // step)
    for bin_sizes in start:
        master.add(tuple(Counter(bin_sizes)[size] for size in distinct))
    for chosen, needed in master.choices(at_least):
        at_least = max(at_least, needed)
        found = [[distinct[i] for i, times in enumerate(pattern) for _ in range(times)] for pattern in chosen]
        start = min(start, _trimmed(found, counts), key=len)
        if len(start) <= at_least:
            break
    return Bins(_dealt(start, sizes), at_least)


class _Master:
    def __init__(self, sizes: Sequence[int], demand: Sequence[int], capacity: int) -> None:
        self.np: Any = np
        self.sizes, self.demand, self.capacity = sizes, demand, capacity
        self.patterns: dict[Pattern, None] = {}

    def add(self, pattern: Pattern) -> None:
        self.patterns[pattern] = None

    def price_out(self, demand: Sequence[int]) -> int:
        """Add patterns until none lowers the relaxation for this demand; the best bound met, rounded up."""
        best = 0
        for _ in range(ROUNDS):
            solved = self._relaxed(demand)
            prices = self.np.maximum(-solved.ineqlin.marginals, 0.0)
            worth, pattern = self._most_worth(prices, demand)
            best = max(best, ceil(solved.fun / max(1.0, worth) - 1e-6))
            if worth <= 1 + 1e-7 or pattern in self.patterns:
                break
            self.add(pattern)
            if best >= ceil(solved.fun - 1e-6) and demand is not self.demand:
                break
        return best

    def _relaxed(self, demand: Sequence[int]) -> Any:
        columns = self.np.array(list(self.patterns), dtype=float).T
        ones = self.np.ones(columns.shape[1])
        return linprog(ones, A_ub=-columns, b_ub=-self.np.array(demand), method="highs")

    def choices(self, at_least: int) -> Iterator[tuple[list[Pattern], int]]:
        """Ways to cover the demand, cheap ones first, each with a lower bound; each may add patterns for the next."""
        free = at_least * self.capacity - sum(map(mul, self.sizes, self.demand))
        nearly_full = nearly_full_patterns(self.sizes, self.demand, self.capacity, free)
        if nearly_full is not None:
            chosen, needed = self.choose(nearly_full, at_least)
            yield chosen, min(needed, at_least + 1)
        at_least = max(at_least, self.price_out(self.demand))
        for start in range(DIVES):
            yield self.dive(start), at_least
            yield self.choose(list(self.patterns), at_least)[0], at_least

    def dive(self, start: int) -> list[Pattern]:
        """Fix the pattern that the relaxation likes best (first: ``start`` places below), price again, and so on."""
        left, fixed = list(self.demand), list[Pattern]()
        while any(left):
            self.price_out(left)
            liked = (-self._relaxed(left).x).argsort(kind="stable")
            pattern = list(self.patterns)[int(liked[0 if fixed else start])]
            fixed.append(pattern)
            left = [max(0, have - take) for have, take in zip(left, pattern, strict=True)]
        return fixed

    def _most_worth(self, prices: Any, demand: Sequence[int]) -> tuple[float, Pattern]:
        """The pattern worth most at these prices: a bounded knapsack by dynamic programming over the capacity."""
        np = self.np
        value = np.zeros(self.capacity + 1)
        takes = []
        for size, most, price in zip(self.sizes, demand, prices, strict=True):
            take = np.zeros(self.capacity + 1, dtype=np.int16)
            if price > 1e-9:
                base = value.copy()
                for times in range(1, min(most, self.capacity // size) + 1):
                    offer = base[: self.capacity + 1 - times * size] + times * price
                    better = offer > value[times * size :] + 1e-12
                    value[times * size :][better] = offer[better]
                    take[times * size :][better] = times
            takes.append(take)
        room, pattern = self.capacity, [0] * len(self.sizes)
        for i in range(len(self.sizes) - 1, -1, -1):
            pattern[i] = int(takes[i][room])
            room -= pattern[i] * self.sizes[i]
        return float(value[self.capacity]), tuple(pattern)

    def choose(self, patterns: Sequence[Pattern], at_least: int) -> tuple[list[Pattern], int]:
        """The fewest of these patterns that cover the demand, and how many of them that needs at least."""
        np = self.np
        if not patterns:
            return [], NEVER
        solved = milp(
            np.ones(len(patterns)),
            integrality=np.ones(len(patterns)),
            bounds=Bounds(0, np.inf),
            constraints=[
                LinearConstraint(np.array(patterns, dtype=float).T, np.array(self.demand, dtype=float), np.inf),
                LinearConstraint(np.ones((1, len(patterns))), at_least, np.inf),
            ],
            options={"node_limit": NODES},
        )
        if solved.x is None:
            return [], NEVER if solved.status == INFEASIBLE else at_least
        needed = round(solved.fun) if solved.status == OPTIMAL else at_least
        return [one for one, times in zip(patterns, solved.x, strict=True) for _ in range(round(times))], needed


def nearly_full_patterns(sizes: Sequence[int], demand: Sequence[int], capacity: int, free: int) -> list[Pattern] | None:
    """All patterns that leave at most ``free`` of a bin, or None where listing them takes too long.

    A packing that leaves ``free`` in sum over all bins consists of such patterns alone; ``sizes`` fall.

    >>> nearly_full_patterns([7, 5, 3, 2], [1, 1, 1, 1], 10, 0)
    [(1, 0, 1, 0), (0, 1, 1, 1)]
    """
    found: list[Pattern] = []
    pattern, negative, least = [0] * len(sizes), [-size for size in sizes], sizes[-1]
    steps = MOST_STEPS

    def extend(first: int, room: int) -> bool:
        nonlocal steps
        steps -= 1
        if room <= free:
            found.append(tuple(pattern))
        last_one = room < 2 * least
        begin = max(first, bisect_left(negative, -room))
        for i in range(begin, bisect_right(negative, free - room if last_one else -least)):
            if pattern[i] < demand[i]:
                pattern[i] += 1
                within = extend(i, room - sizes[i])
                pattern[i] -= 1
                if not within:
                    return False
        return steps > 0 and len(found) <= MOST_PATTERNS

    return found if capacity < DEEPEST * least and extend(0, capacity) else None


def best_fit_decreasing(sizes: Sequence[int], capacity: int) -> list[list[int]]:
    """The sizes by bin, the largest first, each into the fullest bin that takes it."""
    bins: list[list[int]] = []
    rooms: list[int] = []
    for size in sorted(sizes, reverse=True):
        at = min((i for i, room in enumerate(rooms) if room >= size), key=lambda i: rooms[i], default=None)
        if at is None:
            bins.append([size])
            rooms.append(capacity - size)
        else:
            bins[at].append(size)
            rooms[at] -= size
    return bins


def _trimmed(bins: Sequence[Sequence[int]], counts: Counter[int]) -> list[list[int]]:
    """Patterns may cover more than there is: keep each size only as often as it exists; [] when one is missing."""
    left = counts.copy()
    kept = []
    for sizes in bins:
        here = []
        for size in sizes:
            if left[size]:
                left[size] -= 1
                here.append(size)
        if here:
            kept.append(here)
    return kept if not any(left.values()) else [[]] * sum(counts.values())


def _dealt(bins: Sequence[Sequence[int]], sizes: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    places: dict[int, list[int]] = {}
    for index in range(len(sizes) - 1, -1, -1):
        places.setdefault(sizes[index], []).append(index)
    return tuple(tuple(sorted(places[size].pop() for size in one)) for one in bins)
