"""The same number of trips with less walking: fewer stops, bays in setting order, what waits last.

A local search that moves and swaps loads between trips, and accepts a change only where both carts can still be
stood. It ends when nothing helps or the effort is spent.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from receiving.staging.loading import Effort, Stood, arrange, deck_mm3, volume_mm3
from receiving.staging.loads import Load
from receiving.staging.trips import COMPARISONS_PER_S, Grouping, Route, Task

Groups = tuple[tuple[Load, ...], ...]
Key = tuple[bool, int]


def fewer_stops(grouping: Grouping, task: Task, routes: Mapping[str, Route], *, time_limit_s: float = 0.25) -> Grouping:
    """The grouping with its trips rearranged; loads bound to a trip and open-first ones stay on theirs."""
    if grouping.driven < 2:
        return grouping
    search = _Search(task, routes, grouping, Effort(int(time_limit_s * COMPARISONS_PER_S)))
    while not search.effort.spent and search.improve():
        pass
    return replace(grouping, trips=tuple(search.known[_ids(group)] or () for group in search.best))


class _Search:
    def __init__(self, task: Task, routes: Mapping[str, Route], grouping: Grouping, effort: Effort) -> None:
        self.task, self.effort = task, effort
        self.keys: dict[str, Key] = {}
        for load in task.loads:
            route = routes.get(load.carton, Route())
            self.keys[load.carton] = (route.waits, route.stop)
        self.known: dict[frozenset[str], tuple[Stood, ...] | None] = {
            _ids([one.load for one in trip]): trip for trip in grouping.trips
        }
        self.best = self._in_setting_order(tuple(tuple(one.load for one in trip) for trip in grouping.trips))
        self.least = self.cost(self.best)
        cut = self._cut_in_order()
        if self.cost(cut) < self.least and all(self.can_stand(group) for group in cut):
            self.best, self.least = cut, self.cost(cut)

    def is_bound(self, load: Load) -> bool:
        return load.carton in self.task.bound or load.open_first

    def can_stand(self, group: Sequence[Load]) -> bool:
        ids = _ids(group)
        if ids not in self.known:
            self.known[ids] = arrange(group, self.task.deck, self.effort)
        return self.known[ids] is not None

    def cost(self, groups: Groups) -> tuple[int, int]:
        """Stops in sum; then the pairs of loads that come in the wrong order."""
        counts = [Counter(self.keys[load.carton] for load in group) for group in groups]
        wrong = 0
        for earlier, later in combinations(counts, 2):
            wrong += sum(m * n for a, m in earlier.items() for b, n in later.items() if a > b)
            self.effort.left -= len(earlier) * len(later)
        return (sum(len({key[1] for key in count}) for count in counts), wrong)

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

    def _cut_in_order(self) -> Groups:
        """Free loads in setting order, dealt to the driven trips one after the other by their share of the cart."""
        result = [[load for load in group if self.is_bound(load)] for group in self.best]
        driven = [i for i, group in enumerate(self.best) if group]
        loads = [load for group in self.best for load in group if not self.is_bound(load)]
        loads.sort(key=lambda load: (self.keys[load.carton], load.rank, load.carton))
        target = sum(self._share(group) for group in self.best) / len(driven)
        for i in driven[:-1]:
            while loads and self._share(result[i]) + self._share(loads[:1]) / 2 < target:
                result[i].append(loads.pop(0))
        result[driven[-1]].extend(loads)
        return tuple(map(tuple, result))

    def _share(self, group: Sequence[Load]) -> float:
        weight = sum(load.weight_g for load in group) / self.task.deck.max_g
        return weight + sum(map(volume_mm3, group)) / deck_mm3(self.task.deck)

    def improve(self) -> bool:
        """Take the first change that costs less and can be stood."""
        for changed in self._changes():
            groups = tuple(changed.get(i, group) for i, group in enumerate(self.best))
            cost = self.cost(groups)
            if cost < self.least and all(self.can_stand(group) for group in changed.values()):
                self.best, self.least = groups, cost
                return True
            if self.effort.spent:
                return False
        return False

    def _changes(self) -> Iterator[dict[int, tuple[Load, ...]]]:
        """Every move of one free load to another driven trip, then every swap of two."""
        driven = [i for i, group in enumerate(self.best) if group]
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

    def _is_free(self, load: Load) -> bool:
        return not self.is_bound(load)


def _ids(group: Sequence[Load]) -> frozenset[str]:
    return frozenset(load.carton for load in group)


def _without(group: Sequence[Load], load: Load) -> tuple[Load, ...]:
    return tuple(other for other in group if other is not load)
