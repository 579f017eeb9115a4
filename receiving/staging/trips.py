"""Which loads ride together: the fewest cart trips that keep every rule of loading, then the fewest stops.

Lower bounds come from `bounds`; plans from many loadings that differ in order, in how places are preferred and in
how the load is spread over the carts. When the two meet, the number of trips is proven and the search stops. Where
weight alone is in the way, `by_weight` solves that exactly. The effort is counted in places tried, not in seconds,
so the same shipment gives the same plan on every machine.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar
from zlib import crc32

from receiving.staging.bounds import at_least_trips
from receiving.staging.loading import (
    LOADING_ORDERS,
    PREFERENCES,
    CartLoad,
    Effort,
    Stood,
    arrange,
    deck_mm3,
    volume_mm3,
)
from receiving.staging.loads import Deck, Load, clip_to_deck, fits_on

_T = TypeVar("_T")

COMPARISONS_PER_S = 2_500_000
"""Comparisons in a second on a small machine, as measured; turns a time limit into a count."""

ATTEMPT = 500
"""What one loading of all carts costs beside the comparisons in it, in comparisons, as measured."""

STIRS = 60
"""Rounds after which stirring the order brings nothing new."""

SEARCH, REPACK = 0.6, 0.2
"""Parts of the time limit for the loadings in many manners, and for each of the two that stand whole carts anew."""

ENDLESS = 1 << 60


@dataclass(frozen=True)
class Route:
    """Where a load goes: its bay's place in the setting order, and whether the work there waits."""

    stop: int = 0
    waits: bool = False


@dataclass(frozen=True)
class Grouping:
    """Loads as they stand, by trip (0-based; an empty one is not driven), and the least number of trips possible.

    ``released`` are loads that a person put on a trip which cannot take them.
    """

    trips: tuple[tuple[Stood, ...], ...]
    at_least: int
    released: tuple[str, ...] = ()

    @property
    def driven(self) -> int:
        """The number of trips that carry something."""
        return sum(1 for trip in self.trips if trip)


@dataclass(frozen=True)
class Task:
    """The loads to be grouped, the cart, and what is bound to a trip (0-based)."""

    loads: tuple[Load, ...]
    deck: Deck
    bound: Mapping[str, int] = field(default_factory=dict)
    first_free: int = 0


@dataclass(frozen=True)
class Manner:
    """One way to load: order, preferred places, carts to spread over (0: one after the other), and a stir."""

    order: int
    preference: int
    carts: int = 0
    balance: int = 0
    stir: int = 0
    bound_first: bool = False


def fits_alone(load: Load, deck: Deck) -> bool:
    """The load alone fits the empty cart."""
    return fits_on(clip_to_deck(load, deck), deck)


def group_loads(task: Task, *, time_limit_s: float = 0.8) -> Grouping:
    """The loads (each fits the cart alone) by trip, in as few trips as the effort finds: ``released`` ones roam."""
    task, released = _bind(task)
    wished = max(task.bound.values(), default=task.first_free - 1) + 1 - task.first_free
    at_least = max(at_least_trips(task.loads, task.deck), wished)
    effort = Effort(int(SEARCH * time_limit_s * COMPARISONS_PER_S))
    best = _must(load_carts(task, Manner(0, 0, bound_first=True), Effort(ENDLESS)))
    for manner in _manners(at_least):
        if _driven(best) <= at_least or effort.spent:
            break
        tried = replace(manner, carts=manner.carts and _driven(best) - 1)
        carts = load_carts(task, tried, effort)
        if carts is not None and _driven(carts) < _driven(best):
            best = carts
    for order in (_heaviest_first, _largest_first):
        if _driven(best) > at_least:
            repacked = _first_fit_repacking(task, order, Effort(int(REPACK * time_limit_s * COMPARISONS_PER_S)))
            best = repacked if repacked is not None and _driven(repacked) < _driven(best) else best
    if _driven(best) > at_least:
        at_least, best = _by_weight(task, at_least, best)
    return Grouping(tuple(tuple(cart.stood) for cart in best), min(at_least, _driven(best)), released)


def _bind(task: Task) -> tuple[Task, tuple[str, ...]]:
    """Bind open-first loads to the first trips that take them; release what no longer fits its trip."""
    carts: dict[int, CartLoad] = {}
    bound: dict[str, int] = {}
    released = []
    for load in sorted(task.loads, key=lambda load: (load.carton not in task.bound, LOADING_ORDERS[0](load))):
        wanted = task.bound.get(load.carton)
        if wanted is None and not load.open_first:
            continue
        for trip in [wanted] if wanted is not None else range(task.first_free, task.first_free + len(task.loads)):
            cart = carts.setdefault(trip, CartLoad(task.deck))
            stood = cart.place_for(load)
            if stood is not None:
                cart.add(stood)
                bound[load.carton] = trip
                break
        else:
            released.append(load.carton)
    return replace(task, bound=bound), tuple(released)


def _manners(at_least: int) -> Iterator[Manner]:
    """Loadings to try, plain ones first, then ever more stirred ones."""
    ways = [(order, preference) for preference in range(len(PREFERENCES)) for order in range(len(LOADING_ORDERS))]
    for stir in range(STIRS):
        for number, (order, preference) in enumerate(ways):
            if at_least > 1:
                yield Manner(order, preference, 0, 0, stir)
            yield Manner(order, preference, 1, (number + stir) % 3, stir)


def load_carts(task: Task, manner: Manner, effort: Effort) -> list[CartLoad] | None:
    """The carts loaded in this manner, or None when a load finds no place or the effort is spent."""
    effort.left -= ATTEMPT
    fleet = _Fleet(task, manner, effort)
    for load in fleet.sequence():
        if effort.spent or not fleet.take(load):
            return None
    return fleet.carts


class _Fleet:
    """The carts of one attempt, with room kept for what is bound to them."""

    def __init__(self, task: Task, manner: Manner, effort: Effort) -> None:
        self.task, self.manner, self.effort = task, manner, effort
        last_bound = max(task.bound.values(), default=-1)
        count = max(last_bound + 1, task.first_free + manner.carts)
        self.carts = [self._empty() for _ in range(count)]
        self.volumes = [0] * count
        self.kept_g = [0] * count
        self.kept_mm = [0] * count
        for load in task.loads:
            if load.carton in task.bound:
                trip = task.bound[load.carton]
                self.kept_g[trip] += load.weight_g
                if load.open_first and not manner.bound_first:
                    self.kept_mm[trip] = max(self.kept_mm[trip], load.height_mm)

    def _empty(self) -> CartLoad:
        return CartLoad(self.task.deck, PREFERENCES[self.manner.preference], self.effort)

    def sequence(self) -> list[Load]:
        """The loads in loading order; bound ones first in the order in which `_bind` found them places."""
        order, stir = LOADING_ORDERS[self.manner.order], self.manner.stir
        place = {carton: number for number, carton in enumerate(self.task.bound)} if self.manner.bound_first else {}

        def key(load: Load) -> tuple[float, ...]:
            rank, *sizes = order(load)
            turn = place.get(load.carton, len(place))
            shake = 1 + (0.15 * (1 + stir % 4) * _shake(stir, load.carton) if stir else 0)
            return (turn, rank, *(size * shake for size in sizes))

        return sorted(self.task.loads, key=key)

    def take(self, load: Load) -> bool:
        if load.carton in self.task.bound:
            trip = self.task.bound[load.carton]
            self.kept_g[trip] -= load.weight_g
            if load.open_first:
                self.kept_mm[trip] = 0
            return self._put(load, trip)
        return any(self._put(load, trip) for trip in self._choices())

    def _choices(self) -> Iterable[int]:
        trips = range(self.task.first_free, len(self.carts))
        if not self.manner.carts:
            yield from trips
            self.carts.append(self._empty())
            self.volumes.append(0)
            self.kept_g.append(0)
            self.kept_mm.append(0)
            yield len(self.carts) - 1
        else:
            yield from sorted(trips, key=lambda trip: (self._filled(trip), trip))

    def _filled(self, trip: int) -> float:
        weight = self.carts[trip].weight_g / self.task.deck.max_g
        volume = self.volumes[trip] / deck_mm3(self.task.deck)
        return (weight, volume, max(weight, volume))[self.manner.balance]

    def _put(self, load: Load, trip: int) -> bool:
        cart = self.carts[trip]
        deck = self.task.deck
        cart.deck = replace(deck, max_g=deck.max_g - self.kept_g[trip], height_mm=deck.height_mm - self.kept_mm[trip])
        stood = cart.place_for(load)
        if stood is None:
            return False
        cart.add(stood)
        self.volumes[trip] += volume_mm3(load)
        return True


def _heaviest_first(load: Load) -> tuple[int, str]:
    return (-load.weight_g, load.carton)


def _largest_first(load: Load) -> tuple[int, str]:
    return (-volume_mm3(load), load.carton)


def _first_fit_repacking(task: Task, order: Callable[[Load], tuple[int, str]], effort: Effort) -> list[CartLoad] | None:
    """First fit decreasing that stands a whole cart anew for each load: the plain rule to be no worse than."""
    groups: list[list[Load]] = [[] for _ in range(max(task.bound.values(), default=task.first_free - 1) + 1)]
    stood: list[tuple[Stood, ...]] = [() for _ in groups]
    for load in sorted(task.loads, key=lambda load: (load.carton not in task.bound, order(load))):
        trips = range(task.first_free, len(groups))
        for trip in [task.bound[load.carton]] if load.carton in task.bound else trips:
            found = arrange([*groups[trip], load], task.deck, effort)
            if found is not None:
                groups[trip].append(load)
                stood[trip] = found
                break
        else:
            if effort.spent or load.carton in task.bound:
                return None
            groups.append([load])
            stood.append(_must(arrange([load], task.deck)))
        if effort.spent:
            return None
    return [cart_of(one, task.deck) for one in stood]


def _by_weight(task: Task, at_least: int, best: list[CartLoad]) -> tuple[int, list[CartLoad]]:
    """Where weight is what fills the carts, solve the weights exactly and stand each of its groups on a cart."""
    from receiving.staging.by_weight import best_fit_decreasing, fewest_bins

    weights = [load.weight_g for load in task.loads]
    if task.bound or task.first_free or len(best_fit_decreasing(weights, task.deck.max_g)) < _driven(best):
        return at_least, best
    solved = fewest_bins(weights, task.deck.max_g)
    at_least = max(at_least, solved.at_least)
    if len(solved.bins) >= _driven(best):
        return at_least, best
    carts = []
    for group in solved.bins:
        stood = arrange((task.loads[index] for index in group), task.deck)
        if stood is None:
            return at_least, best
        carts.append(cart_of(stood, task.deck))
    return at_least, carts


def cart_of(stood: Sequence[Stood], deck: Deck) -> CartLoad:
    """A cart that holds these loads as they stand."""
    cart = CartLoad(deck)
    for one in stood:
        cart.add(one)
    return cart


def _driven(carts: Sequence[CartLoad]) -> int:
    return sum(1 for cart in carts if cart.stood)


def _must(found: _T | None) -> _T:
    if found is None:
        raise AssertionError("a load that fits the empty cart always finds a place on a cart of its own")
    return found


def _shake(stir: int, carton: str) -> float:
    """A number from -1 to 1 that looks random and is always the same."""
    return crc32(f"{stir} {carton}".encode()) / 0x7FFFFFFF - 1
