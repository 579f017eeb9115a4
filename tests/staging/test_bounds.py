"""Dual feasible functions by their definition (Fekete & Schepers 2001), and the bounds that follow from them."""

import random
from fractions import Fraction
from itertools import product
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.staging.bounds import (
    _big_counts_whole,
    _directions,
    _stepped,
    _thresholds,
    _transforms,
    bound_bins,
    bound_trips,
)
from receiving.staging.loads import Deck, Load
from receiving.staging.stop_bounds import Parts, _by_bay, _tied, _with, fewest_stops

DECK = Deck(100, 120, 60, 100)


@pytest.mark.parametrize(("k", "size"), list(product(range(1, 8), range(13))))
def test_a_size_is_rounded_down_to_a_part_in_k_unless_it_is_a_part_in_k_plus_1(k: int, size: int) -> None:
    """u(k)(x) = x where (k + 1) x is whole, else ⌊(k + 1) x⌋ / k."""
    x = Fraction(size, 12)
    wanted = x if ((k + 1) * x).denominator == 1 else Fraction(floor((k + 1) * x), k)
    assert Fraction(_stepped(size, 12, k), k * 12) == wanted


@pytest.mark.parametrize(
    ("size", "least", "counted"),
    [(8, 3, 8), (9, 3, 9), (10, 3, 12), (3, 3, 3), (2, 3, 0), (12, 3, 12), (6, 6, 6), (7, 6, 12)],
)
def test_what_is_too_big_to_share_counts_whole_and_what_is_small_nothing(size: int, least: int, counted: int) -> None:
    """U(ε)(x) = 1 for x > 1 - ε, x between, 0 for x < ε."""
    assert _big_counts_whole(size, 12, least) == counted


def test_the_sizes_at_which_that_changes_are_up_to_half_and_few() -> None:
    assert _thresholds([3, 9, 12, 20], 12) == [1, 3, 4, 6]
    many = _thresholds(range(1, 100), 100)
    assert len(many) <= 7 and many[0] == 1 and many[-1] == 50
    assert _thresholds([], 12) == [6]


@given(st.lists(st.integers(1, 60), min_size=1, max_size=8))
def test_whatever_fits_one_bin_counts_no_more_than_one(sizes: list[int]) -> None:
    while sum(sizes) > 60:
        sizes.pop()
    for values, whole in _transforms([*sizes, 31, 17], 60):
        assert sum(values[: len(sizes)]) <= whole


@pytest.mark.parametrize(
    ("sizes", "bins"),
    [([6, 6, 6, 4], 3), ([5, 5, 5], 2), ([4, 4, 4], 2), ([3, 3, 3, 3], 2), ([10], 1), ([7, 7, 3, 3], 2), ([34] * 3, 3)],
)
def test_a_bound_of_one_direction(sizes: list[int], bins: int) -> None:
    capacity = 10 if max(sizes) <= 10 else 66
    assert bound_bins(sizes, capacity) == bins


def load(name: str, weight: int = 10, size: tuple[int, int, int] = (60, 30, 50)) -> Load:
    return Load(name, weight, *size)


@pytest.mark.parametrize(
    ("loads", "trips"),
    [
        ([], 0),
        ([load("a")], 1),
        ([load("a", 51), load("b", 51)], 2),
        ([load("a", 50), load("b", 50)], 1),
        ([load("a", 1, (120, 60, 51)), load("b", 1, (120, 60, 51))], 2),
        ([load("a", 1, (120, 60, 50)), load("b", 1, (120, 60, 50))], 1),
        ([load("a", 1, (61, 61, 51)), load("b", 1, (61, 61, 51))], 2),
        ([load("a", 1, (120, 31, 100)), load("b", 1, (120, 31, 100))], 2),
        ([load("a", 1, (60, 60, 100)), load("b", 1, (60, 60, 100))], 1),
    ],
)
def test_weight_and_space_give_the_least_trips(loads: list[Load], trips: int) -> None:
    assert bound_trips(loads, DECK) == trips


@pytest.mark.parametrize("finer", [1_000, 1_000_000])
@pytest.mark.parametrize("seed", range(8))
def test_the_bound_is_the_same_whatever_the_unit_of_length(seed: int, finer: int) -> None:
    """In micrometres and less the sums are beyond 64 bits."""
    rng = random.Random(seed)
    sides = [sorted((rng.randint(20, 60), rng.randint(20, 120))) for _ in range(12)]
    loads = [load(f"{n}", 1, (longer, shorter, rng.randint(10, 60))) for n, (shorter, longer) in enumerate(sides)]
    fine = [Load(one.carton, 1, one.length_mm * finer, one.width_mm * finer, one.height_mm * finer) for one in loads]
    deck = Deck(DECK.max_g, DECK.length_mm * finer, DECK.width_mm * finer, DECK.height_mm * finer)
    assert bound_trips(fine, deck) == bound_trips(loads, DECK) >= 2


def test_a_load_lies_straight_or_turned_as_far_as_the_deck_is_wide() -> None:
    several = [load("a", size=(60, 60, 1)), load("b", size=(61, 60, 1)), load("c", size=(90, 61, 1))]
    assert _directions(several, DECK) == ([True, True, False], [True, False, False])


# --- stops ---------------------------------------------------------------------------------------------------------


def test_bays_with_loads_on_one_trip_are_tied_together() -> None:
    loads = [load(name) for name in "abcd"]
    stops = {"a": 1, "b": 2, "c": 3, "d": 4}
    assert _by_bay(loads, stops) == {n: [one] for n, one in zip((1, 2, 3, 4), loads, strict=True)}
    assert set(_tied([1, 2, 3, 4], loads, stops, {})) == {frozenset({n}) for n in (1, 2, 3, 4)}
    tied = _tied([1, 2, 3, 4], loads, stops, {"a": 7, "c": 7, "d": 8})
    assert set(tied) == {frozenset({1, 3}), frozenset({2}), frozenset({4})}
    tied = _tied([1, 2, 3, 4], loads, stops, {"a": 7, "c": 7, "b": 8, "d": 8})
    assert set(tied) == {frozenset({1, 3}), frozenset({2, 4})}


def test_every_subset_of_the_others_is_joined_once() -> None:
    assert sorted(_with(0b1, 0b110)) == [0b1, 0b11, 0b101, 0b111]
    assert list(_with(0b10, 0)) == [0b10]


@pytest.mark.parametrize(
    ("weights", "trips", "stops"),
    [
        ([(1, 100), (2, 100)], 2, 2),
        ([(1, 60), (2, 60)], 2, 2),
        ([(1, 60), (2, 40)], 1, 2),
        ([(1, 50), (1, 50), (2, 100)], 2, 2),
        ([(1, 70), (1, 70), (2, 30), (2, 30)], 2, 3),
        ([(1, 40), (2, 40), (3, 40)], 2, 3),
        ([(1, 60), (2, 60), (3, 60)], 3, 3),
    ],
)
def test_the_fewest_stops_of_so_many_trips(weights: list[tuple[int, int]], trips: int, stops: int) -> None:
    loads = [load(f"{n}", weight, (1, 1, 1)) for n, (_, weight) in enumerate(weights)]
    where = {f"{n}": bay for n, (bay, _) in enumerate(weights)}
    assert fewest_stops(loads, where, {}, DECK, trips).at_least == stops


def test_without_trips_or_bays_there_are_no_stops_and_with_many_bays_what_each_needs_is_summed() -> None:
    assert fewest_stops([], {}, {}, DECK, 3) == Parts(0, ())
    assert fewest_stops([load("a")], {"a": 1}, {}, DECK, 0) == Parts(0, ())
    for count, divided in ((8, True), (9, False)):
        loads = [load(f"{n}", 10, (1, 1, 1)) for n in range(count)]
        found = fewest_stops(loads, {f"{n}": n for n in range(count)}, {}, DECK, 1)
        assert found.at_least == count
        assert found.parts == ((frozenset(range(count)), 1),), divided
