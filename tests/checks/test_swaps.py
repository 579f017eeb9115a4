"""Swaps against a second solver: the minimum-cost flow of networkx (its network simplex), on random programmes."""

from datetime import date, timedelta
from itertools import chain, combinations
from random import Random

import networkx as nx
import pytest

from receiving.dispatch import Spare, Swap, Want, plan_swaps

VISIT = date(2026, 3, 9)


def programme(seed: int) -> tuple[list[Spare], list[Want], dict[tuple[str, str], tuple[float, date]]]:
    random = Random(seed)
    stores = [f"{n:03d}" for n in range(random.randint(2, 12))]
    items = [f"item {n}" for n in range(random.randint(1, 4))]
    kinds = sorted({(random.choice(stores), random.choice(items)) for _ in range(random.randint(1, 12))})
    spares = [Spare(store, f"S-{store}", item, random.randint(1, 2)) for store, item in kinds]
    wants = [
        Want(random.choice(stores), f"S-{n}", f"{n:02d}", random.choice(items), VISIT, random.choice([1, 0.5]))
        for n in range(random.randint(1, 14))
    ]
    lanes = {
        (a, b): (random.randrange(1, 12) / 10, VISIT - timedelta(days=random.randint(-1, 4)))
        for a in stores
        for b in stores
        if random.random() < 0.8
    }
    return spares, wants, lanes


def best_gain(spares: list[Spare], wants: list[Want], lanes: dict[tuple[str, str], tuple[float, date]]) -> int:
    """The least cost of a flow in hundredths, with an arc past all swaps so that any number of them may be made."""
    graph = nx.DiGraph()
    total = sum(spare.qty for spare in spares)
    graph.add_node("source", demand=-total)
    graph.add_node("sink", demand=total)
    graph.add_edge("source", "sink", weight=0, capacity=total)
    for n, spare in enumerate(spares):
        graph.add_edge("source", ("spare", n), weight=0, capacity=spare.qty)
        for m, want in enumerate(wants):
            lane = lanes.get((spare.store, want.store))
            if spare.item == want.item and spare.store != want.store and lane and lane[1] < want.visit:
                graph.add_edge(("spare", n), ("want", m), weight=round(100 * (lane[0] - want.worth)), capacity=1)
    for m in range(len(wants)):
        graph.add_edge(("want", m), "sink", weight=0, capacity=1)
    return -nx.min_cost_flow_cost(graph)


@pytest.mark.parametrize("seed", range(60))
def test_the_swaps_gain_as_much_as_the_flow_of_another_solver(seed: int) -> None:
    """Visits that want one carton each: a plain flow of least cost."""
    spares, wants, lanes = programme(seed)
    swaps = plan_swaps(spares, wants, lambda start, end: lanes.get((start, end)))
    assert round(100 * sum(swap.want.worth - swap.cost for swap in swaps)) == best_gain(spares, wants, lanes)
    check(spares, swaps)


def check(spares: list[Spare], swaps: tuple[Swap, ...]) -> None:
    assert len({swap.want for swap in swaps}) == len(swaps)
    for spare in spares:
        assert sum(swap.spare == spare for swap in swaps) <= spare.qty
    assert all(swap.arrives < swap.want.visit and swap.spare.item == swap.want.item for swap in swaps)


def flow_cost(spares: list[Spare], wants: list[Want], lanes: dict[tuple[str, str], tuple[float, date]]) -> int | None:
    """The least cost in hundredths of bringing everything that these visits want; None where it cannot be brought."""
    graph = nx.DiGraph()
    graph.add_node("source", demand=-len(wants))
    for n, spare in enumerate(spares):
        graph.add_edge("source", ("spare", n), weight=0, capacity=spare.qty)
        for m, want in enumerate(wants):
            lane = lanes.get((spare.store, want.store))
            if spare.item == want.item and spare.store != want.store and lane and lane[1] < want.visit:
                graph.add_edge(("spare", n), ("want", m), weight=round(100 * lane[0]), capacity=1)
    for m in range(len(wants)):
        graph.add_node(("want", m), demand=1)
    try:
        return int(nx.min_cost_flow_cost(graph))
    except nx.NetworkXUnfeasible:
        return None


@pytest.mark.parametrize("seed", range(40))
def test_a_visit_is_helped_whole_or_not_at_all_and_the_choice_is_the_best_of_all(seed: int) -> None:
    """Against every set of visits, each with the least cost that networkx finds for it."""
    spares, single, lanes = programme(seed)
    random = Random(seed)
    visits = [f"V-{n}" for n in range(random.randint(1, 6))]
    stores = {visit: random.choice(single).store for visit in visits}
    wants = [
        Want(stores[visit], visit, f"{n:02d}", want.item, VISIT, 0.5)
        for n, want in enumerate(single)
        for visit in [random.choice(visits)]
    ]
    swaps = plan_swaps(spares, wants, lambda start, end: lanes.get((start, end)))
    check(spares, swaps)
    for visit in {swap.want.shipment for swap in swaps}:
        assert {s.want for s in swaps if s.want.shipment == visit} == {w for w in wants if w.shipment == visit}
    gains = [0]
    for chosen in chain.from_iterable(combinations(visits, n) for n in range(1, len(visits) + 1)):
        of_these = [want for want in wants if want.shipment in chosen]
        cost = flow_cost(spares, of_these, lanes)
        if cost is not None:
            gains.append(50 * len(of_these) - cost)
    assert round(100 * sum(swap.want.worth - swap.cost for swap in swaps)) == max(gains)


@pytest.mark.parametrize("seed", range(20))
def test_a_plan_that_is_too_large_to_search_keeps_the_rules_and_comes_near(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    random, day = Random(seed), VISIT - timedelta(days=1)
    spares = [Spare(f"D{n}", f"S-{n}", f"item {random.randrange(4)}") for n in range(25)]
    visits = [f"V-{n}" for n in range(30)]
    wants = [
        Want(visit[2:], visit, f"{n:02d}", f"item {random.randrange(4)}", VISIT, 1 / size)
        for visit in visits
        for size in [random.randint(1, 3)]
        for n in range(size)
    ]
    costs = {(spare.store, want.store): random.randrange(1, 20) / 100 for spare in spares for want in wants}

    def gain() -> float:
        swaps = plan_swaps(spares, wants, lambda start, end: (costs[start, end], day))
        check(spares, swaps)
        for visit in {swap.want.shipment for swap in swaps}:
            assert {s.want for s in swaps if s.want.shipment == visit} == {w for w in wants if w.shipment == visit}
        return sum(swap.want.worth - swap.cost for swap in swaps)

    best = gain()
    monkeypatch.setattr("receiving.dispatch.swaps.MOST_SEARCHED", 0)
    assert 0.9 * best <= gain() <= best + 1e-6


def test_nothing_is_brought_to_a_visit_that_fails_all_the_same() -> None:
    spare = Spare("1", "S-1", "tray")
    wants = [Want("2", "S-2", "04", "tray", VISIT), Want("2", "S-2", "05", "header", VISIT)]
    day = VISIT - timedelta(days=1)
    assert plan_swaps([spare], wants, lambda start, end: (0.1, day)) == ()
    both = plan_swaps([spare, Spare("3", "S-3", "header")], wants, lambda start, end: (0.1, day))
    assert [swap.want.carton for swap in both] == ["04", "05"]


def test_the_visit_that_would_fail_gets_the_only_spare() -> None:
    spare = Spare("1", "S-1", "tray")
    little, much = Want("2", "S-2", "04", "tray", VISIT, 0.5), Want("3", "S-3", "04", "tray", VISIT, 1.0)
    (swap,) = plan_swaps([spare], [little, much], lambda start, end: (0.2, VISIT - timedelta(days=1)))
    assert swap.want == much
    assert plan_swaps([spare], [much], lambda start, end: (0.2, VISIT)) == ()  # it would come on the day of the visit
    assert plan_swaps([spare], [much], lambda start, end: None) == ()
    assert plan_swaps([], [much], lambda start, end: (0.2, VISIT)) == ()
