"""Extras here against shorts there over all stores, so that the fewest visits fail.

A visit fails without any one of what it wants, so it is served whole or not at all: a minimum-cost flow from stores
with extras to visits, in which the arcs into a visit carry what it wants together or nothing. With the visits chosen,
the rest is a transport problem whose linear program has whole solutions (A. Hoffman, J. Kruskal, 1956); which visits
are chosen is what `scipy.optimize.milp` (HiGHS, branch and bound) decides, and where there is too much to search, the
linear program itself, from which visits that are helped in part are dropped.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Self

GAP = 1e-6
"""So near to the best, as a share of it, a plan is taken for the best."""

SEARCH_S, MOST_SEARCHED = 5.0, 100_000
"""How long the best plan is searched for, and over how many possible swaps."""

_NONE = 1e-6


@dataclass(frozen=True)
class Spare:
    """``qty`` cartons of a thing that a store has and does not need; ``item`` says what it is."""

    store: str
    shipment: str
    item: str
    qty: int = 1


@dataclass(frozen=True)
class Want:
    """A carton that a visit will lack: what it is, and the day of the visit; ``worth`` is its part of that visit."""

    store: str
    shipment: str
    carton: str
    item: str
    visit: date
    worth: float = 1.0


@dataclass(frozen=True)
class Swap:
    """Take one ``item`` from a store to the visit that wants it; ``cost`` in visits."""

    spare: Spare
    want: Want
    cost: float
    arrives: date


Lane = Callable[[str, str], tuple[float, date] | None]
"""From store to store: the cost of bringing one carton, in visits, and the day on which it would be there."""


def plan_swaps(spares: Sequence[Spare], wants: Sequence[Want], lane: Lane) -> tuple[Swap, ...]:
    """The swaps of the greatest worth less their cost; all that a visit wants or nothing, none on its day or later.

    Wants of one shipment are those of one visit.
    """
    arcs = _arcs(spares, wants, lane)
    served = {arc.want for arc in arcs}
    hopeless = {want.shipment for want in wants if want not in served}
    arcs = [arc for arc in arcs if arc.want.shipment not in hopeless]
    return tuple(arc for arc, chosen in zip(arcs, _solve(arcs), strict=True) if chosen)


def _arcs(spares: Sequence[Spare], wants: Sequence[Want], lane: Lane) -> list[Swap]:
    of_item: dict[str, list[Spare]] = defaultdict(list)
    for spare in spares:
        of_item[spare.item].append(spare)
    return [
        Swap(spare, want, *found)
        for want in wants
        for spare in of_item[want.item]
        if spare.store != want.store and (found := lane(spare.store, want.store)) is not None and found[1] < want.visit
    ]


def _solve(arcs: Sequence[Swap]) -> list[bool]:
    """Which arcs are taken: the best plan where it can be searched for, else, or where time runs out, a good one."""
    if not arcs:
        return []
    exact = _searched(arcs) if len(arcs) <= MOST_SEARCHED else None
    return _rounded(arcs) if exact is None else exact


def _searched(arcs: Sequence[Swap]) -> list[bool] | None:
    from scipy.optimize import Bounds, LinearConstraint, milp

    problem = _Problem.of(arcs)
    found = milp(
        problem.gain,
        constraints=LinearConstraint(problem.matrix, 0 * problem.limits, problem.limits),
        bounds=Bounds(0, 1),
        integrality=[0] * len(arcs) + [1] * len(problem.visits),
        options={"mip_rel_gap": GAP, "time_limit": SEARCH_S},
    )
    return [bool(flow > 0.5) for flow in found.x[: len(arcs)]] if found.status == 0 else None


def _rounded(arcs: Sequence[Swap]) -> list[bool]:
    """Visits may be helped in part at first; those that are helped least are given up until all are helped whole."""
    from scipy.optimize import linprog

    kept = list(range(len(arcs)))
    while kept:
        problem = _Problem.of([arcs[n] for n in kept])
        spares = problem.spares
        found = linprog(
            problem.gain,
            A_ub=problem.matrix[:spares],
            b_ub=problem.limits[:spares],
            A_eq=problem.matrix[spares:],
            b_eq=problem.limits[spares:],
            bounds=(0, 1),
            method="highs",
        )
        helped = dict(zip(problem.visits, found.x[len(kept) :], strict=True))
        parts = sorted((share, visit) for visit, share in helped.items() if _NONE < share < 1 - _NONE)
        if not parts:
            taken = {n for n, flow in zip(kept, found.x, strict=False) if flow > 0.5}
            return [n in taken for n in range(len(arcs))]
        given_up = {visit for share, visit in parts[: 1 + len(parts) // 2]}
        given_up |= {visit for visit, share in helped.items() if share <= _NONE}
        kept = [n for n in kept if arcs[n].want.shipment not in given_up]
    return [False] * len(arcs)


@dataclass(frozen=True)
class _Problem:
    """Columns: the arcs, then the visits. Rows: the ``spares`` (at most what there is), then the wants (as the visit).

    ``gain`` is the cost of each column, ``limits`` what each row must not exceed; rows of wants must equal it.
    """

    gain: Any
    matrix: Any
    limits: Any
    spares: int
    visits: tuple[str, ...]

    @classmethod
    def of(cls, arcs: Sequence[Swap]) -> Self:
        import numpy as np
        from scipy.sparse import coo_array

        spares = {spare: n for n, spare in enumerate(dict.fromkeys(arc.spare for arc in arcs))}
        wants = {want: n for n, want in enumerate(dict.fromkeys(arc.want for arc in arcs), start=len(spares))}
        visits = {name: n for n, name in enumerate(dict.fromkeys(want.shipment for want in wants), start=len(arcs))}
        rows = [*(spares[arc.spare] for arc in arcs), *(wants[arc.want] for arc in arcs), *wants.values()]
        columns = [*range(len(arcs)), *range(len(arcs)), *(visits[want.shipment] for want in wants)]
        values = np.concatenate([np.ones(2 * len(arcs)), -np.ones(len(wants))])
        gain = np.array([*(arc.cost for arc in arcs), *(0.0 for _ in visits)])
        for want in wants:
            gain[visits[want.shipment]] -= want.worth
        limits = np.array([*(float(spare.qty) for spare in spares), *(0.0 for _ in wants)])
        matrix = coo_array((values, (rows, columns)), shape=(len(limits), len(gain))).tocsr()
        return cls(gain, matrix, limits, len(spares), tuple(visits))
