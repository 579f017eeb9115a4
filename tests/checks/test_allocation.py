"""Stock allocation, held against every subset of positions and networkx' maximum flow."""

from collections import Counter
from itertools import combinations

import networkx
import numpy
import pytest

from receiving.matching import settable_positions
from receiving.matching.allocation import Need, _components, _fill_from_plenty
from receiving.model import Address
from receiving.model.contents import PositionNeed


def instance(seed: int, positions: int) -> tuple[list[PositionNeed], list[tuple[str, int]]]:
    random = numpy.random.default_rng(seed)
    names = [f"s{n}" for n in range(int(random.integers(2, 7)))]
    needs = []
    for p in range(positions):
        parts = []
        for n in range(int(random.integers(1, 4))):
            count = int(random.integers(1, min(3, len(names)) + 1))
            fits = tuple(str(s) for s in random.choice(names, size=count, replace=False))
            parts.append((f"part {n}", int(random.integers(1, 4)), fits))
        needs.append(PositionNeed(Address("Oak", p + 1, 1), tuple(parts)))
    return needs, [(name, int(random.integers(0, 7))) for name in names]


def most_filled(needs: list[PositionNeed], stock: list[tuple[str, int]]) -> int:
    """How many pieces networkx' maximum flow brings from the stock to these needs."""
    graph = networkx.DiGraph()
    graph.add_nodes_from(["stock", "needs"])
    for name, qty in stock:
        graph.add_edge("stock", name, capacity=qty)
    for need in needs:
        for part, qty, will_do in need.parts:
            graph.add_edge((need.address, part), "needs", capacity=qty)
            graph.add_edges_from((name, (need.address, part)) for name in will_do)
    return networkx.maximum_flow_value(graph, "stock", "needs")


def wanted(needs: list[PositionNeed]) -> int:
    return sum(qty for need in needs for _, qty, _ in need.parts)


def most_positions(needs: list[PositionNeed], stock: list[tuple[str, int]]) -> int:
    """Every subset, largest first: can networkx fill it completely?"""
    for size in range(len(needs), 0, -1):
        for chosen in combinations(needs, size):
            if most_filled(list(chosen), stock) == wanted(list(chosen)):
                return size
    return 0


@pytest.mark.parametrize("seed", range(120))
def test_as_many_positions_are_set_as_any_subset_allows_and_as_little_is_ordered(seed: int) -> None:
    needs, stock = instance(seed, positions=2 + seed % 6)
    result = settable_positions(needs, stock)
    assert result.proven
    assert len(result.settable) == most_positions(needs, stock)
    assert sum(qty for *_, qty in result.order) == wanted(needs) - most_filled(needs, stock)


@pytest.mark.parametrize("seed", range(200, 240))
def test_no_stock_is_used_twice_and_every_settable_position_is_complete(seed: int) -> None:
    needs, stock = instance(seed, positions=12)
    result = settable_positions(needs, stock)
    used = Counter[str]()
    for use in result.used:
        used[use.stock] += use.qty
    assert all(used[name] <= qty for name, qty in stock)
    filled = Counter[tuple[Address, str]]()
    for use in result.used:
        filled[use.address, use.part] += use.qty
    for need in needs:
        lacks = tuple((part, qty - filled[need.address, part]) for part, qty, _ in need.parts)
        missing = tuple((part, qty) for part, qty in lacks if qty)
        assert (not missing) == (need.address in result.settable)
        assert missing == next((w.parts for w in result.waiting if w.address == need.address), ())


def test_the_least_order_agrees_with_networkx_on_larger_shipments() -> None:
    for seed in range(20):
        needs, stock = instance(1000 + seed, positions=60)
        stock = [(name, qty * 8) for name, qty in stock]
        result = settable_positions(needs, stock)
        assert sum(qty for *_, qty in result.order) == wanted(needs) - most_filled(needs, stock)


def test_the_earlier_position_has_the_stock_that_both_want() -> None:
    needs = [PositionNeed(Address("Oak", n, 1), (("rail", 1, ("rail",)),)) for n in (1, 2)]
    assert settable_positions(needs, [("rail", 1)]).settable == (Address("Oak", 1, 1),)
    assert settable_positions(needs[::-1], [("rail", 1)]).settable == (Address("Oak", 2, 1),)


def test_one_position_waits_so_that_two_can_be_set() -> None:
    needs = [
        PositionNeed(Address("Oak", 1, 1), (("rail", 2, ("rail",)),)),
        PositionNeed(Address("Oak", 2, 1), (("rail", 1, ("rail",)),)),
        PositionNeed(Address("Oak", 3, 1), (("rail", 1, ("rail",)),)),
    ]
    result = settable_positions(needs, [("rail", 2)])
    assert result.settable == (Address("Oak", 2, 1), Address("Oak", 3, 1))
    assert result.order == ((Address("Oak", 1, 1), "rail", 2),)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_most_positions_agree_with_a_constraint_solver_on_larger_shipments() -> None:
    cp_model = pytest.importorskip("ortools.sat.python.cp_model", reason="OR-Tools is not installed")
    for seed in range(12):
        needs, stock = instance(500 + seed, positions=30)
        stock = [(name, qty * 4) for name, qty in stock]
        model = cp_model.CpModel()
        left = dict(stock)
        uses: dict[str, list[object]] = {name: [] for name in left}
        chosen = [model.new_bool_var(f"set {need.address}") for need in needs]
        for need, is_set in zip(needs, chosen, strict=True):
            for part, qty, will_do in need.parts:
                pieces = {name: model.new_int_var(0, left[name], f"{need.address} {part} {name}") for name in will_do}
                model.add(sum(pieces.values()) == qty * is_set)
                for name, piece in pieces.items():
                    uses[name].append(piece)
        for name, pieces in uses.items():
            model.add(sum(pieces) <= left[name])
        model.maximize(sum(chosen))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        assert solver.solve(model) == cp_model.OPTIMAL
        assert len(settable_positions(needs, stock).settable) == round(solver.objective_value)


@pytest.mark.parametrize(
    ("will_do", "left", "groups"),
    [
        ((("a",), ("b",), ("c",)), "abc", [[0], [1], [2]]),
        ((("a", "b"), ("b", "c"), ("d",)), "abcd", [[0, 1], [2]]),
        ((("a", "b"), ("c", "d"), ("b", "c")), "abcd", [[0, 1, 2]]),
        ((("a", "b"), ("b", "c"), ("d",)), "acd", [[0], [1], [2]]),  # nothing of b is left to share
    ],
)
def test_positions_that_share_no_stock_are_solved_apart(
    will_do: tuple[tuple[str, ...], ...], left: str, groups: list[list[int]]
) -> None:
    wanted = [Need(n, Address("Oak", n + 1, 1), "part", 2, stocks) for n, stocks in enumerate(will_do)]
    assert _components(wanted, range(len(wanted)), dict.fromkeys(left, 1)) == groups


def test_what_is_enough_for_everybody_who_may_want_it_is_given_without_a_choice() -> None:
    """Of "a" there are five for the two who want four; then "b" is left to the third alone, and one piece is short."""
    wanted = [
        Need(n, Address("Oak", n + 1, 1), "part", qty, stocks)
        for n, (qty, stocks) in enumerate([(2, ("a", "b")), (2, ("a",)), (3, ("b",)), (2, ("c",))])
    ]
    left = {"a": 5, "b": 3, "c": 1}
    assert _fill_from_plenty(wanted, left) == ({(0, "a"): 2, (1, "a"): 2, (2, "b"): 3}, [3])
    assert left == {"a": 1, "b": 0, "c": 1}
