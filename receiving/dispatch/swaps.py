"""Extras here against shorts there: a minimum-cost flow over all stores, so that the fewest visits fail.

The problem is a transport problem with bounds, whose linear program has whole solutions: the matrix of a bipartite flow
is totally unimodular (A. Hoffman, J. Kruskal, 1956). It is solved by the HiGHS simplex of `scipy.optimize.linprog`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Spare:
    """``qty`` cartons of a thing that a store has and does not need; ``item`` says what it is."""

    store: str
    shipment: str
    item: str
    qty: int = 1


@dataclass(frozen=True)
class Want:
    """A missing carton: what it is, and the day of the visit; ``worth`` is what its visit loses without it."""

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
    """The swaps of the greatest worth less their cost; none that arrives on the day of the visit or later."""
    arcs = [
        Swap(spare, want, *found)
        for want in wants
        for spare in spares
        if spare.item == want.item and spare.store != want.store
        if (found := lane(spare.store, want.store)) is not None and found[1] < want.visit and found[0] < want.worth
    ]
    return tuple(arc for arc, chosen in zip(arcs, _solve(arcs), strict=True) if chosen)


def _solve(arcs: Sequence[Swap]) -> list[bool]:
    if not arcs:
        return []
    import numpy as np
    from scipy.optimize import linprog
    from scipy.sparse import coo_array

    spares = {spare: n for n, spare in enumerate(dict.fromkeys(arc.spare for arc in arcs))}
    wants = {want: n for n, want in enumerate(dict.fromkeys(arc.want for arc in arcs), start=len(spares))}
    rows = [spares[arc.spare] for arc in arcs] + [wants[arc.want] for arc in arcs]
    columns = [*range(len(arcs)), *range(len(arcs))]
    matrix = coo_array((np.ones(len(rows)), (rows, columns)), shape=(len(spares) + len(wants), len(arcs)))
    limits = [spare.qty for spare in spares] + [1] * len(wants)
    gain = [arc.cost - arc.want.worth for arc in arcs]
    found = linprog(gain, A_ub=matrix.tocsr(), b_ub=limits, bounds=(0, 1), method="highs-ds")
    return [bool(flow > 0.5) for flow in found.x]
