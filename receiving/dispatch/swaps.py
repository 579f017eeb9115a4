"""Extras here against shorts there over all stores, so that the fewest visits fail.

A visit fails without any one of what it wants, so it is served whole or not at all: a minimum-cost flow from stores
with extras to visits, in which the arcs into a visit carry what it wants together or nothing. With the visits chosen,
the rest is a transport problem whose linear program has whole solutions (A. Hoffman, J. Kruskal, 1956); which visits
are chosen is what `scipy.optimize.milp` (HiGHS, branch and bound) decides.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

GAP = 1e-6
"""So near to the best, as a share of it, a plan is taken for the best."""

SEARCH_S = 20.0


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
    """Columns: the arcs, then the visits. Rows: the spares (no more than there is), then the wants (as their visit)."""
    if not arcs:
        return []
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    spares = {spare: n for n, spare in enumerate(dict.fromkeys(arc.spare for arc in arcs))}
    wants = {want: n for n, want in enumerate(dict.fromkeys(arc.want for arc in arcs), start=len(spares))}
    visits = {name: n for n, name in enumerate(dict.fromkeys(want.shipment for want in wants), start=len(arcs))}
    rows = [*(spares[arc.spare] for arc in arcs), *(wants[arc.want] for arc in arcs), *wants.values()]
    columns = [*range(len(arcs)), *range(len(arcs)), *(visits[want.shipment] for want in wants)]
    values = np.concatenate([np.ones(2 * len(arcs)), -np.ones(len(wants))])
    size = (len(spares) + len(wants), len(arcs) + len(visits))
    gain = np.zeros(size[1])
    gain[: len(arcs)] = [arc.cost for arc in arcs]
    for want in wants:
        gain[visits[want.shipment]] -= want.worth
    most = np.array([*(spare.qty for spare in spares), *(0 for _ in wants)])
    least = np.array([*(0 for _ in spares), *(0 for _ in wants)])
    found = milp(
        gain,
        constraints=LinearConstraint(coo_array((values, (rows, columns)), shape=size).tocsr(), least, most),
        bounds=Bounds(0, 1),
        integrality=np.concatenate([np.zeros(len(arcs)), np.ones(len(visits))]),
        options={"mip_rel_gap": GAP, "time_limit": SEARCH_S},
    )
    # Where time runs out the best plan so far is given; none is known for a moment at most.
    return [bool(flow > 0.5) for flow in found.x[: len(arcs)]] if found.x is not None else [False] * len(arcs)
