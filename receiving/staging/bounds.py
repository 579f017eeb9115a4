"""Numbers of trips that no plan can go below, from dual feasible functions.

A dual feasible function ``f`` keeps every set of numbers that sum to at most 1 at most 1; so the rounded-up sum of
``f`` over all loads is a lower bound. For space, a function for each direction is applied and the three results are
multiplied. Source: Fekete & Schepers, Mathematical Programming 91 (2001) 11–31, functions u(k) and U(ε), and
Mathematics of Operations Research 29 (2004) 353–368 for the product; the bound by U(ε) is that of Martello & Toth,
Discrete Applied Mathematics 28 (1990) 59–70.
"""

from collections.abc import Iterable, Iterator, Sequence
from operator import mul

from receiving.staging.loads import Deck, Load, clip_to_deck

NEVER = 1 << 90
"""Stands for a direction in which a load does not fit."""


def at_least_trips(loads: Sequence[Load], deck: Deck) -> int:
    """The best lower bound that weights and space give for the number of cart trips."""
    if not loads:
        return 0
    clipped = [clip_to_deck(load, deck) for load in loads]
    return max(at_least_bins([load.weight_g for load in clipped], deck.max_g), _by_space(clipped, deck))


def at_least_bins(sizes: Sequence[int], capacity: int) -> int:
    """Lower bound for one-dimensional bin packing.

    >>> at_least_bins([6, 6, 6, 4], 10), at_least_bins([5, 5, 5], 10)
    (3, 2)
    """
    transformed = _transforms(sizes, capacity)
    return max(-(-sum(values) // whole) for values, whole in transformed)


def _by_space(loads: Sequence[Load], deck: Deck) -> int:
    """Length, width and height transformed one by one and multiplied; a load turns to where it counts least."""
    along = list(_transforms([side for load in loads for side in (load.length_mm, load.width_mm)], deck.length_mm))
    across = list(_transforms([side for load in loads for side in (load.width_mm, load.length_mm)], deck.width_mm))
    upright = list(_transforms([load.height_mm for load in loads], deck.height_mm))
    straight = [load.width_mm <= deck.width_mm for load in loads]
    turned = [load.length_mm <= deck.width_mm for load in loads]
    best = 1
    for xs, x_whole in along:
        for ys, y_whole in across:
            bases = [
                min(
                    xs[2 * i] * ys[2 * i] if straight[i] else NEVER,
                    xs[2 * i + 1] * ys[2 * i + 1] if turned[i] else NEVER,
                )
                for i in range(len(loads))
            ]
            for zs, z_whole in upright:
                best = max(best, -(-sum(map(mul, bases, zs)) // (x_whole * y_whole * z_whole)))
    return best


def _transforms(sizes: Sequence[int], capacity: int) -> Iterator[tuple[list[int], int]]:
    """Each dual feasible function over ``sizes`` in whole numbers, and what its 1 is."""
    yield list(sizes), capacity
    for k in range(1, 8):
        yield [_stepped(size, capacity, k) for size in sizes], k * capacity
    for least in _thresholds(sizes, capacity):
        yield [_big_counts_whole(size, capacity, least) for size in sizes], capacity


def _thresholds(sizes: Iterable[int], capacity: int, most: int = 6) -> list[int]:
    """Sizes up to half the capacity, at which U(ε) changes; spread evenly when there are many."""
    small = sorted({min(size, capacity - size + 1) for size in sizes if size <= capacity} | {capacity // 2})
    small = [size for size in small if 0 < size <= capacity // 2]
    step = -(-len(small) // most) or 1
    return sorted({*small[::step], *small[-1:]})


def _stepped(size: int, capacity: int, k: int) -> int:
    """u(k) times k times the capacity: whole multiples of 1/(k+1) stay, others round down to a multiple of 1/k."""
    if (k + 1) * size % capacity == 0:
        return k * size
    return (k + 1) * size // capacity * capacity


def _big_counts_whole(size: int, capacity: int, least: int) -> int:
    """U(ε) times the capacity for ε = ``least``: too big to share counts whole, smaller than ε counts nothing."""
    if size > capacity - least:
        return capacity
    return size if size >= least else 0
