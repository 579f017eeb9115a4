"""How hard a plan is searched for, and in which orders loads are tried.

The numbers of trips in DEVELOPERS.md were counted with these efforts: whoever moves one counts again, with
``tests/bench/staging_loads.py`` and ``staging_plans.py``, and changes the numbers here with the table there.
"""

import pytest

from receiving.staging import (
    bounds,
    by_bay,
    by_weight,
    constraints,
    floor,
    loading,
    reloading,
    stacking,
    stop_bounds,
    stops,
    support,
    trips,
    waves,
)
from receiving.staging.floor import Floors
from receiving.staging.loading import arrange
from receiving.staging.loads import Deck, Load
from receiving.staging.ways import COLUMNS, LOADING_ORDERS, MIXED_ORDERS, PREFERENCES, WAYS, Stacking


def test_the_efforts_are_those_that_were_measured() -> None:
    assert (by_weight.ROUNDS, by_weight.NODES, by_weight.DEEPEST, by_weight.DIVES) == (400, 200, 100, 4)
    assert (by_weight.MOST_STEPS, by_weight.MOST_PATTERNS) == (100_000, 5_000)
    assert (by_bay.FITTING_IN, by_bay.TURNS) == (12, 6)
    assert (loading.CARRIED, loading.PLACING, loading.CARRYING, loading.ROOMY, loading.TOUCH_MM) == (
        0.5,
        20,
        8,
        1.06,
        5,
    )
    assert (reloading.ROUND, reloading.SEED, reloading.MEMORY, reloading.PART) == (150, 1, 30, 3)
    assert (reloading.LEFT, reloading.GROWS, reloading.BY_COUNT, reloading.TOGETHER) == (0.05, 0.01, 50, 0.05)
    assert (trips.FIRST, trips.CONSTRAINED, trips.INSTEAD, trips.SPENT) == (4, 0.35, 0.75, 2.5)
    assert (reloading.ONE_CART, reloading.WHOLE_CART, reloading.NEIGHBOURS, reloading.EVENLY) == (40, 10, 50, 70)
    assert (reloading.IN_COLUMNS, reloading.MIXED) == (50, 50)
    assert (reloading.ORDERS, reloading.SHAKES) == ((0, 0, 0, 0, 0, 0, 1, 2), (0.0, 0.1, 0.2))
    assert (stops.MOST_BAYS, stops.MOST_DIVISIONS, stops.FEW_WAYS, stops.DEALING) == (7, 12, 4, 0.35)
    assert (stop_bounds.MOST_KNOTS, trips.COMPARISONS_PER_S) == (8, 2_500_000)
    assert (stacking.CHANGES, bounds.MOST_INT64) == (2_000, 2**62)
    assert (waves.PACKING, waves.SHARING, waves.PROVING, waves.STOPPING, waves.UNLOADING) == (0.8, 0.3, 0.8, 0.15, 0.05)
    assert (trips.FIRST, trips.WORTH_PROVING_S, trips.CONSTRAINED, trips.SPENT) == (4, 2.0, 0.35, 2.5)
    assert (trips.LEAST_RESTACKING, trips.MOST_TRIPS) == (10_000_000, 2**20)
    assert (constraints.MOST_LOADS, constraints.MOST_CARTS, constraints.MOST_ON_SEVERAL) == (60, 4, 20)
    assert constraints.ATTEMPTS == 60
    assert (floor.FLOOR_EFFORT, floor.STEPS, support.DUST) == (100_000, 1_000, 1e-6)


HEAVY = Load("heavy", 20_000, 300, 200, 200)
BROAD = Load("broad", 10_000, 800, 400, 100)
TALL = Load("tall", 10_000, 300, 200, 700)
FRAGILE = Load("fragile", 30_000, 900, 500, 900, fragile=True)
FIRST = Load("first", 30_000, 900, 500, 900, open_first=True)


@pytest.mark.parametrize(
    ("order", "names"),
    [
        (0, ["heavy", "broad", "tall", "fragile", "first"]),
        (1, ["broad", "tall", "heavy", "fragile", "first"]),  # of the same area the taller
        (2, ["tall", "heavy", "broad", "fragile", "first"]),
    ],
)
def test_loads_are_tried_heavy_broad_or_tall_first_with_fragile_then_open_first_last(
    order: int, names: list[str]
) -> None:
    several = [FIRST, FRAGILE, TALL, BROAD, HEAVY]
    assert [load.carton for load in sorted(several, key=LOADING_ORDERS[order])] == names
    mixed = [load.carton for load in sorted(several, key=MIXED_ORDERS[order])]
    assert mixed == ["fragile", *(name for name in names if name != "fragile")], "as large as it is, and no later"


def test_of_equal_places_the_one_at_the_corner_lengthwise_or_across_is_taken() -> None:
    places = [(0, 5, 9), (5, 0, 7), (0, 7, 7)]
    chosen = [min(places, key=lambda place, by=one: by.side(*place)) for one in PREFERENCES]  # type: ignore[misc]
    assert chosen == [(0, 5, 9), (0, 7, 7), (0, 5, 9)]
    assert PREFERENCES[2].side(1, 2, 3) == (-3, 2, 1)
    assert [one.stacking for one in PREFERENCES] == [Stacking.LOW] * 3
    assert [one.stacking for one in COLUMNS] == [Stacking.FRAGILE_TOGETHER] * 3 + [Stacking.TIGHT] * 3


def test_every_way_is_tried_once_and_unlike_ones_first() -> None:
    assert len(WAYS) == len(set(WAYS)) == 13
    assert WAYS[0] == (PREFERENCES[0], LOADING_ORDERS[0])
    assert {way for way in WAYS if way[0] in PREFERENCES} == {(p, o) for p in PREFERENCES for o in LOADING_ORDERS}


def test_an_effort_is_spent_at_its_last_comparison() -> None:
    assert [loading.Effort(left).spent for left in (2, 1, 0, -1)] == [False, False, True, True]


@pytest.mark.parametrize(("given_s", "asked_for_s"), [(2.0, 1.6), (10.0, 8.0)])
def test_all_waves_together_are_proven_with_as_much_as_one_was_packed_with(
    given_s: float, asked_for_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two waves of one cart each that could ride together: whether they must be two is asked for once, in that time."""
    deck = Deck(100_000, 1200, 600, 1000)
    made = []
    for number in (1, 2):
        own = (Load(f"{number}", 10_000, 600, 400, 300),)
        solution = trips.PackingSolution((arrange(own, deck) or (),), 1)
        made.append(waves.Wave(number, Floors(), number - 1, trips.PackingProblem(own, deck), solution, ()))
    asked = []
    monkeypatch.setattr(waves, "are_fewest", lambda *given: asked.append(given[2:]) or True)
    assert waves.trips_at_least(made, deck, waves.Search(given_s)) == 2
    assert asked == [(2, pytest.approx(asked_for_s))]
    monkeypatch.setattr(waves, "are_fewest", lambda *given: False)
    assert waves.trips_at_least(made, deck, waves.Search(given_s)) == 1
    assert waves.trips_at_least(made[:1], deck, waves.Search(given_s)) == 1
