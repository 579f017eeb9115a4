"""What the constraint program calls impossible, held against loads that exist; what it finds, against the rules."""

import random

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
