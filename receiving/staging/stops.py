"""The same number of trips with less walking: fewer stops, bays in setting order, what waits last.

A local search that accepts a change only where the carts can still be placed. First it divides the bays of two trips
anew between them, and moves and swaps loads towards the trip that carries most of their bay, until no stop is saved;
then it moves and swaps loads to bring early bays early. It ends when nothing helps or the effort is spent. How few
stops are possible at all is said by `stop_bounds`.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, permutations, product

from receiving.staging.by_bay import deals, load_by_bay
from receiving.staging.loading import Effort, Placement, arrange, deck_mm3, share, volume_mm3
from receiving.staging.loads import Load
from receiving.staging.stop_bounds import Parts, fewest_stops
from receiving.staging.trips import COMPARISONS_PER_S, PackingProblem, PackingSolution, Route
from receiving.staging.ways import WAYS

Group = tuple[Load, ...]
Groups = tuple[Group, ...]
Key = tuple[bool, int]
Change = dict[int, Group]
Cost = tuple[int, int]
Way = tuple[int, int, int]

MOST_BAYS = 7
"""Two trips with more bays than this are not divided anew: the divisions double with each bay."""

MOST_DIVISIONS = 12
"""This many divisions of two trips are tried, those with fewest stops and most room first."""

FEW_WAYS = 4
"""This many ways to load a cart are tried before a change is given up."""

DEALING = 0.35
"""Part of the effort that is spent on loading bay by bay, as measured; the rest goes to changes of what was found."""


def fewer_stops(
    solution: PackingSolution, problem: PackingProblem, routes: Mapping[str, Route], effort: Effort | None = None
) -> tuple[PackingSolution, int]:
    """The solution with its trips rearranged, and the stops that no plan of as many trips goes below.

    Loads bound to a trip and open-first ones stay on theirs; the bound asks only that what people put on trips stays
    there. It is 0 where no bays are known.
    """
    stops = {load.carton: routes.get(load.carton, Route()).stop for load in problem.loads}
    pinned = {carton: trip for carton, trip in _bound(solution, problem).items() if carton in problem.bound}
    parts = fewest_stops(problem.loads, stops, pinned, problem.deck, solution.driven)
    if solution.driven >= 2:
        search = _Search(problem, routes, solution, effort or Effort(COMPARISONS_PER_S // 4))
        search.run(parts)
        solution = replace(solution, trips=tuple(search.known[_ids(group)] or () for group in search.best))
    return solution, parts.at_least if routes else 0


def _bound(solution: PackingSolution, problem: PackingProblem) -> dict[str, int]:
    """The trips of the loads that stay on theirs: open-first ones, and those that a person put there."""
    return {
        one.load.carton: trip
        for trip, placed in enumerate(solution.trips)
        for one in placed
        if one.load.open_first or (one.load.carton in problem.bound and one.load.carton not in solution.released)
    }


class _Search:
    def __init__(
        self, problem: PackingProblem, routes: Mapping[str, Route], solution: PackingSolution, effort: Effort
    ) -> None:
        self.problem, self.effort = problem, effort
        self.keys: dict[str, Key] = {}
        for load in problem.loads:
            route = routes.get(load.carton, Route())
            self.keys[load.carton] = (route.waits, route.stop)
        self.known: dict[frozenset[str], tuple[Placement, ...] | None] = {
            _ids([one.load for one in trip]): trip for trip in solution.trips
        }
        self.bound = _bound(solution, problem)
        self.best: Groups = tuple(tuple(one.load for one in trip) for trip in solution.trips)

    def run(self, parts: Parts) -> None:
        """Fewest stops first, then early bays early."""
        self._deal(parts)
        while not self.effort.spent and self.stops(self.best) > parts.at_least:
            if not (self._divide_anew() or self._gather()):
                break
        self.best = self._in_setting_order(self.best)
        while not self.effort.spent and self._take_a_change():
            pass

    def is_bound(self, load: Load) -> bool:
        return load.carton in self.bound

    def can_stand(self, group: Sequence[Load]) -> bool:
        ids = _ids(group)
        if ids not in self.known:
            self.known[ids] = arrange(group, self.problem.deck, self.effort, ways=FEW_WAYS)
        return self.known[ids] is not None

    def stops(self, groups: Iterable[Group]) -> int:
        return sum(len(self._bays(group)) for group in groups)

    def _bays(self, group: Iterable[Load]) -> set[int]:
        return {self.keys[load.carton][1] for load in group}

    def _counted(self, group: Group) -> Counter[Key]:
        return Counter(self.keys[load.carton] for load in group)

    def _in_setting_order(self, groups: Groups) -> Groups:
        """Trips without bound loads change places so that early bays come early."""
        free = [i for i, group in enumerate(groups) if group and not any(map(self.is_bound, group))]
        result = list(groups)
        for i, group in zip(free, sorted((groups[i] for i in free), key=self._middle), strict=True):
            result[i] = group
        return tuple(result)

    def _middle(self, group: Sequence[Load]) -> tuple[float, float]:
        keys = [self.keys[load.carton] for load in group]
        return (sum(key[0] for key in keys) / len(keys), sum(key[1] for key in keys) / len(keys))

    def _deal(self, parts: Parts) -> None:
        """Load the trips bay by bay in several manners, and keep the best where it has fewer stops."""
        loads, deck = self.problem.loads, self.problem.deck
        bays = {carton: key[1] for carton, key in self.keys.items()}
        shares: dict[int, float] = defaultdict(float)
        for load in loads:
            shares[bays[load.carton]] += share(load, deck)
        first = frozenset(bays[carton] for carton in self.bound)
        enough = self.effort.left * (1 - DEALING)
        for deal, way in product(deals(parts, shares, self._driven(), first), WAYS[:FEW_WAYS]):
            if self.effort.left < enough or self.stops(self.best) <= parts.at_least:
                return
            loaded = load_by_bay(loads, bays, self.bound, deal, deck, way, self.effort)
            if loaded is not None:
                self._take_if_fewer_stops(loaded)

    def _take_if_fewer_stops(self, loaded: Mapping[int, tuple[Placement, ...]]) -> None:
        groups = tuple(tuple(placed.load for placed in loaded.get(i, ())) for i in range(len(self.best)))
        if self.stops(groups) < self.stops(self.best) and all(groups[i] for i in self._driven()):
            self.known |= {_ids(groups[i]): placements for i, placements in loaded.items()}
            self.best = groups

    def _share(self, group: Iterable[Load]) -> float:
        return sum(share(load, self.problem.deck) for load in group)

    def _take_a_change(self) -> bool:
        """Take the first change with less disorder that can be placed."""
        counts = [self._counted(group) for group in self.best]
        for changed in self._changes():
            anew = {i: self._counted(group) for i, group in changed.items()}
            self._charge([anew.get(i, count) for i, count in enumerate(counts)])
            if _less_disorder(counts, anew) and all(map(self.can_stand, changed.values())):
                self.best = tuple(changed.get(i, group) for i, group in enumerate(self.best))
                return True
            if self.effort.spent:
                break
        return False

    def _charge(self, counts: Sequence[Counter[Key]]) -> None:
        """What comparing all pairs of trips costs: of a change only those of the changed trips are looked at."""
        sizes = [len(count) for count in counts]
        self.effort.left -= (sum(sizes) ** 2 - sum(size * size for size in sizes)) // 2

    def _divide_anew(self) -> bool:
        """Take the first new division of two trips' bays between them that saves a stop and can be placed."""
        for i, j in combinations(self._driven(), 2):
            for one, other in self._divisions(self.best[i], self.best[j]):
                fuller, emptier = sorted((one, other), key=self._fill, reverse=True)
                if self.can_stand(fuller) and self.can_stand(emptier):
                    self.best = tuple({i: one, j: other}.get(k, group) for k, group in enumerate(self.best))
                    return True
                if self.effort.spent:
                    return False
        return False

    def _divisions(self, one: Group, other: Group) -> Iterator[tuple[Group, Group]]:
        """Divisions that save stops, fewest stops first: bays as a whole to one of both, at most one of them in two."""
        free: dict[int, list[Load]] = {}
        for load in filter(self._is_free, (*one, *other)):
            free.setdefault(self.keys[load.carton][1], []).append(load)
        if len(free) > MOST_BAYS:
            return
        bound = [tuple(filter(self.is_bound, group)) for group in (one, other)]
        now = self.stops((one, other))
        found: list[tuple[int, float, tuple[Group, Group]]] = []
        for sides in product((0, 1), repeat=len(free)):
            whole = dict(zip(free, sides, strict=True))
            for split in (None, *free):
                bays = [self._bays(group) for group in bound]
                for bay, side in whole.items():
                    bays[side].add(bay)
                    bays[1 - side] |= {bay} if bay == split else set()
                if sum(map(len, bays)) < now:
                    groups = self._dealt(bound, free, whole, split)
                    if all(groups) and all(map(self._has_room, groups)):
                        found.append((sum(map(len, bays)), max(map(self._fill, groups)), groups))
        self.effort.left -= len(found)
        yield from (groups for *_, groups in sorted(found, key=lambda each: each[:2])[:MOST_DIVISIONS])

    def _fill(self, group: Group) -> float:
        deck = self.problem.deck
        return max(sum(load.weight_g for load in group) / deck.max_g, sum(map(volume_mm3, group)) / deck_mm3(deck))

    def _has_room(self, group: Sequence[Load]) -> bool:
        return sum(load.weight_g for load in group) <= self.problem.deck.max_g

    def _dealt(
        self, bound: Sequence[Group], free: Mapping[int, Sequence[Load]], whole: Mapping[int, int], split: int | None
    ) -> tuple[Group, Group]:
        """The bays to their sides; of the split one the largest loads first to its side, up to half of everything."""
        result = [
            [*group, *(load for bay, own in free.items() if whole[bay] == side and bay != split for load in own)]
            for side, group in enumerate(bound)
        ]
        if split is not None:
            first = whole[split]
            filled = self._share(result[first])
            room_g = self.problem.deck.max_g - sum(load.weight_g for load in result[first])
            half = (sum(map(self._share, result)) + self._share(free[split])) / 2
            for load in sorted(free[split], key=lambda load: -self._share([load])):
                taken = self._share([load])
                takes = load.weight_g <= room_g and filled + taken / 2 < half
                result[first if takes else 1 - first].append(load)
                if takes:
                    room_g, filled = room_g - load.weight_g, filled + taken
        return tuple(result[0]), tuple(result[1])

    def _gather(self) -> bool:
        """Move or swap loads so that stops are saved, or else a bay's loads are less scattered over the trips."""
        counts = {i: Counter(self.keys[load.carton][1] for load in self.best[i]) for i in self._driven()}
        moves = [
            (_moved(counts[i][bay], counts[j][bay]), i, j, bay) for i, j in permutations(counts, 2) for bay in counts[i]
        ]
        back: dict[tuple[int, int], list[tuple[Cost, int, int, int]]] = {}
        for way in moves:
            back.setdefault((way[1], way[2]), []).append(way)
        swaps = [
            ((one[0][0] + other[0][0], one[0][1] + other[0][1]), one, other)
            for one in moves
            if one[1] < one[2]
            for other in back.get((one[2], one[1]), ())
            if one[3] != other[3]
        ]
        ways: list[tuple[Cost, tuple[Way, ...]]] = [
            *((way[0], (way[1:],)) for way in moves),
            *((cost, (one[1:], other[1:])) for cost, one, other in swaps),
        ]
        self.effort.left -= len(ways)
        for cost, steps in sorted(ways):
            if cost >= (0, 0) or self.effort.spent:
                break
            if self._step(steps):
                return True
        return False

    def _step(self, steps: Sequence[Way]) -> bool:
        """One free load for each step from trip to trip, where both carts can be placed then."""
        own = [[x for x in self.best[i] if self._is_free(x) and self.keys[x.carton][1] == bay] for i, _, bay in steps]
        i, j = steps[0][:2]
        for chosen in product(*own):
            self.effort.left -= 1
            one = (*(x for x in self.best[i] if x is not chosen[0]), *chosen[1:])
            other = (*(x for x in self.best[j] if x not in chosen[1:]), chosen[0])
            if one and self._has_room(one) and self._has_room(other) and self.can_stand(one) and self.can_stand(other):
                self.best = tuple({i: one, j: other}.get(k, group) for k, group in enumerate(self.best))
                return True
            if self.effort.spent:
                return False
        return False

    def _changes(self) -> Iterator[Change]:
        """Every move of one free load to another driven trip, then every swap of two."""
        driven = self._driven()
        for i in driven:
            for load in filter(self._is_free, self.best[i]):
                for j in driven:
                    if i != j and len(self.best[i]) > 1:
                        yield {i: _without(self.best[i], load), j: (*self.best[j], load)}
        for i, j in combinations(driven, 2):
            for a in filter(self._is_free, self.best[i]):
                for b in filter(self._is_free, self.best[j]):
                    if self.keys[a.carton] != self.keys[b.carton]:
                        yield {i: (*_without(self.best[i], a), b), j: (*_without(self.best[j], b), a)}

    def _driven(self) -> list[int]:
        return [i for i, group in enumerate(self.best) if group]

    def _is_free(self, load: Load) -> bool:
        return not self.is_bound(load)


def _moved(here: int, there: int) -> Cost:
    """What moving one of a bay's loads between trips with this many of them adds: stops, then scatter."""
    return (not there) - (here == 1), -2 * (there - here + 1)


def _stops_of(count: Counter[Key]) -> int:
    return len({stop for _, stop in count})


def _wrongly_before(earlier: Counter[Key], later: Counter[Key]) -> int:
    """The pairs of loads of an earlier and a later trip that come in the wrong order."""
    return sum(m * n for a, m in earlier.items() for b, n in later.items() if a > b)


def _less_disorder(counts: Sequence[Counter[Key]], anew: Mapping[int, Counter[Key]]) -> bool:
    """True where these trips counted anew give fewer stops, or as many and fewer pairs in the wrong order."""
    stops = sum(_stops_of(anew[i]) - _stops_of(counts[i]) for i in anew)
    if stops:
        return stops < 0
    wrong = 0
    for i, now in anew.items():
        for j, other in enumerate(counts):
            if j == i or (j in anew and j < i):
                continue  # a pair of changed trips is looked at once
            beside = anew.get(j, other)
            if i < j:
                wrong += _wrongly_before(now, beside) - _wrongly_before(counts[i], other)
            else:
                wrong += _wrongly_before(beside, now) - _wrongly_before(other, counts[i])
    return wrong < 0


def _ids(group: Sequence[Load]) -> frozenset[str]:
    return frozenset(load.carton for load in group)


def _without(group: Sequence[Load], load: Load) -> Group:
    return tuple(other for other in group if other is not load)
