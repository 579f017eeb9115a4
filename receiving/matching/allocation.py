"""Which positions can be set completely with the stock at hand, and the least to order so that all can.

Setting a position takes all its parts or none, so the most positions is a set packing: solved exactly as a mixed
integer programme (scipy's HiGHS), part by part of the problem. The least order is the demand that a maximum flow
from stock to needs leaves unfilled; keeping the settable positions filled costs nothing, since augmenting a flow
never empties a need (Ford and Fulkerson 1956).
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from receiving.model import Address
from receiving.model.contents import Allocation, Lacking, PositionNeed, Used


@dataclass
class Programme:
    """A mixed integer programme in the making: whole-number unknowns, and sums of them between two bounds."""

    gains: list[float] = field(default_factory=list)
    limits: list[int] = field(default_factory=list)
    sums: list[tuple[dict[int, int], int, int]] = field(default_factory=list)

    def unknown(self, gain: float, limit: int) -> int:
        """A new unknown from 0 to ``limit``; each unit of it gains ``gain``. Returns its number."""
        self.gains.append(gain)
        self.limits.append(limit)
        return len(self.gains) - 1

    def between(self, terms: dict[int, int], low: int, high: int) -> None:
        """The sum of unknowns times factors lies between the bounds."""
        self.sums.append((terms, low, high))

    def solve(self, limit_s: float | None = None) -> tuple[list[int], bool]:
        """The values of greatest gain, and whether that is proven; all 0 where the time was too short for any."""
        import numpy
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        entries = [(r, k, factor) for r, (terms, _, _) in enumerate(self.sums) for k, factor in terms.items()]
        rows, columns, factors = zip(*entries, strict=True)
        matrix = coo_array((factors, (rows, columns)), shape=(len(self.sums), len(self.gains)), dtype=float)
        result = milp(
            -numpy.array(self.gains),
            integrality=numpy.ones(len(self.gains)),
            bounds=Bounds(0, numpy.array(self.limits, dtype=float)),
            constraints=LinearConstraint(
                matrix.tocsr(), *zip(*[(low, high) for _, low, high in self.sums], strict=True)
            ),
            # HiGHS stops at a gap of 0.01 % otherwise: more than the preference for one position may be worth.
            options={"mip_rel_gap": 0.0} | ({} if limit_s is None else {"time_limit": limit_s}),
        )
        if result.x is None:
            return [0] * len(self.gains), False
        # The solver's whole numbers are whole up to 1e-6.
        return [round(value) for value in result.x], result.status == 0


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
        # Enough for everybody who may want it: whoever takes it takes it from nobody. What is left of a shipment is
        # small.
        plenty = {s for s, qty in demand.items() if 0 < qty <= left.get(s, 0)}
        easy = {n: s for n in open_needs if (s := next((s for s in wanted[n].will_do if s in plenty), None))}
        if not easy:
            return filled, open_needs
        for n, stock in easy.items():
            filled[n, stock] = wanted[n].qty
            left[stock] -= wanted[n].qty
            for other in wanted[n].will_do:
                demand[other] -= wanted[n].qty
        open_needs = [n for n in open_needs if n not in easy]


def _components(wanted: Sequence[Need], hard: Sequence[int], left: Mapping[str, int]) -> list[list[int]]:
    """The needs left over, grouped so that no two groups share a position or a stock."""
    parent: dict[object, object] = {}

    def root(node: object) -> object:
        while parent.setdefault(node, node) != node:
            # Path halving (Tarjan & van Leeuwen 1984) in a union of sets.
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
    # Even alone it could not be filled; its pieces are free for the others.
    hopeless = {need.position for _, need in needs if sum(left.get(s, 0) for s in need.will_do) < need.qty}
    hopeful = sorted({need.position for _, need in needs} - hopeless)
    if not hopeful:
        return hopeless, True
    programme, count = Programme(), len(hopeful)
    # The sum of all preferences is below one half: they choose between equal counts and never against one more.
    is_set = {p: programme.unknown(1 + (count - rank) / (count * (count + 1)), 1) for rank, p in enumerate(hopeful)}
    in_play = [(n, need) for n, need in needs if need.position not in hopeless]
    arcs = _arcs(programme, in_play, left, gain=0.0)
    pieces = _by_need(arcs)
    for n, need in in_play:
        programme.between({**pieces[n], is_set[need.position]: -need.qty}, 0, 0)
    values, proven = programme.solve(limit_s)
    return hopeless | {p for p, unknown in is_set.items() if not values[unknown]}, proven


def _least_order(needs: Sequence[tuple[int, Need]], left: Mapping[str, int], waiting: set[int]) -> Filled:
    """The fullest use of the stock that leaves every settable position complete."""
    alone = _without_a_choice(needs, left)
    needs = [(n, need) for n, need in needs if n not in alone]
    filled = {(n, stock): qty for n, (stock, qty) in alone.items()}
    programme = Programme()
    arcs = _arcs(programme, needs, left, gain=1.0)
    if not arcs:
        return filled
    pieces = _by_need(arcs)
    for n, need in needs:
        if pieces[n]:
            programme.between(pieces[n], 0 if need.position in waiting else need.qty, need.qty)
    # Without a limit: it is a flow, whose matrix is totally unimodular, so that the relaxed programme is whole already.
    values, _ = programme.solve()
    return filled | {arc: values[unknown] for arc, unknown in arcs.items() if values[unknown]}


def _without_a_choice(needs: Sequence[tuple[int, Need]], left: Mapping[str, int]) -> dict[int, tuple[str, int]]:
    """The needs that one stock alone can fill, which fills no other: (stock, pieces), as many as there are.

    They are most of those of a shipment that is half read, and a solver run takes a millisecond.
    """
    there = {n: [stock for stock in need.will_do if left.get(stock, 0)] for n, need in needs}
    asked = Counter(stock for stocks in there.values() for stock in stocks)
    qty = {n: need.qty for n, need in needs}
    return {
        n: (stocks[0], min(qty[n], left[stocks[0]]))
        for n, stocks in there.items()
        if len(stocks) == 1 and asked[stocks[0]] == 1
    }


def _arcs(
    programme: Programme, needs: Sequence[tuple[int, Need]], left: Mapping[str, int], *, gain: float
) -> dict[tuple[int, str], int]:
    """An unknown for each way of filling a need, and each stock used no more than it has.

    Own stock is preferred to spares, by so little that no piece is lost by it.
    """
    total = sum(need.qty for _, need in needs) + 1
    arcs = {
        (n, stock): programme.unknown(gain - gain * place / (total * len(need.will_do)), min(need.qty, left[stock]))
        for n, need in needs
        for place, stock in enumerate(need.will_do)
        if left.get(stock, 0)
    }
    of_stock: dict[str, dict[int, int]] = defaultdict(dict)
    for (_, stock), unknown in arcs.items():
        of_stock[stock][unknown] = 1
    for stock, terms in of_stock.items():
        programme.between(terms, 0, left[stock])
    return arcs


def _by_need(arcs: Mapping[tuple[int, str], int]) -> dict[int, dict[int, int]]:
    """The unknowns that fill each need."""
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for (n, _), unknown in arcs.items():
        found[n][unknown] = 1
    return found
