"""Ways to load a cart: in which order loads are taken, and which of the possible places each gets."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from itertools import product

from receiving.staging.loads import Load


class Stacking(Enum):
    """What makes a place on the cart better than another."""

    LOW = "as low as can be"
    FRAGILE_TOGETHER = "fragile ones on each other, so that what is sturdy has the rest; then as low as can be"
    TIGHT = "on what is as large as the base: in columns"


@dataclass(frozen=True)
class Preference:
    """Which of the possible places is taken: by ``stacking``; of equal ones where ``side`` is least.

    ``side`` is asked with the corner (x, y) and the length in millimetres.
    """

    side: Callable[[int, int, int], tuple[int, ...]]
    stacking: Stacking = Stacking.LOW


PREFERENCES = (
    Preference(lambda x, y, length: (x, y)),
    Preference(lambda x, y, length: (length, x, y)),
    Preference(lambda x, y, length: (-length, y, x)),
)
"""Lowest, and of these nearest the corner, or first lengthwise or across."""

COLUMNS = tuple(
    Preference(one.side, stacking) for stacking in (Stacking.FRAGILE_TOGETHER, Stacking.TIGHT) for one in PREFERENCES
)
"""In columns: for loads of many sizes or with much that is fragile."""


LoadingOrder = Callable[[Load], tuple[int, ...]]


def _heavy_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.weight_g, -load.length_mm * load.width_mm)


def _broad_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.length_mm * load.width_mm, -load.height_mm, -load.weight_g)


def _tall_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.height_mm, -load.length_mm * load.width_mm, -load.weight_g)


def _mixed(order: LoadingOrder) -> LoadingOrder:
    return lambda load: (load.open_first, *order(load)[1:])


LOADING_ORDERS: tuple[LoadingOrder, ...] = (_heavy_first, _broad_first, _tall_first)
"""The orders that are tried first, each with fragile over sturdy and open-first last."""

MIXED_ORDERS = tuple(map(_mixed, LOADING_ORDERS))
"""The same orders without regard to what is fragile: it finds a place of its own on the deck, or on its like."""


WAYS = (
    (PREFERENCES[0], LOADING_ORDERS[0]),
    *((COLUMNS[i], MIXED_ORDERS[i]) for i in (0, 1)),
    (PREFERENCES[0], LOADING_ORDERS[1]),
    (COLUMNS[3], LOADING_ORDERS[1]),
    (COLUMNS[4], MIXED_ORDERS[0]),
    *((preference, order) for preference, order in product(PREFERENCES, LOADING_ORDERS) if order is LOADING_ORDERS[2]),
    *((preference, order) for preference, order in product(PREFERENCES[1:], LOADING_ORDERS[:2])),
)
"""Ways to load a cart, unlike ones first."""
