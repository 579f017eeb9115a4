"""Stops at bays: how few there can be, against every possible solution of small shipments."""

from collections import Counter
from collections.abc import Iterator
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import Cart, Manifest, StagingPlan
from receiving.staging import stops
from receiving.staging.loading import CartLoad, Effort, arrange
from receiving.staging.loads import Deck, Load
from receiving.staging.stop_bounds import MOST_KNOTS, fewest_stops
from receiving.staging.trips import PackingProblem, PackingSolution, Route, solve_packing
from tests.staging.shipments import assert_loaded_well, bay, carton, layout, manifest, plan_staging, reconciled

HALL = tuple(bay(f"B{n}", "Sol", n, order=n, length=600, depth=300) for n in range(1, 5))
STRONG = Cart(max_load_kg=100, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)
DECK = Deck(100_000, 1200, 600, 1000)
"""Weight alone limits these carts: the cartons are so small that any of them stand together."""


def shipment_of(weights: list[tuple[int, int]], first: int | None = None) -> Manifest:
    """Small cartons of (bay, kilograms); the one numbered ``first`` is opened first."""
    return manifest(
        *(
            carton(f"{i}", (where, 1), weight=kg, size=(20, 15, 10), open_first=i == first)
            for i, (where, kg) in enumerate(weights)
        )
    )


def groupings(weights: list[tuple[int, int]], trips: int) -> Iterator[int]:
    """The stops of every way to spread the cartons over exactly this many carts of 100 kg."""
    for chosen in product(range(trips), repeat=len(weights)):
        loads = [[each for each, trip in zip(weights, chosen, strict=True) if trip == n] for n in range(trips)]
        if all(loads) and all(sum(kg for _, kg in load) <= 100 for load in loads):
            yield sum(len({where for where, _ in load}) for load in loads)


def planned(weights: list[tuple[int, int]], first: int | None = None) -> StagingPlan:
    shipment = shipment_of(weights, first)
    plan = plan_staging(shipment, reconciled(shipment), layout(*HALL, cart=STRONG))
    assert_loaded_well(plan, shipment, STRONG)
    return plan


small = st.lists(st.tuples(st.integers(1, 3), st.integers(8, 60)), min_size=2, max_size=7)


@settings(max_examples=60, deadline=None)
@given(small)
def test_no_grouping_has_fewer_stops_than_the_bound_and_the_plan_has_no_more_than_one_above_the_best(
    weights: list[tuple[int, int]],
) -> None:
    plan = planned(weights)
    best = min(groupings(weights, len(plan.trips)))
    assert plan.stop_bound.at_least <= best <= plan.stop_bound.planned <= best + 1


@settings(max_examples=25, deadline=None)
@given(small)
def test_an_open_first_carton_rides_first_and_the_bound_still_holds(weights: list[tuple[int, int]]) -> None:
    plan = planned(weights, first=0)
    assert "0" in plan.trips[0].cartons
    assert plan.stop_bound.at_least <= min(groupings(weights, len(plan.trips))), "for all plans, not for this beginning"
    assert plan.stop_bound.at_least <= plan.stop_bound.planned


@pytest.mark.parametrize(
    ("weights", "stops"),
    [
        ([(1, 50), (1, 50), (2, 50), (2, 50)], 2),
        ([(1, 60), (2, 60), (1, 40), (2, 40)], 2),
        ([(1, 50), (2, 50), (3, 50), (1, 50), (2, 50), (3, 50)], 3),
        ([(1, 90), (2, 70), (3, 30), (4, 10)], 4),
        ([(1, 80), (2, 80), (3, 40)], 3),
        ([(1, 60), (2, 60), (3, 60), (1, 30), (2, 30), (3, 30)], 3),
    ],
)
def test_the_fewest_stops_are_found_and_proven(weights: list[tuple[int, int]], stops: int) -> None:
    plan = planned(weights)
    assert min(groupings(weights, len(plan.trips))) == stops
    assert (plan.stop_bound.planned, plan.stop_bound.at_least, plan.stop_bound.proven) == (stops, stops, True)


def test_where_cartons_cannot_be_cut_to_fill_a_cart_the_bound_is_not_met_and_says_so() -> None:
    weights = [(1, 60), (1, 60), (2, 40), (2, 40)]
    bound = planned(weights).stop_bound
    assert min(groupings(weights, 2)) == bound.planned == 4
    assert (bound.at_least, bound.proven, bound.gap) == (3, False, 0.25)


def test_bays_that_are_bound_to_one_trip_cannot_be_driven_apart() -> None:
    loads = [Load(name, 100_000 - 1, 200, 150, 100) for name in "ab"] + [Load("c", 1, 10, 10, 10)]
    stops = {"a": 0, "b": 1, "c": 0}
    assert fewest_stops(loads, stops, {}, DECK, 2).at_least == 2
    assert fewest_stops(loads, stops, {"c": 1, "b": 1}, DECK, 2).at_least == 3


def test_with_more_bays_than_can_be_divided_the_bound_is_what_each_bay_needs() -> None:
    count = MOST_KNOTS + 3
    loads = [Load(f"{n}", 60_000, 200, 150, 100) for n in range(count)]
    found = fewest_stops(loads, {f"{n}": n for n in range(count)}, {}, DECK, count)
    assert (found.at_least, len(found.parts)) == (count, 1)


def test_without_bays_no_stops_are_counted() -> None:
    shipment = shipment_of([(1, 60), (2, 60)])
    plan = plan_staging(shipment, reconciled(shipment), None)
    assert (plan.stop_bound.planned, plan.stop_bound.at_least) == (0, 0)


def test_forty_cartons_of_four_bays_keep_to_few_stops() -> None:
    weights = [(1 + n % 4, 4 + n % 7) for n in range(40)]
    plan = planned(weights)
    assert plan.bound.proven
    assert plan.stop_bound.planned <= plan.stop_bound.at_least + 1


def disorder(counts: list[Counter[tuple[bool, int]]]) -> tuple[int, int]:
    """Stops in sum, then the pairs of loads in the wrong order, of all trips."""
    wrong = sum(m * n for one, two in combinations(counts, 2) for a, m in one.items() for b, n in two.items() if a > b)
    return sum(len({stop for _, stop in count}) for count in counts), wrong


TRIPS = st.lists(
    st.dictionaries(st.tuples(st.booleans(), st.integers(0, 4)), st.integers(1, 3), min_size=1, max_size=4).map(
        Counter
    ),
    min_size=2,
    max_size=5,
)


@given(TRIPS, st.data())
def test_what_a_change_does_to_the_order_is_told_from_its_trips_alone(
    counts: list[Counter[tuple[bool, int]]], data: st.DataObject
) -> None:
    changed = data.draw(st.lists(st.integers(0, len(counts) - 1), min_size=1, max_size=2, unique=True))
    anew = {i: data.draw(TRIPS)[0] for i in changed}
    after = [anew.get(i, count) for i, count in enumerate(counts)]
    assert stops._less_disorder(counts, anew) is (disorder(after) < disorder(counts))


@pytest.mark.parametrize(("bays", "divided"), [(stops.MOST_BAYS, True), (stops.MOST_BAYS + 1, False)])
def test_two_trips_are_divided_anew_up_to_a_number_of_bays(bays: int, divided: bool) -> None:
    """Each bay has a carton on both trips: as a whole on one of them each saves a stop."""
    loads = tuple(Load(f"{n}{trip}", 5_000, 200, 150, 100) for trip in "ab" for n in range(bays))
    routes = {load.carton: Route(stop=int(load.carton[:-1])) for load in loads}
    trips = tuple(arrange([load for load in loads if load.carton[-1] == trip], DECK) or () for trip in "ab")
    search = stops._Search(PackingProblem(loads, DECK), routes, PackingSolution(trips, 1), Effort(10_000))
    found = list(search._divisions(*search.best))
    assert len(found) == (stops.MOST_DIVISIONS if divided else 0)
    for one, other in found:
        assert sorted(load.carton for load in (*one, *other)) == sorted(load.carton for load in loads)
        assert search.stops((one, other)) == bays
    fullest = [max(map(search._fill, each)) for each in found]
    assert fullest == sorted(fullest)
    assert (search.effort.left < 10_000) is divided


def test_hundreds_of_cartons_are_packed_within_a_count_of_comparisons() -> None:
    """First fit that stands whole carts anew had no limit, and took minutes."""
    loads = tuple(Load(f"{n:04}", 9_000 + n % 7 * 500, 600, 400, 300) for n in range(600))
    left = []
    count = CartLoad.place_for
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(CartLoad, "place_for", lambda cart, load: left.append(0) or count(cart, load))
        solution = solve_packing(PackingProblem(loads, DECK), time_limit_s=0.02)
    assert sum(map(len, solution.trips)) == 600
    assert len(left) < 60_000
