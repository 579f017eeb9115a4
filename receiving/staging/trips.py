"""Which loads ride together: the fewest cart trips that keep every rule of loading.

Lower bounds come from `bounds`. A first plan loads one cart after the other; then the emptiest cart is taken apart
and its loads are pressed onto the others by `reloading`, as long as that succeeds. When plan and bound meet, the
number of trips is proven and the search stops. Where it is not proven, the plain rule of first fit that stands whole
carts anew has its say, and `by_weight` solves the weights exactly. The effort is counted in places tried, not in
seconds, so the same shipment gives the same plan on every machine. After a quarter of it `constraints` is asked for one
trip fewer: it finds one, or proves that there is none, more often than a longer search finds one.

Measured and left out: choosing among all cart loads met by a set-partitioning MILP (HiGHS, up to 3 s) saved no trip
on ten problems; trying all places of a load at once in numpy was no faster at 10 to 30 cartons on a cart; slices of the
cart as exact two-dimensional packings, and three more families of dual feasible functions, raised no bound.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from random import Random
from typing import TypeVar

from receiving.staging.bounds import bound_trips
from receiving.staging.constraints import fit_on_carts, is_answered
from receiving.staging.loading import CartLoad, Effort, Placement, arrange
from receiving.staging.loads import Deck, Load, clip_to_deck, fits_on
from receiving.staging.reloading import SEED, filled_share, reload_carts
from receiving.staging.ways import LOADING_ORDERS

_T = TypeVar("_T")

COMPARISONS_PER_S = 2_500_000
"""Comparisons in a second on a small machine, as measured; turns a time limit into a count."""


FIRST = 4
"""One part in this many of the search comes before the constraint program, the rest where that has no answer."""

WORTH_PROVING_S = 2.0
"""With less time than this no constraint program is begun: making one for 40 loads takes a good part of it."""

CONSTRAINED = 0.35
"""Deterministic time of the constraint program for each second of the search: one takes 3 to 7 s, as measured."""


INSTEAD = 0.75
"""What is searched longer where the constraint program is not asked, in time limits."""

SPENT = 2.5
"""What a search that proves nothing takes, in its time limits, as measured."""

LEAST_RESTACKING = 10_000_000
"""Comparisons that first fit with standing anew may take, however little time is given: 600 cartons take 2 million."""

MOST_TRIPS = 1 << 20
"""More trips than there are ever loads."""


@dataclass(frozen=True)
class Route:
    """Where a load goes: its bay's place in the setting order, and whether the work there waits."""

    stop: int = 0
    waits: bool = False


@dataclass(frozen=True)
class PackingSolution:
    """Loads as they stand, by trip (0-based; those driven before are empty), and the least number of trips possible.

    A load bound to a trip far beyond the others rides on the last one. ``released`` are loads that a person put on a
    trip which cannot take them.
    """

    trips: tuple[tuple[Placement, ...], ...]
    at_least: int
    released: tuple[str, ...] = ()

    @property
    def driven(self) -> int:
        """The number of trips that carry something."""
        return sum(1 for trip in self.trips if trip)


@dataclass(frozen=True)
class PackingProblem:
    """The loads to be packed, the cart, and what is bound to a trip (0-based), ``pinned`` of it by people."""

    loads: tuple[Load, ...]
    deck: Deck
    bound: Mapping[str, int] = field(default_factory=dict)
    first_free: int = 0
    pinned: frozenset[str] = frozenset()

    @property
    def begun(self) -> int:
        """The number of trips up to the last one that is driven already or that something is bound to."""
        return max(self.bound.values(), default=self.first_free - 1) + 1


def fits_alone(load: Load, deck: Deck) -> bool:
    """The load alone fits the empty cart."""
    return fits_on(clip_to_deck(load, deck), deck)


def solve_packing(problem: PackingProblem, *, time_limit_s: float) -> PackingSolution:
    """The loads (each fits the cart alone) by trip, in as few trips as the effort finds: ``released`` ones roam.

    The bound holds for all plans that keep what people put on trips of its own; what is open-first sets no limit.
    """
    at_least = bound_trips(problem.loads, problem.deck)
    effort = Effort(int(time_limit_s * COMPARISONS_PER_S))
    begun, problem, released = _bind(problem, time_limit_s)
    pinned = {trip for carton, trip in problem.bound.items() if carton in problem.pinned}
    at_least = max(at_least, len(pinned))
    asked_for = max(pinned, default=problem.first_free - 1) + 1 - problem.first_free
    enough = max(at_least, asked_for)
    first = Effort(effort.left // FIRST)
    best = _as_few_as_found(problem, _one_after_the_other(problem, begun), enough, first, SEED)
    if _driven(best) > at_least:
        at_least, best = _by_weight(problem, at_least, best)
        at_least, best = _by_constraints(problem, at_least, best, time_limit_s)
        enough, problem = max(at_least, asked_for), _bound_as_loaded(problem, best)
        effort.left += _instead_of_constraints(problem, _driven(best) - 1, time_limit_s)
    best = _as_few_as_found(problem, best, enough, effort, SEED + 1)  # other draws than those that found nothing
    if _driven(best) > enough:
        restacking = Effort(max(int(2 * time_limit_s * COMPARISONS_PER_S), LEAST_RESTACKING))
        best = _first_fit_restacking(problem, _driven(best), restacking) or best
    trips = [tuple(cart.placements) for trip, cart in enumerate(best) if cart.placements or trip < problem.first_free]
    return PackingSolution(tuple(trips), min(at_least, _driven(best)), released)


def are_fewest(loads: Sequence[Load], deck: Deck, trips: int, time_limit_s: float) -> bool:
    """No plan takes these loads (each fits alone) on fewer than this many ``trips``; False: not known."""
    if time_limit_s < WORTH_PROVING_S:
        return False
    return fit_on_carts(loads, deck, trips - 1, CONSTRAINED * time_limit_s).impossible


def longest_search_s(time_limit_s: float) -> float:
    """About this many seconds of computing a plan takes at most, constraint programs and all."""
    return time_limit_s if time_limit_s < WORTH_PROVING_S else SPENT * time_limit_s


Carts = dict[int, CartLoad]


def _bind(problem: PackingProblem, time_limit_s: float) -> tuple[Carts, PackingProblem, tuple[str, ...]]:
    """Bind open-first loads to the first trips that take them; release what no longer fits its trip.

    With it the carts as far as that loads them.
    """
    carts: Carts = {}
    bound: dict[str, int] = {}
    released = []
    for load in sorted(problem.loads, key=lambda load: (load.carton not in problem.bound, LOADING_ORDERS[0](load))):
        wanted = problem.bound.get(load.carton)
        if wanted is None and not load.open_first:
            continue
        for trip in [wanted] if wanted is not None else range(problem.first_free, MOST_TRIPS):
            cart = carts.setdefault(trip, CartLoad(problem.deck))
            placed = cart.place_for(load)
            if placed is not None:
                cart.add(placed)
                bound[load.carton] = trip
                break
        else:
            released.append(load.carton)
    if not problem.bound and len(carts) > 1:
        carts = _open_first_alone(problem, len(carts), time_limit_s) or carts
        bound = {one.load.carton: trip for trip, cart in carts.items() for one in cart.placements}
    return carts, replace(problem, bound=bound, pinned=frozenset(problem.bound)), tuple(released)


def _open_first_alone(problem: PackingProblem, fewer_than: int, time_limit_s: float) -> Carts | None:
    """The open-first loads on the fewest trips that they need by themselves, where that is less than first fit took."""
    firsts = {load.carton: load for load in problem.loads if load.open_first}
    alike = tuple(replace(load, open_first=False) for load in firsts.values())
    solution = solve_packing(replace(problem, loads=alike), time_limit_s=time_limit_s)
    if solution.driven >= fewer_than:
        return None
    return {
        trip: CartLoad(problem.deck, placements=[replace(one, load=firsts[one.load.carton]) for one in placed])
        for trip, placed in enumerate(solution.trips)
        if placed
    }


def _one_after_the_other(problem: PackingProblem, begun: Carts) -> list[CartLoad]:
    """Each load on the first cart that takes it; what is bound to a cart comes last, or first where it must."""
    loads = sorted(problem.loads, key=LOADING_ORDERS[0])
    carts = [CartLoad(problem.deck) for _ in range(problem.begun)]
    found = _in_turn(problem, loads, carts)
    if found is None:
        carts = [begun.get(trip) or CartLoad(problem.deck) for trip in range(problem.begun)]
        found = _in_turn(problem, [load for load in loads if load.carton not in problem.bound], carts)
    return _must(found)


def _in_turn(problem: PackingProblem, loads: Sequence[Load], carts: list[CartLoad]) -> list[CartLoad] | None:
    """The carts loaded in this order, or None where a bound load finds no place on its cart.

    Room is kept for what is bound to a cart and comes later: its weight, and height for what lies on top.
    """
    waiting = {load.carton: load for load in loads if load.carton in problem.bound}
    for load in loads:
        waiting.pop(load.carton, None)
        for trip in _trips_for(load, problem, carts):
            kept = [other for other in waiting.values() if problem.bound[other.carton] == trip]
            tops = [other.height_mm for other in kept if other.open_first]
            kept_g, kept_mm = sum(other.weight_g for other in kept), max(tops, default=0)
            room = replace(problem.deck, max_g=problem.deck.max_g - kept_g, height_mm=problem.deck.height_mm - kept_mm)
            if _put(load, carts[trip], room):
                break
        else:
            return None
    for cart in carts:
        cart.deck = problem.deck
    return carts


def _trips_for(load: Load, problem: PackingProblem, carts: list[CartLoad]) -> Iterator[int]:
    """The trip that the load is bound to, or all, and a new one when none of them takes it."""
    if load.carton in problem.bound:
        yield problem.bound[load.carton]
    else:
        yield from range(problem.first_free, len(carts))
        carts.append(CartLoad(problem.deck))
        yield len(carts) - 1


def _put(load: Load, cart: CartLoad, room: Deck) -> bool:
    cart.deck = room
    placed = cart.place_for(load)
    if placed is not None:
        cart.add(placed)
    return placed is not None


def _one_trip_fewer(
    problem: PackingProblem, carts: Sequence[CartLoad], effort: Effort, seed: int
) -> list[CartLoad] | None:
    """The emptiest cart that nothing is bound to taken apart, and its loads pressed onto the others; or None."""
    bound = set(problem.bound.values())
    free = [trip for trip, cart in enumerate(carts) if cart.placements and trip not in bound]
    if not free or len(carts) - 1 in bound:
        return None
    emptiest = min(free, key=lambda trip: filled_share(carts[trip]))
    fewer = list(carts)
    fewer[emptiest] = fewer[-1]
    others = dict(enumerate(fewer[problem.first_free : -1], start=problem.first_free))
    left = [one.load for one in carts[emptiest].placements]
    reloaded = reload_carts(others, left, problem.bound, effort, Random(seed))  # nosec B311
    return None if reloaded is None else [*fewer[: problem.first_free], *reloaded.values()]


def _heaviest_first(load: Load) -> tuple[int, str]:
    return (-load.weight_g, load.carton)


def _first_fit_restacking(problem: PackingProblem, fewer_than: int, effort: Effort) -> list[CartLoad] | None:
    """First fit decreasing that stands a whole cart anew for each load: the plain rule to be no worse than.

    A cart is stood anew only where the load finds no place on it as it stands, and not for a second load of the same
    size until something was added. None where there is none better, or where the effort ends before.
    """
    carts = [CartLoad(problem.deck, effort=effort) for _ in range(problem.begun)]
    failed: list[set[_Shape]] = [set() for _ in carts]
    for load in sorted(problem.loads, key=lambda load: (load.carton not in problem.bound, _heaviest_first(load))):
        trips = range(problem.first_free, len(carts))
        for trip in [problem.bound[load.carton]] if load.carton in problem.bound else trips:
            if effort.spent:
                return None
            found = _with_one_more(carts[trip], load, failed[trip], effort)
            if found is not None:
                carts[trip], failed[trip] = found, set()
                break
        else:
            if load.carton in problem.bound or len(carts) - problem.first_free >= fewer_than - 1:
                return None
            carts.append(CartLoad(problem.deck, effort=effort, placements=_must(arrange([load], problem.deck))))
            failed.append(set())
    return [CartLoad(problem.deck, placements=cart.placements) for cart in carts]


_Shape = tuple[int, int, int, bool, bool]


def _with_one_more(cart: CartLoad, load: Load, failed: set[_Shape], effort: Effort) -> CartLoad | None:
    """The cart with this load, stood anew where it must be; None where that finds no way, as ``failed`` keeps."""
    weighs_g = load.weight_g + sum(one.load.weight_g for one in cart.placements)
    shape = (load.length_mm, load.width_mm, load.height_mm, load.fragile, load.open_first)
    if weighs_g > cart.deck.max_g or shape in failed:
        return None
    placed = cart.place_for(load)
    if placed is not None:
        cart.add(placed)
        return cart
    found = arrange([*(one.load for one in cart.placements), load], cart.deck, effort)
    if found is None:
        failed.add(shape)
        return None
    return CartLoad(cart.deck, effort=effort, placements=found)


def _by_weight(problem: PackingProblem, at_least: int, best: list[CartLoad]) -> tuple[int, list[CartLoad]]:
    """Where weight is what fills the carts, solve the weights exactly and stand each of its groups on a cart."""
    from receiving.staging.by_weight import best_fit_decreasing, fewest_bins

    weights = [load.weight_g for load in problem.loads]
    if problem.bound or problem.first_free or len(best_fit_decreasing(weights, problem.deck.max_g)) < _driven(best):
        return at_least, best
    solved = fewest_bins(weights, problem.deck.max_g)
    at_least = max(at_least, solved.at_least)
    if len(solved.bins) >= _driven(best):
        return at_least, best
    carts = []
    for group in solved.bins:
        placed = arrange((problem.loads[index] for index in group), problem.deck)
        if placed is None:
            return at_least, best
        carts.append(CartLoad(problem.deck, placements=placed))
    return at_least, carts


def _as_few_as_found(
    problem: PackingProblem, best: list[CartLoad], enough: int, effort: Effort, seed: int
) -> list[CartLoad]:
    """One trip fewer as long as there are more than ``enough`` and that is found."""
    while _driven(best) > enough and (fewer := _one_trip_fewer(problem, best, effort, seed)) is not None:
        best = fewer
    return best


def _by_constraints(
    problem: PackingProblem, at_least: int, best: list[CartLoad], time_limit_s: float
) -> tuple[int, list[CartLoad]]:
    """One trip fewer as long as the constraint program finds it, and the proof where it finds that there is none.

    Where people put loads on trips it is not asked. What is open-first keeps to the first trips, on no more than now.
    """
    while _driven(best) > at_least and not problem.pinned and time_limit_s >= WORTH_PROVING_S:
        answer = fit_on_carts(problem.loads, problem.deck, _driven(best) - 1, CONSTRAINED * time_limit_s)
        if answer.impossible:
            return _driven(best), best
        if answer.carts is None or _with_open_first(answer.carts) > _with_open_first(c.placements for c in best):
            break
        ordered = sorted(answer.carts, key=lambda placed: not _with_open_first([placed]))
        empty = [CartLoad(problem.deck) for _ in range(problem.first_free)]
        best = [*empty, *(CartLoad(problem.deck, placements=placed) for placed in ordered)]
    return at_least, best


def _instead_of_constraints(problem: PackingProblem, carts: int, time_limit_s: float) -> int:
    """The comparisons that are made where the constraint program is not asked, in the time that it would take."""
    if time_limit_s < WORTH_PROVING_S or (not problem.pinned and is_answered(len(problem.loads), carts)):
        return 0
    return int(INSTEAD * time_limit_s * COMPARISONS_PER_S)


def _bound_as_loaded(problem: PackingProblem, carts: Sequence[CartLoad]) -> PackingProblem:
    """With what is open-first bound to the trip that it is on, where people bound nothing."""
    if problem.pinned:
        return problem
    on_trip = {one.load.carton: trip for trip, cart in enumerate(carts) for one in cart.placements}
    firsts = [load.carton for load in problem.loads if load.open_first]
    return replace(problem, bound={carton: on_trip[carton] for carton in firsts})


def _with_open_first(carts: Iterable[Sequence[Placement]]) -> int:
    """How many carts have something that is opened first."""
    return sum(any(one.load.open_first for one in placed) for placed in carts)


def _driven(carts: Sequence[CartLoad]) -> int:
    return sum(1 for cart in carts if cart.placements)


def _must(found: _T | None) -> _T:
    if found is None:
        raise AssertionError("a load that fits the empty cart always finds a place on a cart of its own")
    return found
