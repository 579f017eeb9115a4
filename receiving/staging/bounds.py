"""Numbers of trips that no plan can go below, from dual feasible functions.

A dual feasible function ``f`` keeps every set of numbers that sum to at most 1 at most 1; so the rounded-up sum of
``f`` over all loads is a lower bound. For space, a function for each direction is applied and the three results are
multiplied. Source: Fekete & Schepers, Mathematical Programming 91 (2001) 11–31, functions u(k) and U(ε), and
Mathematics of Operations Research 29 (2004) 353–368 for the product; the bound by U(ε) is that of Martello & Toth,
Discrete Applied Mathematics 28 (1990) 59–70.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from receiving.staging.loads import Deck, Load, clip_to_deck

MOST_INT64 = 1 << 62
"""Sums up to here are exact in 64 bits; beyond, Python's own whole numbers are used."""


def bound_trips(loads: Sequence[Load], deck: Deck) -> int:
    """The best lower bound that weights and space give for the number of cart trips."""
    if len(loads) <= 1:
        return len(loads)
    clipped = [clip_to_deck(load, deck) for load in loads]
    return max(bound_bins([load.weight_g for load in clipped], deck.max_g), _by_space(clipped, deck))


def bound_bins(sizes: Sequence[int], capacity: int) -> int:
    """Lower bound for one-dimensional bin packing.

    >>> bound_bins([6, 6, 6, 4], 10), bound_bins([5, 5, 5], 10)
    (3, 2)
    """
    transformed = _transforms(sizes, capacity)
    # A dual feasible function never makes what fits one bin exceed one, so each sum is a bound; -(-a // b) rounds up.
    return max(-(-sum(values) // whole) for values, whole in transformed)


def _by_space(loads: Sequence[Load], deck: Deck) -> int:
    """Length, width and height transformed one by one and multiplied; a load turns to where it counts least."""
    import numpy as np

    sides = [side for load in loads for side in (load.length_mm, load.width_mm)]
    others = [side for load in loads for side in (load.width_mm, load.length_mm)]
    along = list(_transforms(sides, deck.length_mm))
    across = list(_transforms(others, deck.width_mm))
    upright = list(_transforms([load.height_mm for load in loads], deck.height_mm))
    wholes = [max(whole for _, whole in functions) for functions in (along, across, upright)]
    # Exact whole numbers, never floats: a bound that is rounded up once too often would call a good plan impossible.
    kind: Any = np.int64 if len(loads) * wholes[0] * wholes[1] * wholes[2] < MOST_INT64 else object
    xs, ys, zs = (np.array([values for values, _ in functions], dtype=kind) for functions in (along, across, upright))
    x_whole, y_whole, z_whole = (
        np.array([whole for _, whole in functions], dtype=kind) for functions in (along, across, upright)
    )
    floors = x_whole[:, None] * y_whole[None, :]
    bases = [
        np.where(fits, xs[:, None, place::2] * ys[None, :, place::2], floors[:, :, None])
        for place, fits in enumerate(_directions(loads, deck))
    ]
    sums = np.tensordot(np.minimum(*bases), zs, axes=([2], [1]))
    return max(1, int((-(-sums // (floors[:, :, None] * z_whole))).max()))


def _directions(loads: Sequence[Load], deck: Deck) -> tuple[list[bool], list[bool]]:
    """Which loads fit straight, and which turned; one that does not counts as the whole deck that way."""
    straight = [load.width_mm <= deck.width_mm for load in loads]
    turned = [load.length_mm <= deck.width_mm for load in loads]
    return straight, turned


def _transforms(sizes: Sequence[int], capacity: int) -> Iterator[tuple[list[int], int]]:
    """Each dual feasible function over ``sizes`` in whole numbers, and what its 1 is."""
    yield list(sizes), capacity
    for k in range(1, 8):
        yield [_stepped(size, capacity, k) for size in sizes], k * capacity
    for least in _thresholds(sizes, capacity):
        yield [_big_counts_whole(size, capacity, least) for size in sizes], capacity


def _thresholds(sizes: Iterable[int], capacity: int, most: int = 6) -> list[int]:
    """Sizes up to half the capacity, at which U(ε) changes; spread evenly when there are many."""
    # A large size changes U(ε) where its complement does: from ε = capacity - size + 1 on it no longer counts whole.
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
