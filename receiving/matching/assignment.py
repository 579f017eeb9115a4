"""The one best assignment of partly read labels to cartons, and how far ahead of the next best it is.

Source: the linear assignment problem, solved exactly by scipy's `linear_sum_assignment` (Crouse 2016, "On
implementing 2D rectangular assignment algorithms", doi:10.1109/TAES.2016.140952).
"""

from collections.abc import Sequence
from dataclasses import dataclass

NEVER = 1e6
"""The cost of what cannot be; far above any sum of possible costs."""


@dataclass(frozen=True)
class Row:
    """One label: what it costs to be each open carton, to be a known carton again, to be none.

    ``shared`` are cartons that it may be beside another label (a second view, or a carton already known). ``caution``
    is how much farther ahead, in nats, its answer must be than that of other labels.
    """

    own: tuple[tuple[str, float], ...]
    shared: tuple[tuple[str, float], ...]
    none: float
    caution: float = 0.0


@dataclass(frozen=True)
class Choice:
    """What a label is: a carton, or none (empty); ``again`` where another label shows the same carton.

    ``gap_nats`` is how much more expensive, in nats, the best assignment gets when this label is not that carton;
    ``rivals`` are the cartons, or empty for none, that cost less than ``question_below`` more than the best.
    """

    carton: str
    again: bool
    gap_nats: float
    rivals: tuple[str, ...] = ()


def assign(rows: Sequence[Row], question_below: float) -> tuple[Choice, ...]:
    """The choice for each row: each open carton to at most one row, the sum of costs least."""
    choices: list[Choice | None] = [None] * len(rows)
    # The solver takes time with the cube of the rows; labels that share no carton are solved apart, most of them alone.
    for part in _components(rows):
        found = (
            [_alone(rows[part[0]], question_below)]
            if len(part) == 1
            else _together([rows[n] for n in part], question_below)
        )
        for n, choice in zip(part, found, strict=True):
            choices[n] = choice
    return tuple(choice for choice in choices if choice is not None)


def least_cost(costs: Sequence[Sequence[float]]) -> tuple[tuple[int, ...], float]:
    """The column of each row in the assignment of least sum, and the sum; at least as many columns as rows.

    >>> least_cost([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    ((1, 0, 2), 5.0)
    """
    import numpy
    from scipy.optimize import linear_sum_assignment

    # Rectangular on purpose: there are more columns than rows, and those that no row takes cost nothing.
    matrix = numpy.asarray(costs, dtype=float)
    rows, columns = linear_sum_assignment(matrix)
    return tuple(int(c) for c in columns), float(matrix[rows, columns].sum())


def _alone(row: Row, question_below: float) -> Choice:
    """A label that competes with no other needs no solver."""
    options = sorted(_options(row), key=lambda option: option[0])
    best_cost, carton, again = options[0]
    # By name and not by option: that the same carton is seen again is not another answer to "which carton?".
    others = [(cost, name) for cost, name, _ in options if name != carton]
    gap_nats = min((cost for cost, _ in others), default=NEVER) - best_cost
    rivals = tuple(dict.fromkeys(name for cost, name in others if cost - best_cost < question_below + row.caution))
    return Choice(carton, again, gap_nats, rivals)


def _options(row: Row) -> list[tuple[float, str, bool]]:
    own = [(cost, carton, False) for carton, cost in row.own]
    shared = [(cost, carton, True) for carton, cost in row.shared]
    return [*own, *shared, (row.none, "", False)]


def _together(rows: Sequence[Row], question_below: float) -> list[Choice]:
    """Columns: each open carton once, then for each row a private one for the cheapest of being shared or none."""
    # In the order of the rows, not of a set: hashes of texts differ between runs, and ties would fall differently.
    cartons = list(dict.fromkeys(carton for row in rows for carton, _ in row.own))
    place = {carton: n for n, carton in enumerate(cartons)}
    # A private column makes room for none: the solver must give each row a column, and so no carton is forced on one.
    costs = [[NEVER] * (len(cartons) + len(rows)) for _ in rows]
    for n, row in enumerate(rows):
        for carton, nats in row.own:
            costs[n][place[carton]] = nats
        costs[n][len(cartons) + n] = _cheapest_private(row)[0]
    chosen, total = least_cost(costs)
    names = [cartons[c] if c < len(cartons) else _cheapest_private(rows[n])[1] for n, c in enumerate(chosen)]
    return [
        _judged(
            names[n],
            chosen[n] >= len(cartons) and bool(names[n]),
            _distances(costs, cartons, rows, n, total),
            question_below + rows[n].caution,
        )
        for n in range(len(rows))
    ]


def _cheapest_private(row: Row) -> tuple[float, str]:
    """What a row can be whatever the other rows are: a carton that another label shows, or none (empty)."""
    return min([(nats, carton) for carton, nats in row.shared] + [(row.none, "")])


def _distances(
    costs: Sequence[Sequence[float]], cartons: Sequence[str], rows: Sequence[Row], n: int, total: float
) -> dict[str, float]:
    """How much the least sum grows when row ``n`` is forced to each of its answers; without it, the rest is free."""
    # Forced to an answer, the others may change theirs too: so the sum is solved anew, not read off this row.
    others = [line for m, line in enumerate(costs) if m != n]
    rest = least_cost(others)[1]
    distance = {"": rest + rows[n].none - total}
    for carton, nats in rows[n].shared:
        distance[carton] = rest + nats - total
    for carton, nats in rows[n].own:
        taken = cartons.index(carton)
        without = least_cost([[*line[:taken], *line[taken + 1 :]] for line in others])[1]
        distance[carton] = min(distance.get(carton, NEVER), without + nats - total)
    return distance


def _judged(carton: str, again: bool, distance: dict[str, float], question_below: float) -> Choice:
    others = {name: far for name, far in distance.items() if name != carton}
    rivals = tuple(
        sorted((name for name, far in others.items() if far < question_below), key=lambda name: (others[name], name))
    )
    return Choice(carton, again, min(others.values(), default=NEVER), rivals)


def _components(rows: Sequence[Row]) -> list[list[int]]:
    """The rows grouped so that no two groups want one carton; each group solved by itself is solved exactly."""
    group_of: dict[str, list[int]] = {}
    groups: dict[int, list[int]] = {}
    for n, row in enumerate(rows):
        mine = [n]
        for carton, _ in row.own:
            joined = group_of.get(carton)
            if joined is not None and joined is not mine:
                mine.extend(m for m in joined if m not in mine)
                for name in [name for name, group in group_of.items() if group is joined]:
                    group_of[name] = mine
            group_of[carton] = mine
        for m in mine:
            groups[m] = mine
    unique = {id(group): sorted(group) for group in groups.values()}
    return sorted(unique.values())
