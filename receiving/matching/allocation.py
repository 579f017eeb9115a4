"""Which positions can be set completely with the stock at hand, and the least to order so that all can.

Setting a position takes all its parts or none, so the most positions is a set packing: solved exactly as a mixed
integer programme (scipy's HiGHS), part by part of the problem. The least order is the demand that a maximum flow
from stock to needs leaves unfilled; keeping the settable positions filled costs nothing, since augmenting a flow
never empties a need (Ford and Fulkerson 1956).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from receiving.model import Address
from receiving.model.contents import Allocation, Lacking, PositionNeed, Used

Filled = dict[tuple[int, str], int]
"""(number of the need, stock) -> pieces."""


@dataclass(frozen=True)
class Need:
    """One part of one position; ``position`` counts in setting order."""

    position: int
    address: Address
    part: str
    qty: int
    will_do: tuple[str, ...]


def settable_positions(
    needs: Iterable[PositionNeed], stock: Iterable[tuple[str, int]], *, limit_s: float = 5.0
) -> Allocation:
    """The most positions that can be set completely, the earlier ones where the choice is free, and what is lacking.

    ``needs`` in setting order; ``stock`` as (name, usable pieces). ``order`` is of least pieces in sum; each entry
    is (position, part, quantity). ``limit_s`` bounds each solver run; ``proven`` says whether it was enough.
    """
    positions = tuple(needs)
    wanted = [Need(p, need.address, *part) for p, need in enumerate(positions) for part in need.parts]
    left: dict[str, int] = defaultdict(int)
    for name, qty in stock:
        left[name] += qty
    filled, hard = _fill_from_plenty(wanted, left)
    proven, waiting = True, set[int]()
    for part in _components(wanted, hard, left):
        stuck, sure = _most([(n, wanted[n]) for n in part], left, limit_s)
        filled.update(_least_order([(n, wanted[n]) for n in part], left, stuck))
        waiting |= stuck
        proven = proven and sure
    return _allocation(positions, wanted, filled, waiting, proven)


def _allocation(
    positions: Sequence[PositionNeed], wanted: Sequence[Need], filled: Filled, waiting: set[int], proven: bool
) -> Allocation:
    got: dict[int, int] = defaultdict(int)
    for (n, _), qty in filled.items():
        got[n] += qty
    order = tuple((need.address, need.part, need.qty - got[n]) for n, need in enumerate(wanted) if got[n] < need.qty)
    lacking: dict[Address, list[tuple[str, int]]] = defaultdict(list)
    for address, part, qty in order:
        lacking[address].append((part, qty))
    return Allocation(
        tuple(need.address for p, need in enumerate(positions) if p not in waiting),
        tuple(Lacking(positions[p].address, tuple(lacking[positions[p].address])) for p in sorted(waiting)),
        tuple(Used(wanted[n].address, wanted[n].part, stock, qty) for (n, stock), qty in sorted(filled.items())),
        order,
        proven,
    )


def _fill_from_plenty(wanted: Sequence[Need], left: dict[str, int]) -> tuple[Filled, list[int]]:
    """Fill each need that one stock can serve beside all others that may want it: no choice is lost by that."""
    demand: dict[str, int] = defaultdict(int)
    for need in wanted:
        for stock in need.will_do:
            demand[stock] += need.qty
    filled: Filled = {}
    open_needs = list(range(len(wanted)))
    while True:
        easy = [(n, s) for n in open_needs for s in wanted[n].will_do[:] if 0 < demand[s] <= left.get(s, 0)]
        if not easy:
            return filled, open_needs
        for n, stock in dict(reversed(easy)).items():
            filled[n, stock] = wanted[n].qty
            left[stock] -= wanted[n].qty
            for other in wanted[n].will_do:
                demand[other] -= wanted[n].qty
        open_needs = [n for n in open_needs if n not in dict(easy)]


def _components(wanted: Sequence[Need], hard: Sequence[int], left: Mapping[str, int]) -> list[list[int]]:
    """The needs left over, grouped so that no two groups share a position or a stock."""
    parent: dict[object, object] = {}

    def root(node: object) -> object:
        while parent.setdefault(node, node) != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for n in hard:
        for stock in wanted[n].will_do:
            if left.get(stock, 0):
                parent[root(stock)] = root(wanted[n].position)
    groups: dict[object, list[int]] = defaultdict(list)
    for n in hard:
        groups[root(wanted[n].position)].append(n)
    return list(groups.values())


def _most(needs: Sequence[tuple[int, Need]], left: Mapping[str, int], limit_s: float) -> tuple[set[int], bool]:
    """The positions that must wait when as many as can be are set; and whether that is proven."""
    places = sorted({need.position for _, need in needs})
    hopeless = {need.position for _, need in needs if sum(left.get(s, 0) for s in need.will_do) < need.qty}
    hopeful = [p for p in places if p not in hopeless]
    if not hopeful:
        return hopeless, True
    arcs = _arcs([(n, need) for n, need in needs if need.position not in hopeless], left)
    count = len(hopeful)
    # The sum of all preferences is below one half: they choose between equal counts and never against one more.
    gain = [1 + (count - rank) / (count * (count + 1)) for rank in range(count)]
    chosen, proven = _solve(arcs, needs, left, limit_s, place_of={p: k for k, p in enumerate(hopeful)}, gain=gain)
    return hopeless | {p for k, p in enumerate(hopeful) if chosen[k] < 0.5}, proven


def _least_order(needs: Sequence[tuple[int, Need]], left: Mapping[str, int], waiting: set[int]) -> Filled:
    """The fullest use of the stock that leaves every settable position complete."""
    arcs = _arcs(needs, left)
    if not arcs:
        return {}
    chosen, _ = _solve(arcs, needs, left, None, must={n for n, need in needs if need.position not in waiting})
    return {arc: round(qty) for arc, qty in zip(arcs, chosen, strict=True) if qty > 0.5}


def _arcs(needs: Sequence[tuple[int, Need]], left: Mapping[str, int]) -> list[tuple[int, str]]:
    return [(n, stock) for n, need in needs for stock in need.will_do if left.get(stock, 0)]


def _solve(
    arcs: Sequence[tuple[int, str]],
    needs: Sequence[tuple[int, Need]],
    left: Mapping[str, int],
    limit_s: float | None,
    *,
    place_of: Mapping[int, int] | None = None,
    gain: Sequence[float] = (),
    must: set[int] | frozenset[int] = frozenset(),
) -> tuple[list[float], bool]:
    """The mixed integer programme: first the positions of ``place_of``, then the pieces on each arc.

    With positions, a need is filled exactly when its position is set. Without, the pieces in use are most, and the
    needs in ``must`` are full; own stock is preferred to spares by a preference too small to cost a piece.
    """
    import numpy
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    first = len(gain)
    rows: list[tuple[list[tuple[int, float]], float, float]] = []
    by_need: dict[int, list[int]] = defaultdict(list)
    by_stock: dict[str, list[int]] = defaultdict(list)
    for k, (n, stock) in enumerate(arcs):
        by_need[n].append(first + k)
        by_stock[stock].append(first + k)
    for n, need in needs:
        terms = [(k, 1.0) for k in by_need.get(n, ())]
        if place_of is None:
            rows.append((terms, need.qty if n in must else 0, need.qty))
        elif need.position in place_of:
            rows.append(([*terms, (place_of[need.position], -float(need.qty))], 0, 0))
    rows.extend(([(k, 1.0) for k in ks], 0, left[stock]) for stock, ks in by_stock.items())
    entries = [(r, k, value) for r, (terms, _, _) in enumerate(rows) for k, value in terms]
    matrix = coo_array(
        ([v for *_, v in entries], ([r for r, *_ in entries], [k for _, k, _ in entries])),
        shape=(len(rows), first + len(arcs)),
    )
    will_do = {n: need.will_do for n, need in needs}
    total = sum(need.qty for _, need in needs) + 1
    liking = [-1.0 + will_do[n].index(stock) / (total * len(will_do[n])) for n, stock in arcs]
    result = milp(
        numpy.array([-g for g in gain] + ([0.0] * len(arcs) if first else liking)),
        integrality=numpy.ones(first + len(arcs)),
        bounds=Bounds(0, numpy.array([1.0] * first + [float(left[stock]) for _, stock in arcs])),
        constraints=LinearConstraint(matrix.tocsr(), [low for _, low, _ in rows], [high for *_, high in rows]),
        options={"mip_rel_gap": 0.0} | ({} if limit_s is None else {"time_limit": limit_s}),
    )
    if result.x is None:
        return [0.0] * (first + len(arcs)), False
    return list(result.x), result.status == 0
