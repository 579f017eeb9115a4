"""Carts loaded again, part by part, until what was left behind has found a place.

Each round takes a part of one or two carts off, loads it again together with what is left in another order, and keeps
the result where it leaves no more behind than lately. What is left behind round after round counts more and more, so
that the search does not stay where the same awkward carton finds no place; and of carts that leave as much behind those
are better that have what is free together, not a little on each. Ruin and recreate: Schrimpf et al., Journal of
Computational Physics 159 (2000) 139–171; late acceptance: Burke & Bykov, European Journal of Operational Research 258
(2017) 70–78; counters of what finds no place: Nagata & Bräysy, Operations Research Letters 37 (2009) 333–338; squares
of how full each bin is: Falkenauer, Journal of Heuristics 2 (1996) 5–30.
"""

from collections.abc import Iterable, Mapping, Sequence
from random import Random

from receiving.staging.loading import CartLoad, Effort, Placement, deck_mm3, share
from receiving.staging.loads import Load
from receiving.staging.ways import COLUMNS, LOADING_ORDERS, MIXED_ORDERS, PREFERENCES

ROUND = 150
"""What a round costs beside the comparisons in it, in comparisons, as measured."""

SEED = 1
"""What every search draws from: the same shipment gives the same plan."""

MEMORY = 30
"""A round may leave as much behind as the round that went before it by this many left."""

ONE_CART, WHOLE_CART, NEIGHBOURS, EVENLY = 40, 10, 50, 70
"""In how many rounds of a hundred: one cart and not two; of a cart all; else neighbours and not any three; and the
emptier cart filled first."""

IN_COLUMNS, MIXED = 50, 50
"""In how many rounds of a hundred places are chosen in columns; and loads taken without regard to what is fragile."""

PART = 3
"""At most one part in this many of a cart is taken off, beside what stands on it."""

ORDERS = (0, 0, 0, 0, 0, 0, 1, 2)
"""Loading orders by how often each is taken: the heaviest first finds most, as measured."""

LEFT, GROWS = 0.05, 0.01
"""What a load that is left behind counts beside its part of a cart, and what part of all that each round adds."""

TOGETHER = 0.05
"""What the part of a cart that is free counts for, squared: so it is worth more on one cart than a little on each."""

BY_COUNT = 50
"""In how many rounds of a hundred what was left behind often is taken sooner."""

SHAKES = (0.0, 0.1, 0.2)
"""By how much the order of loading is stirred."""


def reload_carts(
    carts: Mapping[int, CartLoad], left: Sequence[Load], bound: Mapping[str, int], effort: Effort, rng: Random
) -> dict[int, CartLoad] | None:
    """The carts, by trip, with all that was ``left`` loaded too, or None; ``bound`` loads stay on their trips."""
    search = _Reloading(carts, left, bound, effort, rng)
    while search.left and not effort.spent:
        search.round()
    return None if search.left else search.carts


class _Reloading:
    def __init__(
        self,
        carts: Mapping[int, CartLoad],
        left: Sequence[Load],
        bound: Mapping[str, int],
        effort: Effort,
        rng: Random,
    ) -> None:
        self.carts, self.left, self.bound, self.effort = dict(carts), list(left), bound, effort
        self.trips = list(carts)
        self.deck = next(iter(carts.values())).deck
        self.rng = rng
        self.counts = {load.carton: 1.0 for load in left}
        loads = [*left, *(one.load for cart in carts.values() for one in cart.placements)]
        self.parts = {load.carton: LEFT + share(load, self.deck) for load in loads}
        self.lately = [self.cost(self.left, self.carts)] * MEMORY
        self.rounds = 0

    def cost(self, left: Iterable[Load], carts: Mapping[int, CartLoad]) -> float:
        """What is left behind, its part of the carts as often as it was left, less what is free together.

        Whatever is loaded besides, a cart has less that is free: no cost gets less by that.
        """
        behind = sum(self.parts[load.carton] * self.counts.get(load.carton, 1.0) for load in left)
        free = sum((1 - filled_share(cart)) ** 2 for cart in carts.values())
        return behind - TOGETHER * free

    def round(self) -> None:
        """Load a part again, and keep the result where it leaves no more behind than before or than lately."""
        self.effort.left -= ROUND
        carts, again = {}, list(self.left)
        for trip in self._chosen():
            carts[trip], off = self.carts[trip].without(self._part(self.carts[trip].placements))
            carts[trip].effort = self.effort
            again += off
        now, at = self.cost(self.left, self.carts), self.rounds % MEMORY
        left = self._load(carts, again, max(now, self.lately[at]))
        if left is not None:
            self.carts |= carts
            self.left = left
        self.lately[at] = now
        self.rounds += 1
        for load in self.left:
            self.counts[load.carton] = self.counts.get(load.carton, 1.0) + GROWS

    def _chosen(self) -> list[int]:
        """One or two trips, first of all one that a load which is left is bound to."""
        chosen = [self.trips[at] for at in self._few(len(self.trips), 1 if self._chance(ONE_CART) else 2)]
        wanted = [self.bound[load.carton] for load in self.left if load.carton in self.bound]
        return list(dict.fromkeys([*wanted[:1], *chosen]))[:2]

    def _part(self, placed: Sequence[Placement]) -> Sequence[int]:
        count = len(placed)
        if not count or self._chance(WHOLE_CART):
            return range(count)
        some = 1 + self._below(max(1, count // PART))
        if not self._chance(NEIGHBOURS):
            return self._few(count, min(some, 3))
        middle = placed[self._below(count)]
        return sorted(range(count), key=lambda at: _apart(placed[at], middle))[:some]

    def _chance(self, percent: int) -> bool:
        return self.rng.random() * 100 < percent

    def _below(self, count: int) -> int:
        return int(self.rng.random() * count)

    def _few(self, count: int, most: int) -> list[int]:
        """Up to ``most`` different numbers below ``count``."""
        return list(dict.fromkeys(self._below(count) for _ in range(most)))

    def _load(self, carts: Mapping[int, CartLoad], loads: Iterable[Load], most: float) -> list[Load] | None:
        """Load these onto the carts; what found no place, or None as soon as that costs more than ``most``."""
        ways = COLUMNS if self._chance(IN_COLUMNS) else PREFERENCES
        preference, evenly = ways[self._below(len(ways))], self._chance(EVENLY)
        for cart in carts.values():
            cart.preference = preference
        left: list[Load] = []
        then = {**self.carts, **carts}
        for load in self._stirred(loads):
            trips = [trip for trip in carts if self.bound.get(load.carton, trip) == trip]
            if evenly:
                trips.sort(key=lambda trip: filled_share(carts[trip]))
            for trip in trips:
                placed = carts[trip].place_for(load)
                if placed is not None:
                    carts[trip].add(placed)
                    break
            else:
                left.append(load)
                if self.cost(left, then) > most:
                    return None
        return left if not left or self.cost(left, then) <= most else None

    def _stirred(self, loads: Iterable[Load]) -> list[Load]:
        orders = MIXED_ORDERS if self._chance(MIXED) else LOADING_ORDERS
        order, shake = orders[ORDERS[self._below(len(ORDERS))]], SHAKES[self._below(len(SHAKES))]
        counts = self.counts if self._chance(BY_COUNT) else {}

        def key(load: Load) -> tuple[float, ...]:
            rank, first, *others = order(load)
            sooner = counts.get(load.carton, 1.0) * (1 + shake * (2 * self.rng.random() - 1))
            return (rank, first * sooner, *others)

        return sorted(loads, key=key)


def _apart(one: Placement, other: Placement) -> int:
    """How far two loads are apart: twice the distance of their middles in plan, and the height between their feet."""
    along = abs(2 * one.x_mm + one.length_mm - 2 * other.x_mm - other.length_mm)
    across = abs(2 * one.y_mm + one.width_mm - 2 * other.y_mm - other.width_mm)
    return along + across + abs(one.z_mm - other.z_mm)


def filled_share(cart: CartLoad) -> float:
    """How full a cart is: by weight or by space, whichever is more."""
    return max(cart.weight_g / cart.deck.max_g, cart.volume_mm3 / deck_mm3(cart.deck))
