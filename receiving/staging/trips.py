"""Which loads ride together: the fewest cart trips that keep every rule of loading.

Lower bounds come from `bounds`. A first plan loads one cart after the other; then the emptiest cart is taken apart
and its loads are pressed onto the others by `reloading`, as long as that succeeds. When plan and bound meet, the
number of trips is proven and the search stops. Where it is not proven, the plain rule of first fit that stands whole
carts anew has its say, and `by_weight` solves the weights exactly. The effort is counted in places tried, not in
seconds, so the same shipment gives the same plan on every machine.

Measured and left out: choosing among all cart loads met by a set-partitioning MILP (HiGHS, up to 3 s) saved no trip
on ten tasks; trying all places of a load at once in numpy was no faster at 10 to 30 cartons on a cart; slices of the
cart as exact two-dimensional packings, and three more families of dual feasible functions, raised no bound on 24 tasks.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from receiving.staging.bounds import at_least_trips
from receiving.staging.loading import LOADING_ORDERS, CartLoad, Effort, Stood, arrange
from receiving.staging.loads import Deck, Load, clip_to_deck, fits_on
from receiving.staging.reloading import filled, reload_carts

_T = TypeVar("_T")

COMPARISONS_PER_S = 2_500_000
"""Comparisons in a second on a small machine, as measured; turns a time limit into a count."""


@dataclass(frozen=True)
class Route:
    """Where a load goes: its bay's place in the setting order, and whether the work there waits."""

    stop: int = 0
    waits: bool = False


@dataclass(frozen=True)
class Grouping:
    """Loads as they stand, by trip (0-based; those driven before are empty), and the least number of trips possible.

    A load bound to a trip far beyond the others rides on the last one. ``released`` are loads that a person put on a
    trip which cannot take them.
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

    @property
    def begun(self) -> int:
        """The number of trips up to the last one that is driven already or that something is bound to."""
        return max(self.bound.values(), default=self.first_free - 1) + 1


def fits_alone(load: Load, deck: Deck) -> bool:
    """The load alone fits the empty cart."""
    return fits_on(clip_to_deck(load, deck), deck)


def group_loads(task: Task, *, time_limit_s: float = 0.8) -> Grouping:
    """The loads (each fits the cart alone) by trip, in as few trips as the effort finds: ``released`` ones roam."""
    task, released = _bind(task)
    at_least = max(at_least_trips(task.loads, task.deck), task.begun - task.first_free)
    best = _one_after_the_other(task)
    effort = Effort(int(time_limit_s * COMPARISONS_PER_S))
    while _driven(best) > at_least and (fewer := _one_trip_fewer(task, best, effort)) is not None:
        best = fewer
    if _driven(best) > at_least:
        best = _first_fit_restacking(task, _driven(best)) or best
    if _driven(best) > at_least:
        at_least, best = _by_weight(task, at_least, best)
    trips = [tuple(cart.stood) for trip, cart in enumerate(best) if cart.stood or trip < task.first_free]
    return Grouping(tuple(trips), min(at_least, _driven(best)), released)


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


def _one_after_the_other(task: Task) -> list[CartLoad]:
    """Each load on the first cart that takes it; what is bound to a cart comes last, or first where it must."""
    loads = sorted(task.loads, key=LOADING_ORDERS[0])
    carts = _in_turn(task, loads, on_top=True)
    if carts is None:
        place = {carton: number for number, carton in enumerate(task.bound)}
        carts = _in_turn(task, sorted(loads, key=lambda load: place.get(load.carton, len(place))), on_top=False)
    return _must(carts)


def _in_turn(task: Task, loads: Sequence[Load], *, on_top: bool) -> list[CartLoad] | None:
    """The carts loaded in this order, or None where a bound load finds no place on its cart.

    Room is kept for what is bound to a cart and comes later: its weight, and height for what lies ``on_top``.
    """
    carts = [CartLoad(task.deck) for _ in range(task.begun)]
    waiting = {load.carton: load for load in loads if load.carton in task.bound}
    for load in loads:
        waiting.pop(load.carton, None)
        for trip in _trips_for(load, task, carts):
            kept = [other for other in waiting.values() if task.bound[other.carton] == trip]
            tops = [other.height_mm for other in kept if other.open_first and on_top]
            kept_g, kept_mm = sum(other.weight_g for other in kept), max(tops, default=0)
            room = replace(task.deck, max_g=task.deck.max_g - kept_g, height_mm=task.deck.height_mm - kept_mm)
            if _put(load, carts[trip], room):
                break
        else:
            return None
    for cart in carts:
        cart.deck = task.deck
    return carts


def _trips_for(load: Load, task: Task, carts: list[CartLoad]) -> Iterator[int]:
    """The trip that the load is bound to, or all, and a new one when none of them takes it."""
    if load.carton in task.bound:
        yield task.bound[load.carton]
    else:
        yield from range(task.first_free, len(carts))
        carts.append(CartLoad(task.deck))
        yield len(carts) - 1


def _put(load: Load, cart: CartLoad, room: Deck) -> bool:
    cart.deck = room
    stood = cart.place_for(load)
    if stood is not None:
        cart.add(stood)
    return stood is not None


def _one_trip_fewer(task: Task, carts: Sequence[CartLoad], effort: Effort) -> list[CartLoad] | None:
    """The emptiest cart that nothing is bound to taken apart, and its loads pressed onto the others; or None."""
    free = [trip for trip, cart in enumerate(carts) if cart.stood and trip not in task.bound.values()]
    emptiest = min(free, key=lambda trip: filled(carts[trip]))
    fewer = list(carts)
    fewer[emptiest] = fewer[-1]
    others = dict(enumerate(fewer[task.first_free : -1], start=task.first_free))
    left = [one.load for one in carts[emptiest].stood]
    reloaded = reload_carts(others, left, task.bound, effort)
    return None if reloaded is None else [*fewer[: task.first_free], *reloaded.values()]


def _heaviest_first(load: Load) -> tuple[int, str]:
    return (-load.weight_g, load.carton)


def _first_fit_restacking(task: Task, fewer_than: int) -> list[CartLoad] | None:
    """First fit decreasing that stands a whole cart anew for each load: the plain rule to be no worse than."""
    groups: list[list[Load]] = [[] for _ in range(task.begun)]
    stood: list[tuple[Stood, ...]] = [() for _ in groups]
    for load in sorted(task.loads, key=lambda load: (load.carton not in task.bound, _heaviest_first(load))):
        trips = range(task.first_free, len(groups))
        for trip in [task.bound[load.carton]] if load.carton in task.bound else trips:
            found = arrange([*groups[trip], load], task.deck)
            if found is not None:
                groups[trip].append(load)
                stood[trip] = found
                break
        else:
            if load.carton in task.bound or len(groups) - task.first_free >= fewer_than - 1:
                return None
            groups.append([load])
            stood.append(_must(arrange([load], task.deck)))
    return [CartLoad(task.deck, stood=one) for one in stood]


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
        carts.append(CartLoad(task.deck, stood=stood))
    return at_least, carts


def _driven(carts: Sequence[CartLoad]) -> int:
    return sum(1 for cart in carts if cart.stood)


def _must(found: _T | None) -> _T:
    if found is None:
        raise AssertionError("a load that fits the empty cart always finds a place on a cart of its own")
    return found
