"""Trips keep every limit, are never more than a plain rule gives, and are proven where a bound is met."""

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import Cart, Carton, CartonKind, CartonMoved, Note, StagingChanged
from receiving.model.limits import PLAN_SEARCH_S
from receiving.staging import plan_staging
from receiving.staging.bounds import bound_trips
from receiving.staging.by_weight import fewest_bins
from receiving.staging.loading import Placement, arrange, holds
from receiving.staging.loads import Deck, Load
from receiving.staging.overrides import overrides_of
from receiving.staging.stops import fewer_stops
from receiving.staging.trips import PackingProblem, Route, solve_packing
from tests.checks.test_bin_packing import triplets
from tests.staging.load_checker import check_plan
from tests.staging.shipments import CART, NOON, assert_loaded_well, bay, carton, layout, manifest, reconciled

DECK = Deck(110_000, 1200, 600, 1000)
SIZES = [(60, 40, 15), (40, 30, 20), (120, 20, 15), (80, 60, 5), (30, 20, 10), (130, 20, 15), (45, 33, 27)]
KINDS = [CartonKind.TRAY, CartonKind.PARTS, CartonKind.HEADER, CartonKind.GRAPHIC, CartonKind.LIGHTING, CartonKind.TAGS]

cartons = st.lists(
    st.builds(
        carton,
        st.uuids(version=4).map(lambda u: str(u)[:8]),
        st.tuples(st.integers(1, 5), st.integers(1, 9)),
        kind=st.sampled_from(KINDS),
        weight=st.one_of(st.none(), st.decimals("0.1", 30, places=1).map(float)),
        size=st.one_of(st.none(), st.sampled_from(SIZES)),
        open_first=st.sampled_from([False, False, False, True]),
    ),
    max_size=18,
    unique_by=lambda one: one.carton,
)
WIDE = layout(*(bay(f"B{i}", "Sol", i, order=i, length=200, depth=90) for i in range(1, 6)))


@settings(max_examples=40, deadline=None)
@given(cartons)
def test_every_received_carton_is_on_one_trip_or_held_and_every_load_keeps_the_rules(drawn: list[Carton]) -> None:
    shipment = manifest(*drawn)
    plan = plan_staging(shipment, reconciled(shipment), WIDE, time_limit_s=0.05)
    carried = [one for trip in plan.trips for one in trip.cartons]
    assert sorted(carried + [h.carton for h in plan.held]) == sorted(one.carton for one in drawn)
    assert sorted(one for staged in plan.bays for one in staged.cartons) == sorted(carried)
    assert_loaded_well(plan, shipment, CART)
    assert plan.bound.at_least <= plan.bound.planned == sum(1 for trip in plan.trips if not trip.by_hand)


@settings(max_examples=10, deadline=None)
@given(cartons)
def test_the_same_shipment_gives_the_same_plan(drawn: list[Carton]) -> None:
    shipment = manifest(*drawn)
    once = plan_staging(shipment, reconciled(shipment), WIDE, time_limit_s=0.05)
    assert plan_staging(shipment, reconciled(shipment), WIDE, time_limit_s=0.05) == once


notes = st.lists(
    st.tuples(
        st.sampled_from(["moved", "pinned"]), st.integers(0, 17), st.integers(1, 4), st.sampled_from(["", "B2", "X9"])
    ),
    max_size=12,
)


@settings(max_examples=40, deadline=None)
@given(cartons, notes)
def test_whatever_people_moved_and_pinned_the_plan_holds_and_keeps_it(
    drawn: list[Carton], expected: list[tuple[str, int, int, str]]
) -> None:
    shipment = manifest(*drawn)
    made: list[Note] = []
    for number, (what, which, trip, at) in enumerate(expected):
        if which < len(drawn):
            name, when = drawn[which].carton, NOON + timedelta(seconds=number)
            made.append(
                CartonMoved(f"n{number:02}", when, "Kim", name, at, trip)
                if what == "moved"
                else StagingChanged(f"n{number:02}", when, "Kim", name, trip, at)
            )
    plan = plan_staging(shipment, reconciled(shipment), WIDE, made, time_limit_s=0.05)
    moved = overrides_of(made).moved
    carried = [one for trip in plan.trips for one in trip.cartons]
    warned = {caution.carton for caution in plan.cautions}
    on_trip = {one: trip.trip for trip in plan.trips for one in trip.cartons}
    asked = overrides_of(made).trips
    assert [name for name in carried if asked.get(name, on_trip[name]) != on_trip[name] and name not in warned] == []
    held = [h.carton for h in plan.held]
    assert sorted([*carried, *held, *moved]) == sorted(one.carton for one in drawn)
    first = overrides_of(made).driven + 1
    assert [trip.trip for trip in plan.trips] == list(range(first, first + len(plan.trips)))
    assert {name: one.bay for one in plan.bays for name in one.cartons if moved.get(name) == "B2"} == {
        name: "B2" for name, at in moved.items() if at == "B2"
    }
    assert_loaded_well(plan, shipment, CART)


def loads(*kg: float, size: tuple[int, int, int] = (600, 400, 150)) -> tuple[Load, ...]:
    return tuple(Load(f"{i:02}", int(one * 1000), *size) for i, one in enumerate(kg))


def test_weight_alone_is_packed_better_than_first_fit_decreasing() -> None:
    """First fit decreasing takes 3 carts; 4+3+3 and 4+3+3 fill two. Johnson, Ph.D. thesis, MIT (1973): from memory."""
    problem = PackingProblem(loads(40, 40, 30, 30, 30, 30, size=(300, 200, 150)), replace(DECK, max_g=100_000))
    solution = solve_packing(problem, time_limit_s=0.8)
    assert (solution.driven, solution.at_least) == (2, 2)


def test_cartons_too_tall_to_stack_take_a_place_each_and_the_bound_knows() -> None:
    """Three footprints of 40 × 60 cm on a deck of 120 × 60 cm, nothing on top: seven cartons need three carts."""
    problem = PackingProblem(loads(*[1] * 7, size=(600, 400, 600)), DECK)
    solution = solve_packing(problem, time_limit_s=0.8)
    assert (solution.driven, solution.at_least) == (3, 3)


def test_the_bound_sees_what_cannot_lie_side_by_side() -> None:
    """62 × 42 cm fits the deck of 120 × 60 cm once in a layer; six layers of 15 cm: twelve cartons fill two carts."""
    boxes = loads(*[1] * 13, size=(620, 420, 150))
    assert sum(b.length_mm * b.width_mm * b.height_mm for b in boxes) < DECK.area_mm2 * DECK.height_mm
    assert bound_trips(boxes, DECK) == 3


def test_fragile_cartons_lie_on_top_of_sturdy_ones() -> None:
    graphic = Load("g", 3_000, 800, 600, 50, fragile=True)
    placed = {one.load.carton: one for one in arrange((graphic, *loads(*[8] * 6)), DECK) or ()}
    assert placed["g"].z_mm > 0
    assert all(one.z_mm < placed["g"].z_mm for name, one in placed.items() if name != "g")


def test_stops_are_fewer_when_cartons_of_one_bay_ride_together() -> None:
    problem = PackingProblem(loads(*[8] * 24), DECK)
    routes = {load.carton: Route(stop=i % 2) for i, load in enumerate(problem.loads)}
    mixed = solve_packing(problem, time_limit_s=0.8)
    ordered, _ = fewer_stops(mixed, problem, routes)
    assert ordered.driven == mixed.driven == 2
    assert [sorted({routes[one.load.carton].stop for one in trip}) for trip in ordered.trips] == [[0], [1]]


def test_what_waits_for_a_missing_carton_rides_last() -> None:
    problem = PackingProblem(loads(*[8] * 24), DECK)
    routes = {load.carton: Route(stop=i % 2, waits=i % 2 == 0) for i, load in enumerate(problem.loads)}
    first, last = fewer_stops(solve_packing(problem, time_limit_s=0.8), problem, routes)[0].trips
    assert {routes[one.load.carton].waits for one in first} == {False}
    assert {routes[one.load.carton].waits for one in last} == {True}


def test_no_plan_is_worse_than_first_fit_by_weight() -> None:
    for seed in range(12):
        problem = PackingProblem(tuple(_mixed(seed)), DECK)
        assert solve_packing(problem, time_limit_s=0.05).driven <= len(_first_fit(problem))


def test_forty_sturdy_cartons_fill_two_large_carts_as_far_as_the_bound() -> None:
    """Loading in one pass, in whatever order, takes a third cart for most of these; the search for one in six."""
    large = Deck(250_000, 1200, 600, 1200)
    solutions = []
    for seed in range(6):
        sturdy = tuple(replace(load, fragile=False) for load in _many(seed, 40))
        solutions.append(solve_packing(PackingProblem(sturdy, large), time_limit_s=0.8))
    assert [solution.at_least for solution in solutions] == [2] * 6
    assert sum(solution.driven for solution in solutions) <= 13


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 30), min_size=1, max_size=9))
def test_weights_are_packed_as_well_as_by_trying_everything(weights: list[int]) -> None:
    solved = fewest_bins(weights, 30)
    assert solved.at_least == len(solved.bins) == _by_trying_everything(tuple(sorted(weights, reverse=True)), ())


@pytest.mark.parametrize(
    ("weights", "carts"),
    [
        ([320, 345, 356, 216, 214, 446, 4], 2),
        ([355, 252, 569, 402, 445, 279, 246, 234, 3], 3),
        ([205, 466, 576, 218, 280, 667, 322, 208, 3], 3),
        ([407, 461, 386, 268, 447, 214, 278, 363, 8], 3),
    ],
)
def test_beside_a_very_light_weight_the_fewest_are_found_by_pricing_and_not_claimed_too_high(
    weights: list[int], carts: int
) -> None:
    """Where a cart takes more than a hundred of the lightest, its loads are not all listed."""
    solved = fewest_bins(weights, 1000)
    assert solved.at_least == len(solved.bins) == carts
    assert _by_trying_everything(tuple(sorted(weights, reverse=True)), (), 1000) == carts
    assert sorted(index for one in solved.bins for index in one) == list(range(len(weights)))
    assert all(sum(weights[index] for index in one) <= 1000 for one in solved.bins)


def _by_trying_everything(weights: tuple[int, ...], rooms: tuple[int, ...], capacity: int = 30) -> int:
    if not weights:
        return len(rooms)
    first, *others = weights
    chances = [(*rooms, capacity - first)]
    for at, room in enumerate(rooms):
        if room >= first and room not in rooms[:at]:
            chances.append((*rooms[:at], room - first, *rooms[at + 1 :]))
    return min(_by_trying_everything(tuple(others), chance, capacity) for chance in chances)


def test_triplets_of_249_are_packed_to_their_published_optimum() -> None:
    """Falkenauer's recipe, as in the checks of bin packing: a third as many bins as items."""
    solved = fewest_bins(triplets(2, 249), 1000)
    assert (len(solved.bins), solved.at_least) == (83, 83)


def _many(seed: int, count: int) -> Iterator[Load]:
    """Cartons on the 600 mm × 400 mm module of ISO 3394, three in ten of them fragile (mix and weights: our choice)."""
    rng = random.Random(seed)
    sturdy = [(600, 400, 150), (600, 400, 200), (400, 300, 150), (400, 300, 200), (300, 200, 150)]
    fragile = [(1200, 200, 150), (1000, 250, 150), (800, 600, 50), (600, 300, 200)]
    for number in range(count):
        delicate = rng.random() < 0.3
        yield Load(f"{number:02}", rng.randint(3_000, 10_000), *rng.choice(fragile if delicate else sturdy), delicate)


def _mixed(seed: int) -> list[Load]:
    sizes = [(600, 400, 150), (400, 300, 200), (1200, 200, 150), (800, 600, 50)]
    return [
        Load(f"{i:02}", 1_000 + 137 * (seed * 31 + i * 57) % 9_000, *sizes[(seed + i * i) % 4], fragile=i * i % 4 > 1)
        for i in range(26)
    ]


def test_first_fit_is_not_given_up_where_little_time_is_given() -> None:
    strong = replace(DECK, max_g=250_000, height_mm=1200)
    rng = random.Random(3)
    sizes = [(600, 400, 150), (600, 400, 200), (400, 300, 150), (800, 600, 50), (300, 200, 150), (1200, 200, 150)]
    many = [Load(f"{i:02}", rng.randint(2, 14) * 1000, *rng.choice(sizes), fragile=i % 5 == 0) for i in range(120)]
    problem = PackingProblem(tuple(many), strong)
    assert solve_packing(problem, time_limit_s=0.001).driven <= len(_first_fit(problem))


def _first_fit(problem: PackingProblem) -> list[list[Load]]:
    trips: list[list[Load]] = []
    for load in sorted(problem.loads, key=lambda one: -one.weight_g):
        home = next((trip for trip in trips if arrange((*trip, load), problem.deck)), None)
        if home is None:
            trips.append([load])
        else:
            home.append(load)
    return trips


@pytest.mark.parametrize("limit", [60.0, 110.0, 250.0])
def test_a_stronger_cart_never_needs_more_trips(limit: float) -> None:
    shipment = manifest(*(carton(f"{i:02}", (1 + i % 5, 1 + i // 5), weight=9) for i in range(24)))
    weak = plan_staging(shipment, reconciled(shipment), replace(WIDE, cart=Cart(limit, 120, 60, 100)))
    strong = plan_staging(shipment, reconciled(shipment), replace(WIDE, cart=Cart(limit * 2, 120, 60, 100)))
    assert len(strong.trips) <= len(weak.trips)
    assert weak.bound.proven


def test_a_place_is_where_it_says() -> None:
    (placed,) = arrange(loads(8), DECK) or ()
    assert placed == Placement(placed.load, 0, 0, 0, 600, 400)


def test_a_wave_does_not_drive_a_nearly_empty_cart_where_a_whole_trip_can_wait_for_it() -> None:
    """26 trays of 8 kg are two cart loads of 13; the floor takes 24, and the last two ride with others, not alone."""
    floors = [bay(f"B{i}", "Sol", i, order=i, length=60, depth=40) for i in (1, 2, 3)]
    shipment = manifest(*(carton(f"{i:02}", (1 + i % 3, 1 + i), weight=8) for i in range(26)))
    where = layout(*floors)
    plan = plan_staging(shipment, reconciled(shipment), where)
    assert check_plan(plan, shipment, where, [one.carton for one in shipment]) == []
    assert {staging.wave for staging in plan.bays} == {1, 2}
    assert (plan.bound.planned, plan.bound.proven) == (2, True)
    later = [name for staging in plan.bays if staging.wave == 2 for name in staging.cartons]
    assert sorted(later) == sorted(name for trip in plan.trips if trip.wave == 2 for name in trip.cartons)


@pytest.mark.parametrize("wide", [CartonKind.TAGS, CartonKind.PARTS, CartonKind.INSTRUCTIONS, None])
def test_what_begins_the_work_never_waits_for_a_later_wave_to_save_a_trip(wide: CartonKind | None) -> None:
    """Open-first cartons (None), or what a whole section needs from the start."""
    floors = [bay(f"B{i}", "Sol", i, order=i, length=60, depth=40) for i in (1, 2, 3)]
    early = [carton(f"w{i}", kind=wide or CartonKind.TRAY, weight=8, open_first=wide is None) for i in range(5)]
    shipment = manifest(*early, *(carton(f"{i:02}", (1 + i % 3, 1 + i), weight=8) for i in range(21)))
    plan = plan_staging(shipment, reconciled(shipment), layout(*floors))
    assert plan.bound.planned == 2
    assert not {one.carton for one in early} & {name for trip in plan.trips if trip.wave > 1 for name in trip.cartons}


HARD = (
    (4300, 1065, 240, 85, True),
    (5700, 465, 375, 135, False),
    (5400, 305, 275, 120, False),
    (18100, 355, 270, 200, False),
    (4400, 555, 315, 140, False),
    (7200, 450, 265, 120, False),
    (9400, 360, 285, 170, False),
    (5500, 665, 460, 235, False),
    (11400, 245, 155, 145, False),
    (4600, 495, 395, 205, False),
    (2400, 235, 160, 95, False),
    (7600, 685, 300, 190, False),
    (5100, 755, 580, 50, True),
    (8900, 650, 405, 140, False),
    (8100, 1240, 150, 180, True),
    (5000, 385, 270, 130, False),
)
"""Grams, sides and height in millimetres, fragile: an invented load; the one at place 10 is opened first."""


def test_a_load_that_is_hard_to_find_is_found_by_the_search_of_a_plan() -> None:
    """Sixteen cartons of odd sizes that few ways of loading stand on one cart: found after 2,000 to 20,000 tries."""
    loads = tuple(
        Load(f"{n:02}", *measures, fragile, open_first=n == 10) for n, (*measures, fragile) in enumerate(HARD)
    )
    deck = Deck(250_000, 1200, 600, 1200)
    solution = solve_packing(PackingProblem(loads, deck), time_limit_s=PLAN_SEARCH_S)
    assert solution.driven == solution.at_least == 1
    assert holds(solution.trips[0], deck)


@pytest.mark.parametrize(
    ("bound", "driven", "begun"), [({}, 0, 0), ({}, 2, 2), ({"a": 0}, 0, 1), ({"a": 3, "b": 1}, 2, 4)]
)
def test_trips_are_begun_up_to_the_last_that_is_driven_or_chosen(
    bound: dict[str, int], driven: int, begun: int
) -> None:
    loads = (Load("a", 1_000, 300, 200, 100), Load("b", 1_000, 300, 200, 100))
    assert PackingProblem(loads, Deck(110_000, 1200, 600, 1000), bound, driven).begun == begun


def test_open_first_cartons_take_the_fewest_trips_where_the_heaviest_first_takes_one_more() -> None:
    """Two of 44 kg and four of 33 kg, 110 kg a trip: first fit decreasing takes three trips, two are enough."""
    loads = tuple(Load(f"{n}", g, 300, 200, 100, open_first=True) for n, g in enumerate((44_000,) * 2 + (33_000,) * 4))
    found = solve_packing(PackingProblem(loads, Deck(110_000, 1200, 600, 1000)), time_limit_s=0.8)
    assert found.driven == found.at_least == 2
    assert {sum(one.load.weight_g for one in trip) for trip in found.trips} == {110_000}
