"""Carts loaded again until what was left behind has found a place: what is left counts more; what is lost ends."""

from random import Random

import pytest

from receiving.staging.loading import CartLoad, Effort, Placement, holds
from receiving.staging.loads import Deck, Load
from receiving.staging.reloading import GROWS, _Reloading, reload_carts
from receiving.staging.trips import PackingProblem, solve_packing

DECK = Deck(250_000, 1200, 600, 1200)
WIDE = tuple(Load(f"{n}", 10_000 - n, 700, 500, 500) for n in range(3))
"""Two stand on each other, no three on one cart."""


def reloading(*left: Load, effort: int = 1_000_000) -> _Reloading:
    return _Reloading({0: CartLoad(DECK)}, left, {}, Effort(effort), Random(1))


def test_what_is_left_behind_again_counts_more_each_time() -> None:
    search = reloading(*WIDE)
    empty = {0: CartLoad(DECK)}
    once = search.cost(WIDE[2:], empty)
    for _ in range(10):
        search.round()
    (left,) = search.left
    assert sum(search.counts.values()) == pytest.approx(len(WIDE) + 10 * GROWS)
    assert search.cost(WIDE, empty) > reloading(*WIDE).cost(WIDE, empty)
    assert search.counts[left.carton] > 1
    assert once == reloading(*WIDE).cost(WIDE[2:], empty)


def test_a_round_ends_as_soon_as_more_is_left_behind_than_it_may_leave() -> None:
    search = reloading(*WIDE)
    one = search.cost(WIDE[2:], {})
    assert search._load({0: CartLoad(DECK)}, WIDE, one / 2) is None
    left = search._load({0: CartLoad(DECK)}, WIDE, one * 1.01)
    assert left is not None and len(left) == 1


def test_what_is_free_counts_for_more_on_one_cart_than_on_two() -> None:
    """Of loads that leave the same behind the search goes on from the one with room for one more."""
    search = _Reloading({0: CartLoad(DECK), 1: CartLoad(DECK)}, WIDE, {}, Effort(1_000_000), Random(1))
    low, side = (Load(name, 10_000, 700, 500, 500) for name in ("low", "side"))
    on_one = {0: CartLoad(DECK, placements=[Placement(low, 0, 0, 0, 700, 500), Placement(side, 0, 0, 500, 700, 500)])}
    on_two = {
        trip: CartLoad(DECK, placements=[Placement(one, 0, 0, 0, 700, 500)]) for trip, one in enumerate((low, side))
    }
    free = search.cost(WIDE, {**on_one, 1: CartLoad(DECK)}), search.cost(WIDE, on_two)
    assert free[0] < free[1]


def test_loads_bound_to_a_trip_stay_on_it() -> None:
    bound = {"0": 1, "1": 1}
    carts = reload_carts({1: CartLoad(DECK), 2: CartLoad(DECK)}, WIDE, bound, Effort(1_000_000), Random(1))
    assert carts is not None
    assert {trip: {one.load.carton for one in cart.placements} for trip, cart in carts.items()} == {
        1: {"0", "1"},
        2: {"2"},
    }


def test_what_does_not_go_on_the_carts_is_given_up_with_the_effort() -> None:
    effort = Effort(20_000)
    assert reload_carts({0: CartLoad(DECK)}, WIDE, {}, effort, Random(1)) is None
    assert effort.spent


SHIPMENT = (
    (4200, 1335, 210, 125, True),
    (9100, 470, 315, 150, False),
    (9500, 395, 270, 115, False),
    (5500, 635, 580, 55, True),
    (7300, 380, 350, 135, False),
    (2800, 595, 345, 120, True),
    (9000, 565, 340, 190, False),
    (6700, 660, 370, 160, False),
    (5200, 790, 580, 50, True),
    (6700, 540, 375, 115, False),
    (4400, 505, 465, 140, False),
    (3600, 610, 445, 95, True),
    (6400, 835, 235, 155, True),
    (6100, 525, 380, 145, False),
    (4700, 1125, 210, 95, True),
    (7600, 680, 430, 185, False),
    (5200, 650, 400, 220, False),
    (7000, 1370, 225, 180, True),
    (3200, 475, 335, 95, True),
    (20000, 290, 225, 120, False),
    (9700, 665, 315, 155, False),
    (6700, 425, 320, 135, False),
    (5900, 845, 535, 50, True),
    (9900, 555, 415, 180, False),
    (7900, 415, 270, 175, False),
    (9000, 465, 350, 160, False),
    (5300, 615, 305, 115, False),
    (5300, 645, 425, 135, False),
    (7600, 695, 340, 165, False),
    (15000, 460, 360, 230, False),
    (8700, 300, 225, 130, False),
    (9200, 465, 310, 115, False),
    (2700, 325, 210, 95, False),
)
"""Grams, sides and height in millimetres, fragile: an invented shipment of odd sizes; the last is opened first."""


def test_two_carts_take_what_three_took_before_counts() -> None:
    """53 % of the space of two carts, which a search of 20 s without counts did not find the use of."""
    loads = tuple(
        Load(f"{n:02}", *measures, fragile, open_first=n == len(SHIPMENT) - 1)
        for n, (*measures, fragile) in enumerate(SHIPMENT)
    )
    solution = solve_packing(PackingProblem(loads, DECK), time_limit_s=8.0)
    assert solution.driven == solution.at_least == 2
    assert all(holds(trip, DECK) for trip in solution.trips)
