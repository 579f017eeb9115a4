"""What the constraint program calls impossible, held against loads that exist; what it finds, against the rules."""

import random
from itertools import combinations

import pytest

from receiving.model import CartonKind, Trip
from receiving.staging.constraints import Answer, fit_on_carts
from receiving.staging.floor import spot_of
from receiving.staging.loading import CartLoad, holds
from receiving.staging.loads import Deck, Load, deck_of, measure
from receiving.staging.trips import PackingProblem, are_fewest, solve_packing
from tests.staging.load_checker import check_trip
from tests.staging.shipments import carton, manifest
from tests.staging.test_fewest_by_enumeration import SMALL, drawn, fewest

DECK = Deck(250_000, 1200, 600, 1200)
LOW = Deck(150_000, 900, 600, 900)

FIFTEEN = (
    ("a", 18100, 355, 270, 200),
    ("b", 11400, 245, 155, 145),
    ("c", 9400, 360, 285, 170),
    ("d", 8900, 650, 405, 140),
    ("e", 7600, 685, 300, 190),
    ("f", 7200, 450, 265, 120),
    ("g", 5700, 465, 375, 135),
    ("h", 5500, 665, 460, 235),
    ("i", 5400, 305, 275, 120),
    ("j", 5000, 385, 270, 130),
    ("k", 4600, 495, 395, 205),
    ("l", 4400, 555, 315, 140),
)
"""With a first one and two fragile ones: three quarters of the cart's space, and still two carts."""


def fifteen() -> list[Load]:
    sturdy = [Load(*one) for one in FIFTEEN]
    first = Load("m", 2400, 235, 160, 95, open_first=True)
    return [*sturdy, first, Load("n", 5100, 755, 580, 50, True), Load("o", 4300, 1065, 240, 85, True)]


def loadable(seed: int) -> list[Load]:
    """What one cart took of odd cartons, each at the place that the loader gave it."""
    rng = random.Random(seed)
    cart = CartLoad(DECK)
    for number in range(rng.randint(6, 14)):
        width, length = sorted((rng.randrange(100, 595), rng.randrange(200, 1300)))
        fragile = rng.random() < 0.4
        load = Load(f"{number}", rng.randrange(1000, 20_000), length, width, rng.randrange(50, 400), fragile)
        placed = cart.place_for(load)
        if placed is not None:
            cart.add(placed)
    return [one.load for one in cart.placements]


@pytest.mark.parametrize("seed", range(10))
def test_no_load_that_exists_is_called_impossible(seed: int) -> None:
    loads = loadable(seed)
    answer = fit_on_carts(loads, DECK, 1, 2.0)
    assert not answer.impossible
    assert answer.carts is None or all(holds(cart, DECK) for cart in answer.carts)


@pytest.mark.parametrize("firsts", ["none", "some"])
@pytest.mark.parametrize("seed", range(12))
def test_as_few_carts_as_an_enumeration_finds_are_never_called_impossible(seed: int, firsts: str) -> None:
    cartons = drawn(seed, firsts)
    shipment = manifest(*cartons)
    loads, _ = measure(cartons, shipment)
    by_name = {one.carton: one for one in cartons}
    possible = min(fewest(cartons, {one.carton: "" for one in cartons}, {}))
    deck = deck_of(SMALL.cart)
    answer = fit_on_carts(list(loads.values()), deck, possible, 2.0)
    assert not answer.impossible
    for placed in answer.carts or ():
        names = tuple(one.load.carton for one in placed)
        weight = sum(by_name[name].weight_kg or 0 for name in names)
        trip = Trip(1, names, weight, stacks=tuple(spot_of(one) for one in placed))
        assert not check_trip(trip, by_name, SMALL.cart, {})


def test_fifteen_cartons_that_need_two_carts_by_the_rules_alone_are_proven_to() -> None:
    assert fit_on_carts(fifteen(), LOW, 1, 3.0) == Answer(impossible=True)
    solution = solve_packing(PackingProblem(tuple(fifteen()), LOW), time_limit_s=2.0)
    assert (solution.driven, solution.at_least) == (2, 2)


def test_a_short_search_asks_for_no_proof() -> None:
    assert not are_fewest(fifteen(), LOW, 2, 0.5)
    assert are_fewest(fifteen(), LOW, 2, 4.0)


def test_no_effort_gives_no_answer() -> None:
    assert fit_on_carts(fifteen(), LOW, 1, 0.0) == Answer()
    assert fit_on_carts([], LOW, 1, 1.0) == Answer()
    assert fit_on_carts(fifteen(), LOW, 9, 1.0) == Answer()


@pytest.mark.parametrize(
    ("lower", "upper"),
    [
        ({"kind": CartonKind.GRAPHIC}, {}),
        ({"weight": 4}, {"weight": 6}),
        ({"open_first": True}, {}),
    ],
)
def test_two_that_may_not_lie_on_each_other_either_way_need_two_carts(
    lower: dict[str, object], upper: dict[str, object]
) -> None:
    """The one may not lie below; the other may not because it is the larger by more than half."""
    cartons = [
        carton("lower", size=(100, 58, 20), **{"weight": 5, **lower}),  # type: ignore[arg-type]
        carton("upper", size=(40, 20, 20), **{"weight": 5, **upper}),  # type: ignore[arg-type]
    ]
    loads, _ = measure(cartons, manifest(*cartons))
    assert fit_on_carts(list(loads.values()), Deck(100_000, 1000, 600, 500), 1, 2.0).impossible
    assert fit_on_carts(list(loads.values()), Deck(100_000, 1000, 600, 500), 2, 2.0).carts


# --- each rule by itself, from both sides, where nothing else decides -------------------------------------------------

SMALL_DECK = Deck(100_000, 600, 400, 500)


def box(name: str, length: int, width: int, height: int, kg: float = 10, **more: bool) -> Load:
    return Load(name, round(kg * 1000), length, width, height, **more)


def posts(higher: int, lower: int) -> list[Load]:
    """A board that is too light to carry two heavy posts, and too long for either of them alone."""
    return [box("a", 400, 200, higher, 20), box("b", 400, 200, lower, 20), box("board", 600, 400, 50)]


def whole(*kg: float) -> list[Load]:
    """Fragile cartons as large as the deck: they can only lie on each other, the heavier below."""
    return [box(f"{n}", 600, 400, 100, each, fragile=True) for n, each in enumerate(kg)]


BASE = box("base", 600, 400, 250, 8)
ON_IT = {"length": 200, "width": 200, "height": 250}
"""As large as a sixth of the base: the base cannot lie on it instead."""

RULES = {
    "three side by side": [box(name, 400, 200, 300) for name in "abc"],
    "turned, to the last millimetre": [box("a", 400, 200, 300), box("b", 400, 200, 300), box("c", 400, 200, 260)],
    "as heavy as the cart takes": [box("a", 400, 200, 300, 50), box("b", 400, 200, 300, 50)],
    "as high as the cart is": [box("a", 600, 400, 250), box("b", 600, 400, 250)],
    "as high as the cart is, with room beside": [BASE, box("on it", **ON_IT)],
    "side by side on one that is below them all": [BASE, *(box(name, **ON_IT, kg=2) for name in "abcdef")],
    "half of it carried": [box("lower", 400, 300, 400, 20), box("upper", 600, 400, 100)],
    "two that carry, one as much lower as board gives": posts(305, 300),
    "a fragile one bears fifteen kilograms": whole(20, 8, 7),
    "a quarter heavier than what carries it": [BASE, box("on it", **ON_IT, kg=10)],
    "opened first, on its like": [
        box("base", 600, 400, 250, open_first=True),
        box("on it", **ON_IT, open_first=True),
    ],
    "fragile on fragile": [box("base", 600, 400, 250, 8, fragile=True), box("on it", **ON_IT, kg=8, fragile=True)],
    "longer than the deck by a quarter": [box("a", 750, 400, 250), box("b", 750, 400, 250)],
}
BROKEN = {
    "three side by side": [*RULES["three side by side"][:2], box("c", 400, 201, 300)],
    "turned, to the last millimetre": [box("a", 400, 200, 300), box("b", 400, 200, 300), box("c", 401, 200, 260)],
    "as heavy as the cart takes": [box("a", 400, 200, 300, 50), box("b", 400, 200, 300, 50.001)],
    "as high as the cart is": [box("a", 600, 400, 250), box("b", 600, 400, 251)],
    "as high as the cart is, with room beside": [BASE, box("on it", **{**ON_IT, "height": 251})],
    "side by side on one that is below them all": [BASE, *(box(name, **ON_IT, kg=2) for name in "abcdefg")],
    "half of it carried": [box("lower", 400, 290, 400, 20), box("upper", 600, 400, 100)],
    "two that carry, one as much lower as board gives": posts(306, 300),
    "a fragile one bears fifteen kilograms": whole(20, 8, 7.001),
    "a quarter heavier than what carries it": [BASE, box("on it", **ON_IT, kg=10.001)],
    "opened first, on its like": [box("base", 600, 400, 250, open_first=True), box("on it", **ON_IT)],
    "fragile on fragile": [box("base", 600, 400, 250, 8, fragile=True), box("on it", **ON_IT, kg=8)],
    "longer than the deck by a quarter": [box("a", 750, 400, 250), box("b", 751, 400, 250)],
}


def assert_carried(answer: Answer, loads: list[Load], deck: Deck) -> None:
    """Every load is on one cart, within it, and the rules hold."""
    assert answer.carts is not None
    assert sorted(one.load.carton for cart in answer.carts for one in cart) == sorted(load.carton for load in loads)
    for cart in answer.carts:
        assert holds(cart, deck)
        assert sum(one.load.weight_g for one in cart) <= deck.max_g
        for one in cart:
            assert min(one.x_mm, one.y_mm, one.z_mm, deck.height_mm - one.top_mm) >= 0
            assert one.x_mm + one.length_mm <= deck.length_mm
            assert one.y_mm + one.width_mm <= deck.width_mm
            assert sorted((one.length_mm, one.width_mm), reverse=True) == [
                min(one.load.length_mm, deck.length_mm),
                one.load.width_mm,
            ]
        for one, other in combinations(cart, 2):
            apart = (
                one.x_mm + one.length_mm <= other.x_mm
                or other.x_mm + other.length_mm <= one.x_mm
                or one.y_mm + one.width_mm <= other.y_mm
                or other.y_mm + other.width_mm <= one.y_mm
                or one.top_mm <= other.z_mm
                or other.top_mm <= one.z_mm
            )
            assert apart, (one, other)


@pytest.mark.parametrize("rule", RULES)
def test_what_just_keeps_a_rule_is_loaded_and_what_just_breaks_it_is_impossible(rule: str) -> None:
    assert_carried(fit_on_carts(RULES[rule], SMALL_DECK, 1, 2.0), RULES[rule], SMALL_DECK)
    if rule != "longer than the deck by a quarter":  # whoever asks has seen that each fits the cart alone
        assert fit_on_carts(BROKEN[rule], SMALL_DECK, 1, 2.0).impossible


@pytest.mark.parametrize("carts", [1, 2, 3, 4])
def test_as_many_as_there_are_carts_are_spread_over_them_and_one_more_is_impossible(carts: int) -> None:
    """Each takes the whole deck and more than half of the height."""
    loads = [box(f"{n}", 600, 400, 300, 40 + n) for n in range(carts + 1)]
    assert_carried(fit_on_carts(loads[:-1], SMALL_DECK, carts, 4.0), loads[:-1], SMALL_DECK)
    assert fit_on_carts(loads, SMALL_DECK, carts, 4.0).impossible


def test_more_loads_and_carts_than_have_answers_in_time_are_not_asked_about() -> None:
    loads = [box(f"{n}", 100, 80, 50, 1) for n in range(61)]
    asked = [
        fit_on_carts(loads[:number], SMALL_DECK, carts, 0.001).effort > 0
        for number, carts in ((60, 1), (61, 1), (20, 2), (21, 2), (20, 4), (20, 5), (1, 0))
    ]
    assert asked == [True, False, True, False, True, False, False]


def test_the_effort_that_was_spent_is_said_and_is_not_much_more_than_was_given() -> None:
    """A proof that takes 0.015 units is not found with 0.01, and is with 0.02."""
    cut_off, proven = (fit_on_carts(fifteen(), LOW, 1, effort) for effort in (0.01, 0.02))
    assert (cut_off, proven) == (Answer(), Answer(impossible=True))
    assert 0.01 <= cut_off.effort < proven.effort < 0.02
