"""Carts loaded again, part by part, each part as well as it can be, until what was left behind has found a place.

Each step frees some neighbours on one cart or on two, with all that stands on them, and asks `part_program` for the
best way to load these and what is left. A way is taken where what it leaves behind counts less; and what is left behind
counts more with each step, so that the search does not stay where the same loads are left. Large neighbourhood search:
Shaw, Principles and Practice of Constraint Programming, Lecture Notes in Computer Science 1520 (1998) 417–431; counters
of what finds no place as in `reloading`, which makes the state that this begins from.
"""

from collections.abc import Mapping, Sequence
from random import Random

from receiving.staging.loading import CartLoad, Effort, share
from receiving.staging.loads import Load
from receiving.staging.part_program import Part, load_again
from receiving.staging.reloading import LEFT, apart

MOST_LEFT = 8
"""With more loads than this left behind there is no room for others in a part."""

MOST_FREE = 14
"""No part has more loads than this: of larger ones most had no answer in time."""

FEWEST, MOST = 3, 6
"""How many neighbours are freed, beside what stands on them."""

TWO_CARTS = 30
"""In how many steps of a hundred a part is of two carts."""

GROWS = 0.02
"""What part of all that a load counts each step adds that leaves it behind: with 0.05 or 0.1 fewer plans were found."""

STEP = 0.1
"""Deterministic time for one part: three quarters of the answers take a third of it."""

COMPARISONS = 4_500_000
"""What a unit of deterministic time costs, in comparisons, as measured."""

MAKING = 250
"""What each pair of loads costs of which one is free, in comparisons, as measured: making its constraints."""


def load_parts_again(
    carts: Mapping[int, CartLoad], left: Sequence[Load], bound: Mapping[str, int], effort: Effort, rng: Random
) -> dict[int, CartLoad] | None:
    """The carts, by trip, with all that was ``left`` loaded too, or None; ``bound`` loads stay on their trips."""
    search = _Parts(carts, left, bound, effort, rng)
    while search.left and not effort.spent:
        search.step()
    return None if search.left else search.carts


class _Parts:
    def __init__(
        self,
        carts: Mapping[int, CartLoad],
        left: Sequence[Load],
        bound: Mapping[str, int],
        effort: Effort,
        rng: Random,
    ) -> None:
        self.carts, self.left, self.bound, self.effort, self.rng = dict(carts), list(left), bound, effort, rng
        deck = next(iter(carts.values())).deck
        loads = [*left, *(one.load for cart in carts.values() for one in cart.placements)]
        self.shares = {load.carton: LEFT + share(load, deck) for load in loads}
        self.costs = dict(self.shares)
        self.steps = 0

    def step(self) -> None:
        """Load a part again, and keep that where it leaves less behind; what is left counts more from now on."""
        self.steps += 1
        kept, loads = self._part()
        self.effort.left -= MAKING * len(loads) * (len(loads) + sum(len(cart.placements) for cart in kept.values()))
        part = Part(kept, loads, self.bound, self.costs)
        found, spent = load_again(part, part.cost(self.left), STEP, self.steps)
        self.effort.left -= int(COMPARISONS * spent)
        if found is not None:
            self.carts |= found.carts
            self.left = list(found.left)
        for load in self.left:
            self.costs[load.carton] += GROWS * self.shares[load.carton]

    def _part(self) -> tuple[dict[int, CartLoad], list[Load]]:
        """What stays on the chosen carts, and the loads of a part, with those that are left: no more than `MOST_FREE`.

        Fewer neighbours are freed as long as too much stands on them, but one on each cart.
        """
        trips = self._chosen()
        for count in range(self.rng.randint(FEWEST, MOST), 0, -1):
            kept, loads = {}, list(self.left)
            for trip in trips:
                kept[trip], off = self._without_neighbours(self.carts[trip], -(-count // len(trips)))
                loads += off
            if len(loads) <= MOST_FREE:
                break
        return kept, loads

    def _chosen(self) -> list[int]:
        """One or two trips, first of all one that a load which is left is bound to."""
        count = 2 if self.rng.random() * 100 < TWO_CARTS else 1
        some = self.rng.sample(list(self.carts), min(count, len(self.carts)))
        wanted = [self.bound[load.carton] for load in self.left if load.carton in self.bound]
        return list(dict.fromkeys([*wanted[:1], *some]))[:count]

    def _without_neighbours(self, cart: CartLoad, count: int) -> tuple[CartLoad, list[Load]]:
        placed = cart.placements
        if not placed:
            return cart, []
        middle = self.rng.choice(placed)
        return cart.without(sorted(range(len(placed)), key=lambda at: apart(placed[at], middle))[:count])
