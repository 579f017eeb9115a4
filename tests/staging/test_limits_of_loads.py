"""The limits that keep a load and a stack safe, each from both sides; common practice where no source is named."""

import pytest

from receiving.model import TWO_PEOPLE_KG, Cart, Carton, CartonKind, HandOver, LiftAdvice, Manifest, Spot, Topic, Trip
from receiving.staging import floor, handling, loads, stacking
from receiving.staging.handling import Coupling, Duration, _is_heavy, _minutes, _reach_cm, lift_advice, limit_of_lift
from receiving.staging.loads import Deck, Load, clip_to_deck, deck_of, fits_on, may_carry, measure
from receiving.staging.stacking import (
    _changes,
    _may_stand,
    _wrong_pairs,
    dug_cartons,
    handle_less,
    may_rest_on,
    stack_up,
)
from receiving.staging.support import clip_polygon, corners, covers, hull
from tests.staging.shipments import carton, manifest

DECK = Deck(110_000, 1200, 600, 1000)


def load(name: str = "a", kg: float = 10, size: tuple[int, int, int] = (600, 400, 300), **more: bool) -> Load:
    return Load(name, round(kg * 1000), *size, **more)


def test_the_limits_are_those_that_were_chosen() -> None:
    assert (loads.UNWEIGHED_KG, loads.UNMEASURED_CM) == (10.0, (60.0, 40.0, 30.0))
    assert {CartonKind.LIGHTING, CartonKind.GRAPHIC, CartonKind.HEADER} == loads.FRAGILE
    assert (loads.FRAGILE_BEARS_G, loads.HEAVIER, loads.OVERHANG) == (15_000, (5, 4), 1.25)
    assert (floor.STACK_CM, floor.FRAGILE_STACK_CM) == (120.0, 75.0)
    assert (handling.DECK_CM, handling.PALLET_CM, handling.SHELF_CM) == (25.0, 15.0, 75.0)
    assert (handling.WALK_M_PER_S, handling.LIFT_S, handling.HEAVY_INDEX) == (1.0, 12.0, 3.0)


# --- what may lie on what ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lower", "upper", "may"),
    [
        (load(kg=8), load(kg=10), True),
        (load(kg=8), load(kg=10.001), False),
        (load(kg=8, fragile=True), load(kg=8, fragile=True), True),
        (load(kg=8, fragile=True), load(kg=8.001, fragile=True), False),
        (load(kg=8, fragile=True), load(kg=1), False),
        (load(kg=8), load(kg=10, fragile=True), True),
    ],
)
def test_heavy_lies_below_and_nothing_sturdy_on_fragile(lower: Load, upper: Load, may: bool) -> None:
    assert may_carry(lower, upper) is may


@pytest.mark.parametrize(
    ("upper", "may"),
    [
        (load(size=(600, 400, 100)), True),
        (load(size=(601, 400, 100)), False),
        (load(size=(600, 401, 100)), False),
        (load(open_first=True), True),
    ],
)
def test_nothing_wider_than_what_is_below_lies_on_a_stack(upper: Load, may: bool) -> None:
    assert may_rest_on(upper, load()) is may
    assert not may_rest_on(load(), load(open_first=True)), "nothing lies over what is opened first"


def test_what_is_opened_first_and_what_is_fragile_rank_above() -> None:
    ranks = [load(fragile=f, open_first=o).rank for o in (False, True) for f in (False, True)]
    assert ranks == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("load_size", "kg", "fits"),
    [
        ((1200, 600, 1000), 110, True),
        ((600, 600, 1000), 110.001, False),
        ((1201, 600, 1000), 1, False),
        ((1200, 601, 1000), 1, False),
        ((1200, 600, 1001), 1, False),
        ((600, 600, 1), 1, True),
    ],
)
def test_a_carton_fits_a_cart_up_to_its_deck_height_and_load(
    load_size: tuple[int, int, int], kg: float, fits: bool
) -> None:
    assert fits_on(load(kg=kg, size=load_size), DECK) is fits
    assert fits_on(load(kg=kg, size=load_size), Deck(110_000, 600, 1200, 1000)) is fits, "in one of two directions"


@pytest.mark.parametrize(("length", "taken"), [(1200, 1200), (1201, 1200), (1500, 1200), (1501, 1501)])
def test_a_slight_overhang_takes_no_deck(length: int, taken: int) -> None:
    clipped_load = clip_to_deck(load("a", 9, (length, 300, 200), fragile=True, open_first=True), DECK)
    assert clipped_load == load("a", 9, (taken, 300, 200), fragile=True, open_first=True)


def test_a_cart_is_measured_in_whole_grams_and_millimetres_rounded_down() -> None:
    assert deck_of(Cart(99.9999, 60.19, 120.09, 99.99)) == Deck(99_999, 1200, 601, 999)
    assert DECK.area_mm2 == 720_000


# --- measures that are not stated ----------------------------------------------------------------------------------


def measured(*cartons: Carton) -> tuple[dict[str, Load], tuple[str, ...]]:
    return measure(cartons, Manifest("S", "1", cartons))


def test_what_is_not_stated_is_the_most_of_its_kind_or_the_planning_value() -> None:
    known, bare = carton("01", weight=8, size=(60, 40, 15)), carton("02", weight=None, size=None)
    other = carton("03", kind=CartonKind.LIGHTING, weight=None, size=None)
    found, assumed = measured(known, carton("04", weight=6, size=(20, 50, 30)), bare, other)
    assert found["02"] == Load("02", 8_000, 600, 500, 300)
    assert found["03"] == Load("03", 10_000, 600, 400, 300, fragile=True)
    assert len(assumed) == 8
    assumed = tuple(map(str, assumed))
    assert assumed[0].startswith("Carton 02: weight not stated, 8 kg") and "the most of any tray here" in assumed[0]
    assert any("our planning value" in words and "Carton 03" in words for words in assumed)


def test_measures_are_rounded_up_but_for_the_dust_of_fractions() -> None:
    found, assumed = measured(carton("01", weight=4.2501, size=(30.01, 60.1, 0.04)))
    assert (found["01"], assumed) == (Load("01", 4_251, 601, 301, 1), ())
    found, _ = measured(carton("01", weight=8.2, size=(28.7, 57.4, 1.1)))
    assert found["01"] == Load("01", 8_200, 574, 287, 11)


def test_an_outer_box_weighs_what_is_in_it_where_all_of_that_is_known() -> None:
    outer = carton("00", kind=CartonKind.OUTER, weight=None)
    inside = [carton("01", weight=3, outer="00"), carton("02", weight=4.5, outer="00")]
    assert measured(outer, *inside)[0]["00"].weight_g == 7_500
    unknown = carton("03", weight=None, outer="00")
    assert measured(outer, *inside, unknown)[0]["00"].weight_g == 10_000
    assert measured(outer)[0]["00"].weight_g == 10_000


# --- stacks --------------------------------------------------------------------------------------------------------

FLOOR = Deck(1 << 60, 1200, 600, 1200, 750)


def stacks(*several: Load, opening: dict[str, int] | None = None, arrival: dict[str, int] | None = None) -> list[str]:
    return [
        "".join(each.carton for each in stack)
        for stack in stack_up(several, FLOOR, opening or {}, arrival=arrival or {})
    ]


@pytest.mark.parametrize(("height", "found"), [(600, ["ab"]), (601, ["a", "b"])])
def test_a_stack_is_no_higher_than_the_floor_allows(height: int, found: list[str]) -> None:
    assert stacks(load("a", size=(600, 400, 600)), load("b", size=(600, 400, height))) == found


@pytest.mark.parametrize(("height", "found"), [(150, ["ab"]), (151, ["a", "b"])])
def test_a_fragile_carton_on_others_reaches_no_higher_than_its_own_limit(height: int, found: list[str]) -> None:
    assert stacks(load("a", size=(600, 400, 600)), load("b", size=(600, 400, height), fragile=True)) == found


@pytest.mark.parametrize(("kg", "found"), [(7.5, ["abc"]), (7.6, ["ab", "c"])])
def test_a_fragile_carton_bears_fifteen_kilograms_in_all(kg: float, found: list[str]) -> None:
    first = load("a", 20, (600, 400, 100), fragile=True)
    others = [load(name, kg, (600, 400, 100), fragile=True) for name in "bc"]
    assert stacks(first, *others) == found


def test_a_carton_goes_on_the_tightest_top_then_on_the_highest_stack() -> None:
    alone = load("x", size=(400, 200, 100))
    assert stacks(load("a", size=(600, 400, 200)), load("b", 50, (500, 500, 200)), alone) == ["ax", "b"]
    assert stacks(load("a", 50, (500, 500, 200)), load("b", size=(600, 400, 200)), alone) == ["a", "bx"]
    assert stacks(load("a", 8, (500, 300, 200)), load("b", 50, (500, 300, 201)), alone) == ["a", "bx"]


def test_nothing_lies_on_what_is_opened_before_it_or_comes_after_it() -> None:
    a, b = load("a"), load("b")
    assert stacks(a, b, opening={"a": 1, "b": 2}) == ["a", "b"]
    assert stacks(a, b, opening={"a": 2, "b": 1}) == stacks(a, b, opening={"a": 1, "b": 1}) == ["ab"]
    assert stacks(a, b, arrival={"a": 2, "b": 1}) == ["a", "b"]
    assert stacks(a, b, arrival={"a": 1, "b": 2}) == stacks(a, b, arrival={"a": 1, "b": 1}) == ["ab"]
    together = stack_up([a, b], FLOOR, {"a": 1, "b": 2}, without_digging=False, arrival={})
    assert [[each.carton for each in stack] for stack in together] == [["a", "b"]]


def test_what_lies_under_a_carton_that_is_opened_later_is_dug_out_in_opening_order() -> None:
    opening = {"a": 3, "b": 4, "c": 1, "d": 2}
    assert dug_cartons([("a", "b"), ("c", "d"), ("b", "a")], opening) == ("c", "a")
    assert dug_cartons([("a", "c", "b")], opening) == ("c", "a")


@pytest.mark.parametrize(
    ("stack", "stands"),
    [
        ([load("a", size=(600, 400, 1300))], True),
        ([load("a", size=(600, 400, 600)), load("b", size=(600, 400, 600))], True),
        ([load("a", size=(600, 400, 600)), load("b", size=(600, 400, 601))], False),
        ([load("a", size=(600, 400, 600)), load("b", size=(600, 400, 150), fragile=True)], True),
        ([load("a", size=(600, 400, 600)), load("b", size=(600, 400, 151), fragile=True)], False),
        ([load("a", kg=1), load("b", kg=9)], False),
    ],
)
def test_a_stack_that_was_changed_keeps_every_rule(stack: list[Load], stands: bool) -> None:
    assert _may_stand(stack, FLOOR) is stands


# --- support -------------------------------------------------------------------------------------------------------


def test_what_two_shapes_share_and_enclose() -> None:
    square = corners((0, 0, 10, 10))
    assert square == ((0, 0), (10, 0), (10, 10), (0, 10))
    assert set(clip_polygon(square, (5, 5, 20, 20))) == {(5.0, 5.0), (10, 5.0), (10, 10), (5.0, 10)}
    assert {x for x, _ in clip_polygon(square, (10, 0, 20, 10))} == {10}, "an edge alone"
    assert clip_polygon(square, (11, 0, 20, 10)) == ()
    assert clip_polygon(square, (0, 0, 10, 10)) == square
    assert hull([(0, 0), (1, 1)]) == ((0, 0), (1, 1))
    assert hull([(0, 0), (4, 0), (4, 4), (0, 4), (2, 2), (4, 2)]) == ((0, 0), (4, 0), (4, 4), (0, 4))
    assert hull([(0, 4), (4, 0), (0, 0)]) == ((0, 0), (4, 0), (0, 4)), "three corners, counterclockwise"
    assert not covers(hull([(0, 0), (2, 2), (4, 4)]), (1, 1)), "three in a line hold nothing"


@pytest.mark.parametrize(
    ("point", "inside"), [((5, 5), True), ((0, 0), True), ((10, 5), True), ((10.001, 5), False), ((5, -0.001), False)]
)
def test_a_point_is_carried_within_the_shape_and_on_its_edge(point: tuple[float, float], inside: bool) -> None:
    assert covers(corners((0, 0, 10, 10)), point) is inside
    assert not covers(((0, 0), (10, 10)), (5, 5)), "a line carries nothing"


# --- lifting -------------------------------------------------------------------------------------------------------


def trip(*names: str, people: int = 1, z_cm: float = 0.0) -> Trip:
    spots = tuple(Spot((name,), 0, 0, 60, 40, 30, z_cm=z_cm) for name in names)
    return Trip(1, names, 10.0 * len(names), stacks=spots, people=people)


def test_the_time_of_a_trip_is_its_walk_and_two_lifts_of_each_carton() -> None:
    assert _minutes(trip("a", "b"), 60.0) == pytest.approx((2 * 60 / 1.0 + 2 * 2 * 12.0) / 60)


@pytest.mark.parametrize(("v_cm", "reach"), [(25, 40.0), (24.9, 45.0), (0, 45.0), (75, 40.0)])
def test_the_reach_is_from_the_middle_of_a_carton_and_longer_near_the_floor(v_cm: float, reach: float) -> None:
    """Manual of NIOSH 94-110, section 1.3.1.1: H = 20 + W/2 from 25 cm up, 25 + W/2 below."""
    assert _reach_cm(load(size=(600, 400, 300)), v_cm) == reach


@pytest.mark.parametrize(
    ("size", "coupling"),
    [((400, 300, 300), Coupling.FAIR), ((401, 300, 300), Coupling.POOR), ((400, 300, 301), Coupling.POOR)],
)
def test_the_hold_is_poor_beyond_40_by_30_cm(size: tuple[int, int, int], coupling: Coupling) -> None:
    fair = limit_of_lift(load(size=(400, 300, 300)), 80.0, 90.0, 0.2, Duration.SHORT)
    found = limit_of_lift(load(size=size), 80.0, 90.0, 0.2, Duration.SHORT)
    assert found == pytest.approx(fair * (1.0 if coupling is Coupling.FAIR else 0.9))


def test_a_lift_is_limited_by_its_worse_end() -> None:
    one = load(size=(400, 300, 300))
    down, up = (limit_of_lift(one, *ends, 0.2, Duration.SHORT) for ends in ((75.0, 0.0), (0.0, 75.0)))
    assert down == pytest.approx(up), "at low frequency it does not matter where the lift begins"
    assert down < limit_of_lift(one, 75.0, 75.0, 0.2, Duration.SHORT)


@pytest.mark.parametrize(
    ("walk_m", "duration"),
    [(1788.0, Duration.SHORT), (1788.5, Duration.MODERATE), (3588.0, Duration.MODERATE), (3588.5, Duration.LONG)],
)
def test_the_longer_the_work_lasts_the_less_is_recommended(walk_m: float, duration: Duration) -> None:
    """One trip there and back at 1 m/s with one carton: (2 × walk + 24) / 60 minutes; table 5 by hours of work."""
    found = lift_advice([trip("a")], {"a": load("a", size=(400, 300, 300))}, ["a"], walk_m)
    rate = 2 / _minutes(trip("a"), walk_m)
    wanted = limit_of_lift(load("a", size=(400, 300, 300)), 0.0, 25.0, rate, duration)
    assert found[0].limit_kg == round(wanted, 1)


@pytest.mark.parametrize(("kg", "expected"), [(TWO_PEOPLE_KG, True), (TWO_PEOPLE_KG + 0.001, False)])
def test_two_people_are_named_up_to_what_two_may_lift(kg: float, expected: bool) -> None:
    lower = lift_advice([trip("a")], {"a": load("a", kg)}, ["a"], 60.0)[0].lower
    assert [str(words).startswith("two people") for words in lower] == [expected, *[False] * (len(lower) - 1)]


def test_what_a_lift_from_waist_height_allows_is_said_to_a_tenth() -> None:
    """Raised to 75 cm both ends allow more: from the floor to a cart of 25 cm they do not."""
    one = load("a", 20, size=(400, 300, 200))
    lower = lift_advice([trip("a")], {"a": one}, ["a"], 60.0)[0].lower
    raised = limit_of_lift(one, 75.0, 75.0, 2 / _minutes(trip("a"), 60.0), Duration.SHORT)
    assert f"(75 cm, 29.5 in): limit {raised:.1f} kg (" in str(lower[1])
    assert f"{raised:.1f}" != f"{raised:.0f}.0"


@pytest.mark.parametrize(
    ("kg", "advised"),
    [(5.0, 0), (20.0, 3)],
)
def test_what_lowers_the_index_is_said_where_it_is_above_one(kg: float, advised: int) -> None:
    found = lift_advice([trip("a")], {"a": load("a", kg, size=(400, 300, 200))}, ["a"], 60.0)[0]
    assert found.index is not None and (found.index > 1) is bool(advised)
    assert len(found.lower) == advised


def test_each_hand_over_of_a_carton_whose_weight_is_known_has_advice() -> None:
    loads_by_name = {name: load(name) for name in "ab"}
    found = lift_advice([trip("a", "b", z_cm=30.0)], loads_by_name, ["b"], 60.0)
    assert [(each.carton, each.hand_over) for each in found] == [("b", hand_over) for hand_over in HandOver]
    higher, lower = (lift_advice([trip("b", z_cm=z)], loads_by_name, ["b"], 60.0) for z in (30.0, 0.0))
    assert higher[0].limit_kg != lower[0].limit_kg, "the height in the load counts"
    assert lift_advice([trip("b", people=2)], loads_by_name, ["b"], 60.0) == ()


@pytest.mark.parametrize(("kg", "heavy"), [(22.9, False), (23.0, True)])
def test_a_carton_is_heavy_from_23_kilograms(kg: float, heavy: bool) -> None:
    assert _is_heavy(carton("01", weight=kg), None) is heavy
    assert not _is_heavy(carton("01", weight=None), None)


@pytest.mark.parametrize(("index", "heavy"), [(3.0, False), (3.01, True), (None, True)])
def test_a_lighter_carton_is_heavy_above_three_times_the_limit_of_its_lift(index: float | None, heavy: bool) -> None:
    worst = LiftAdvice("01", HandOver.CART_TO_FLOOR, 12.0, 4.0, index)
    assert _is_heavy(carton("01", weight=12.0), worst) is heavy


@pytest.mark.parametrize(
    ("kg", "topic"), [(20.0, None), (25.0, Topic.HEAVY), (30.0, Topic.HEAVY), (31.0, Topic.NOT_BY_HAND)]
)
def test_a_heavy_carton_is_for_two_people_up_to_a_limit(kg: float, topic: Topic | None) -> None:
    from receiving.staging import plan_staging
    from tests.staging.shipments import layout, reconciled

    shipment = manifest(carton("01", (1, 1), weight=kg, size=(30, 30, 30)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    topics = {each.topic for each in plan.cautions if each.carton == "01"} & {Topic.HEAVY, Topic.NOT_BY_HAND}
    assert topics == ({topic} if topic else set())


# --- changes of stacks ---------------------------------------------------------------------------------------------


def named(*stacks: str) -> list[list[Load]]:
    return [[load(name) for name in stack] for stack in stacks]


def in_names(change: dict[int, list[Load]]) -> dict[int, str]:
    return {number: "".join(one.carton for one in stack) for number, stack in change.items()}


def test_cartons_change_places_or_go_into_another_stack_but_for_each_stacks_base() -> None:
    found = [in_names(change) for change in _changes(named("ab", "cd"), [(1, 1), (0, 0)])]
    changed_round = [
        {0: "ba"},
        {0: "cb", 1: "ad"},
        {0: "db", 1: "ca"},
        {0: "ac", 1: "bd"},
        {0: "ad", 1: "cb"},
    ]  # in the second stack nothing is wrong
    moved = [{0: "a", 1: "cbd"}, {0: "a", 1: "cdb"}, {1: "c", 0: "adb"}, {1: "c", 0: "abd"}]
    assert found == [*changed_round, *moved]


def test_where_nothing_is_wrong_in_two_stacks_they_are_left_as_they_are() -> None:
    assert [*_changes(named("ab", "cd"), [(0, 0), (0, 0)])] == []
    for change in _changes(named("ab", "cd", "ef"), [(0, 0), (0, 1), (0, 0)]):
        assert 1 in change


@pytest.mark.parametrize(
    ("stack", "opening", "arrival", "wrong"),
    [
        ("abc", {}, {}, (0, 0)),
        ("abc", {"a": 3, "b": 2, "c": 1}, {}, (0, 0)),
        ("abc", {"a": 1, "b": 2, "c": 3}, {}, (2, 3)),
        ("abc", {"a": 1, "b": 3, "c": 2}, {}, (1, 2)),
        ("abc", {}, {"a": 1, "b": 2, "c": 3}, (0, 0)),
        ("abc", {}, {"a": 3, "b": 2, "c": 1}, (2, 3)),
        ("ab", {"a": 1, "b": 2}, {"a": 2, "b": 1}, (2, 2)),
        ("ab", {"a": 1, "b": 1}, {"a": 1, "b": 1}, (0, 0)),
    ],
)
def test_a_carton_is_handled_twice_under_one_that_is_opened_later_or_came_before(
    stack: str, opening: dict[str, int], arrival: dict[str, int], wrong: tuple[int, int]
) -> None:
    assert _wrong_pairs(named(stack)[0], opening, arrival) == wrong


def test_stacks_are_changed_until_nothing_is_handled_twice_or_the_tries_are_spent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    opening = {name: turn for turn, name in enumerate("abcdef")}
    floor_deck = Deck(1 << 40, 3000, 1200, 1200, 750)
    stacks = named("abc", "def")
    better = handle_less(stacks, floor_deck, opening, {})
    assert [_wrong_pairs(stack, opening, {}) for stack in better] == [(0, 0), (0, 0)]
    assert sorted(one.carton for stack in better for one in stack) == list("abcdef")
    assert [len(stack) for stack in stacks] == [3, 3] and stacks[0][0].carton == "a", "what was given stays as it was"
    monkeypatch.setattr(stacking, "CHANGES", 0)
    assert handle_less(stacks, floor_deck, opening, {}) == stacks
