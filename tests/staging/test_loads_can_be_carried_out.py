"""Planned loads keep the rules of loading, by a checker written apart from the planner; and the checker sees faults."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import BayStaging, Cart, Carton, CartonKind, Spot, StagingPlan, Trip
from receiving.staging.loading import Effort, Placement, holds
from receiving.staging.loads import Deck, Load
from receiving.staging.unloading import load_in_turn
from tests.staging.load_checker import check_plan
from tests.staging.shipments import bay, carton, layout, manifest, plan_staging, reconciled

ROOMY = layout(*(bay(f"B{i}", "Sol", i, order=i, length=300, depth=120) for i in range(1, 6)))
TIGHT = layout(*(bay(f"B{i}", "Sol", i, order=i) for i in range(1, 6)))
KINDS = [*[CartonKind.TRAY] * 5, CartonKind.PARTS, CartonKind.HEADER, CartonKind.GRAPHIC, CartonKind.LIGHTING]


def drawn(seed: int) -> list[Carton]:
    """Odd sizes and weights, some open-first."""
    rng = random.Random(seed)
    return [
        carton(
            f"{i:02}",
            (rng.randint(1, 5), rng.randint(1, 6)),
            kind=rng.choice(KINDS),
            weight=round(rng.uniform(1, 22), 1),
            size=(rng.randint(28, 110), rng.randint(18, 58), rng.randint(6, 34)),
            open_first=rng.random() < 0.08,
        )
        for i in range(rng.randint(8, 36))
    ]


@pytest.mark.parametrize("seed", range(24))
def test_random_shipments_are_loaded_as_the_rules_say(seed: int) -> None:
    cartons = drawn(seed)
    shipment, where = manifest(*cartons), (ROOMY, TIGHT)[seed % 2]
    plan = plan_staging(shipment, reconciled(shipment), where, time_limit_s=0.1)
    assert check_plan(plan, shipment, where, [one.carton for one in cartons]) == []


@pytest.mark.parametrize("seed", range(60))
def test_whatever_fits_a_tight_floor_is_drawn_on_it(seed: int) -> None:
    rng = random.Random(seed)
    sizes = [(60, 40, 15), (60, 40, 20), (40, 30, 15), (120, 20, 15), (80, 60, 5), (30, 20, 15), (60, 30, 20)]
    shipment = manifest(
        *(
            carton(f"{i:02}", (1, i + 1), kind=rng.choice(KINDS), weight=rng.randint(2, 20), size=rng.choice(sizes))
            for i in range(24)
        )
    )
    where = layout(bay("B1", "Sol", 1))
    plan = plan_staging(shipment, reconciled(shipment), where, time_limit_s=0.01)
    assert check_plan(plan, shipment, where, [one.carton for one in shipment]) == []


cartons = st.lists(
    st.builds(
        carton,
        st.uuids(version=4).map(lambda u: str(u)[:8]),
        st.tuples(st.integers(1, 5), st.integers(1, 9)),
        kind=st.sampled_from(KINDS),
        weight=st.integers(1, 30).map(float),
        size=st.tuples(st.integers(10, 130), st.integers(10, 58), st.integers(5, 60)),
        open_first=st.sampled_from([False, False, False, True]),
    ),
    max_size=16,
    unique_by=lambda one: one.carton,
)


@settings(max_examples=60, deadline=None)
@given(cartons)
def test_whatever_the_sizes_and_weights_a_load_keeps_the_rules(found: list[Carton]) -> None:
    shipment = manifest(*found)
    plan = plan_staging(shipment, reconciled(shipment), ROOMY, time_limit_s=0.05)
    assert check_plan(plan, shipment, ROOMY, [one.carton for one in found]) == []


def box(name: str, x: float, y: float, z: float, length: float = 40, width: float = 40, height: float = 20) -> Spot:
    return Spot((name,), x, y, length, width, height, z)


def loaded(*spots: Spot, weights: dict[str, float] | None = None, **kinds: CartonKind) -> set[str]:
    """The rules that a cart load of 8 kg trays breaks, but for other weights and kinds."""
    names = [spot.cartons[0] for spot in spots]
    shipment = manifest(
        *(carton(n, (1, 1), weight=(weights or {}).get(n, 8), kind=kinds.get(n, CartonKind.TRAY)) for n in names)
    )
    trip = Trip(1, tuple(names), 8.0 * len(names), ("B1",), stacks=spots)
    found = check_plan(StagingPlan(trips=(trip,)), shipment, ROOMY, names)
    return {violation.rule for violation in found}


def test_the_checker_passes_a_sound_stack() -> None:
    assert loaded(box("a", 0, 0, 0), box("b", 0, 0, 20), box("c", 10, 10, 40)) == set()


@pytest.mark.parametrize(
    ("rule", "spots"),
    [
        ("SPACE", (box("a", 0, 0, 0), box("b", 20, 0, 0))),
        ("DECK", (box("a", 90, 0, 0),)),
        ("DECK", (box("a", 0, 0, 0, height=101),)),
        ("SUPPORT", (box("a", 0, 0, 0), box("b", 25, 0, 20))),
        ("SUPPORT", (box("a", 0, 0, 0), box("b", 0, 0, 22))),
        ("SUPPORT", (box("a", 0, 0, 0, 20, 20), box("b", 40, 40, 0, 20, 20), box("c", 0, 0, 20, 60, 60))),
        ("BALANCE", (box("a", 0, 0, 0), box("b", 19, 0, 20), box("c", 38, 0, 40))),
        ("LOADED", (box("b", 0, 0, 20), box("a", 0, 0, 0))),
    ],
)
def test_the_checker_sees_a_load_that_cannot_be(rule: str, spots: tuple[Spot, ...]) -> None:
    assert rule in loaded(*spots)


def test_the_checker_sees_what_is_too_heavy_for_what_is_below() -> None:
    two = (box("a", 0, 0, 0), box("b", 0, 0, 20))
    assert loaded(*two, weights={"b": 10}) == set()
    assert loaded(*two, weights={"b": 10.1}) == {"HEAVIER_BELOW"}
    assert loaded(*two, a=CartonKind.LIGHTING) == {"FRAGILE"}
    assert loaded(*two, a=CartonKind.LIGHTING, b=CartonKind.GRAPHIC) == set()
    assert loaded(*two, a=CartonKind.LIGHTING, b=CartonKind.GRAPHIC, weights={"b": 8.5}) == {"FRAGILE"}
    three = (*two, box("c", 0, 0, 40))
    kinds = dict.fromkeys("abc", CartonKind.GRAPHIC)
    assert loaded(*three, **kinds, weights={"b": 8, "c": 7}) == set()
    assert loaded(*three, **kinds, weights={"b": 8, "c": 7.1}) == {"FRAGILE"}


def test_the_checker_sees_what_must_be_lifted_off_and_dug_out_unless_the_plan_says_so() -> None:
    shipment = manifest(carton("a", (1, 1)), carton("b", (2, 1)))
    stack = (box("a", 0, 0, 0), box("b", 0, 0, 20))
    for lifted_off in ((), ("b",)):
        trip = Trip(1, ("a", "b"), 16, ("B1", "B2"), stacks=stack, lifted_off=lifted_off)
        bays = (BayStaging("B1", ("a",)), BayStaging("B2", ("b",)))
        found = check_plan(StagingPlan(trips=(trip,), bays=bays), shipment, ROOMY, "ab")
        assert [v.rule for v in found] == ([] if lifted_off else ["UNLOADED"])
        trip = Trip(1, ("a", "b"), 16, ("B1",), stacks=stack)
        bay_of_both = BayStaging(
            "B1", ("a", "b"), (Spot(("a", "b"), 0, 0, 60, 40, 30),), dug_out=("a",) if lifted_off else ()
        )
        found = check_plan(StagingPlan(trips=(trip,), bays=(bay_of_both,)), shipment, ROOMY, "ab")
        assert [v.rule for v in found] == ([] if lifted_off else ["DUG"])


def test_the_checker_sees_a_stack_too_high_for_the_floor_and_for_its_kind() -> None:
    shipment = manifest(*(carton(f"{i}", (1, 1), kind=CartonKind.GRAPHIC, weight=2) for i in range(9)))
    for count, rules in ((5, set()), (6, {"FLOOR"})):
        names = tuple(f"{i}" for i in reversed(range(count)))
        bays = (BayStaging("B1", names[::-1], (Spot(names, 0, 0, 60, 40, 15 * count),), moved=names),)
        found = check_plan(StagingPlan(bays=bays), shipment, ROOMY, names)
        assert {v.rule for v in found} == rules


def test_cartons_come_off_a_cart_without_lifting_others_where_that_can_be() -> None:
    """Two bays share the cart: what goes to the one lies beside or over what goes to the other, never under it."""
    shipment = manifest(*(carton(f"{i}", (1 + i % 2, 1), weight=5) for i in range(12)))
    plan = plan_staging(shipment, reconciled(shipment), ROOMY)
    (trip,) = plan.trips
    assert set(trip.stops) == {"B1", "B2"}
    assert trip.lifted_off == ()
    assert check_plan(plan, shipment, ROOMY, [c.carton for c in shipment]) == []


def test_where_a_carton_must_be_lifted_off_the_plan_names_it() -> None:
    """One stack: what goes to the far bay weighs more than one and less than the other carton of the near bay."""
    small = layout(*ROOMY.bays, cart=Cart(110, 60, 40, 100))
    cartons = [
        carton("a", (1, 1), weight=12),
        carton("b", (2, 1), weight=9),
        carton("c", (1, 2), weight=7),
    ]
    shipment = manifest(*cartons)
    plan = plan_staging(shipment, reconciled(shipment), small)
    assert [(trip.cartons, trip.lifted_off) for trip in plan.trips] == [(("a", "b", "c"), ("b",))]
    assert check_plan(plan, shipment, small, "abc") == []


def test_a_quarter_of_the_effort_goes_to_an_order_of_unloading_that_cannot_be_and_is_charged() -> None:
    """The board leaves last and is too long for any place but on the two blocks that leave before it."""
    blocks = [Load(name, 20_000, 600, 300, 400) for name in "ab"]
    board = Load("board", 5_000, 1200, 600, 100)
    effort = Effort(100_000)
    assert load_in_turn([*blocks, board], Deck(100_000, 1200, 600, 500), {"a": 0, "b": 0, "board": 1}, effort) is None
    assert 70_000 < effort.left < 75_500
    before = effort.left
    assert load_in_turn([*blocks, board], Deck(100_000, 1200, 600, 500), {"a": 1, "b": 1, "board": 0}, effort)
    assert before - 5_000 < effort.left < before


def test_what_is_opened_first_lies_on_top_of_its_stack() -> None:
    trays = [carton(f"{i:02}", (1, 1 + i), weight=8 + i % 3 * 0.5) for i in range(12)]
    shipment = manifest(*trays)
    plan = plan_staging(shipment, reconciled(shipment), layout(bay("B1", "Sol", 1, 2, 3)))
    assert plan.bays[0].dug_out == ()
    for spot in plan.bays[0].spots:
        assert list(spot.cartons) == sorted(spot.cartons, reverse=True)


def test_a_carton_that_leans_on_another_needs_no_counterweight_and_may_bridge_a_corner() -> None:
    """Its middle lies over the triangle around three tops, over none of them: carried; over two in a line it is not."""
    deck = Deck(110_000, 1200, 600, 1000)
    feet = [Load(name, 9_000, 200, 200, 200) for name in "abc"]
    wide = Load("d", 9_000, 400, 400, 100)
    corner = [Placement(feet[0], 0, 0, 0, 200, 250), Placement(feet[1], 300, 0, 0, 200, 250)]
    third = Placement(feet[2], 130, 300, 0, 250, 200)
    assert holds([*corner, third, Placement(wide, 50, 50, 200, 400, 400)], deck)
    assert not holds([*corner, Placement(wide, 50, 50, 200, 400, 400)], deck)


def test_a_fragile_carton_bears_its_part_of_what_lies_across_two() -> None:
    """20 kg across two equal fragile ones are 10 kg on each; on one alone they are too much."""
    deck = Deck(110_000, 1200, 600, 1000)
    two = [
        Placement(Load("a", 20_000, 400, 300, 200, fragile=True), 0, 0, 0, 400, 300),
        Placement(Load("b", 20_000, 400, 300, 200, fragile=True), 400, 0, 0, 400, 300),
    ]
    across = Load("c", 20_000, 400, 300, 200, fragile=True)
    assert holds([*two, Placement(across, 200, 0, 200, 400, 300)], deck)
    assert not holds([*two, Placement(across, 0, 0, 200, 400, 300)], deck)


@pytest.mark.parametrize(("kg", "borne"), [(17.4, True), (17.6, False)])
def test_of_two_fragile_cartons_each_bears_by_the_area_that_touches(kg: float, borne: bool) -> None:
    """30 × 30 cm on one and 10 × 15 cm on the other: six sevenths of 17.5 kg are 15 kg, the most that is borne."""
    deck = Deck(110_000, 1200, 600, 1000)
    two = [
        Placement(Load("a", 30_000, 400, 300, 200, fragile=True), 0, 0, 0, 400, 300),
        Placement(Load("b", 30_000, 400, 300, 200, fragile=True), 400, 150, 0, 400, 300),
    ]
    across = Placement(Load("c", round(kg * 1000), 400, 300, 200, fragile=True), 100, 0, 200, 400, 300)
    assert holds([*two, across], deck) is borne
