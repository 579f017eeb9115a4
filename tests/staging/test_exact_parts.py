"""A part of a cart loaded again: every rule kept beside what stays, the cheapest left behind, the rest not moved."""

import random
from collections.abc import Sequence

import pytest

from receiving.staging import trips
from receiving.staging.constraints import Answer
from receiving.staging.exact_parts import GROWS, MOST_FREE, _Parts, load_parts_again
from receiving.staging.loading import CartLoad, Effort, Placement, holds
from receiving.staging.loads import Deck, Load
from receiving.staging.part_program import Loaded, Part, load_again
from receiving.staging.trips import PackingProblem
from tests.staging.test_constraints import BROKEN, DECK, RULES, SMALL_DECK, assert_carried, box

SEEDS = range(8)
"""Draws of what is loaded, and of the part of it that is loaded again."""


def again(
    kept: CartLoad, loads: Sequence[Load], below: int | None = None, bound: dict[str, int] | None = None
) -> Loaded | None:
    """The loads beside what is kept on trip 0, each as dear to leave behind as it weighs."""
    part = Part({0: kept}, loads, bound or {}, {load.carton: float(load.weight_g) for load in loads})
    found, effort = load_again(part, part.cost(loads) + 1 if below is None else below, 2.0, 1)
    assert effort < 2.0
    return found


def names(found: Loaded | None) -> list[str]:
    assert found is not None
    return sorted(load.carton for load in found.left)


def assert_whole(found: Loaded | None, loads: list[Load], deck: Deck) -> None:
    """All of the loads are on the one cart, and every rule holds there."""
    assert names(found) == []
    assert found is not None
    assert_carried(Answer(tuple(tuple(cart.placements) for cart in found.carts.values())), loads, deck)


@pytest.mark.parametrize("rule", RULES)
def test_what_just_keeps_a_rule_is_loaded_and_of_what_just_breaks_it_something_is_left(rule: str) -> None:
    loads, broken = RULES[rule], BROKEN[rule]
    found = again(CartLoad(SMALL_DECK), loads)
    assert_whole(found, loads, SMALL_DECK)
    if rule == "longer than the deck by a quarter":  # whoever asks has seen that each fits the cart alone
        return
    assert names(again(CartLoad(SMALL_DECK), broken))
    placed = [] if found is None else found.carts[0].placements
    for count in range(1, len(placed)):
        kept, below = placed[:count], {one.load.carton for one in placed[:count]}
        others = [load for load in loads if load.carton not in below]
        beside = again(CartLoad(SMALL_DECK, placements=kept), others)
        assert_whole(beside, loads, SMALL_DECK)
        assert beside is not None and set(kept) <= set(beside.carts[0].placements)
        if all(load in broken for load in loads if load.carton in below):
            worse = [load for load in broken if load.carton not in below]
            assert names(again(CartLoad(SMALL_DECK, placements=kept), worse))


def drawn(rng: random.Random, count: int) -> list[Load]:
    loads = []
    for number in range(count):
        width, length = sorted((rng.randrange(100, 595), rng.randrange(200, 1300)))
        weight, height = rng.randrange(1000, 20_000), rng.randrange(50, 400)
        loads.append(Load(f"{number}", weight, length, width, height, rng.random() < 0.4, rng.random() < 0.1))
    return loads


def loaded(rng: random.Random, count: int) -> tuple[CartLoad, list[Load]]:
    """A cart of odd cartons, to the millimetre, and those that found no place."""
    cart, left = CartLoad(DECK), []
    for load in sorted(drawn(rng, count), key=lambda load: (load.open_first, -load.weight_g)):
        placed = cart.place_for(load)
        if placed is None:
            left.append(load)
        else:
            cart.add(placed)
    return cart, left


@pytest.mark.parametrize("seed", SEEDS)
def test_a_part_of_a_cart_is_loaded_again_by_every_rule_and_what_stays_is_not_moved(seed: int) -> None:
    """The loads are known to fit as they stood, so none of them needs to be left."""
    rng = random.Random(seed)
    cart, _ = loaded(rng, 16)
    some = rng.sample(range(len(cart.placements)), 3)
    kept, off = cart.without(some)
    found = again(kept, off)
    assert_whole(found, [one.load for one in cart.placements], DECK)
    assert found is not None and set(kept.placements) <= set(found.carts[0].placements)


def test_with_what_found_no_place_no_more_is_left_than_before() -> None:
    for seed in SEEDS:
        rng = random.Random(seed)
        cart, left = loaded(rng, 16)
        kept, off = cart.without(rng.sample(range(len(cart.placements)), 3))
        more = again(kept, [*off, *left])
        assert more is not None
        placed = more.carts[0].placements
        assert holds(placed, DECK) and more.carts[0].weight_g <= DECK.max_g
        assert len(placed) + len(more.left) == len(cart.placements) + len(left)
        assert sum(load.weight_g for load in more.left) <= sum(load.weight_g for load in left)


def test_the_same_part_is_loaded_the_same_way_each_time() -> None:
    cart, left = loaded(random.Random(3), 16)
    kept, off = cart.without([0, 1, 2])
    one, other = (again(kept, [*off, *left]) for _ in range(2))
    assert one is not None and other is not None
    assert one.left == other.left
    assert one.carts[0].placements == other.carts[0].placements


def test_what_costs_least_is_left_behind_and_nothing_is_done_that_does_not_cost_less() -> None:
    """Each takes the whole deck and more than half of the height: one of them goes on the cart."""
    loads = [box(name, 600, 400, 300, kg) for name, kg in (("a", 3), ("b", 5), ("c", 4))]
    assert names(again(CartLoad(SMALL_DECK), loads)) == ["a", "c"]
    assert names(again(CartLoad(SMALL_DECK), loads, 7_000_001)) == ["a", "c"]
    assert again(CartLoad(SMALL_DECK), loads, 7_000_000) is None


def test_on_two_carts_each_load_that_is_bound_to_one_goes_there() -> None:
    loads = [box(name, 600, 400, 300) for name in "ab"]
    kept = {3: CartLoad(SMALL_DECK), 5: CartLoad(SMALL_DECK)}
    part = Part(kept, loads, {"a": 5}, {"a": 1.0, "b": 1.0})
    found, _ = load_again(part, 1, 1.0, 1)
    assert found is not None
    assert {trip: [one.load.carton for one in cart.placements] for trip, cart in found.carts.items()} == {
        3: ["b"],
        5: ["a"],
    }
    elsewhere = Part(kept, loads, {"a": 4}, {"a": 1.0, "b": 1.0})
    assert names(load_again(elsewhere, 2001, 1.0, 1)[0]) == ["a"]


def test_fragile_loads_that_rest_on_others_reach_no_higher_than_the_deck_says() -> None:
    low = Deck(100_000, 600, 400, 500, fragile_mm=350)
    base = CartLoad(low, placements=[Placement(box("base", 600, 400, 250), 0, 0, 0, 600, 400)])
    fits, sticks_out = box("f", 200, 200, 100, 5, fragile=True), box("f", 200, 200, 101, 5, fragile=True)
    assert names(again(base, [fits])) == []
    assert names(again(base, [sticks_out])) == ["f"]
    assert names(again(CartLoad(low), [box("tall", 200, 200, 400, 5, fragile=True)])) == []


def test_what_stays_on_fragile_cartons_counts_where_more_is_laid_on_them() -> None:
    """The lowest bears 8 kg already, through the one on it, which bears nothing: 7 kg more go on either."""
    lowest, upper = box("lowest", 600, 400, 100, 20, fragile=True), box("upper", 600, 400, 100, 8, fragile=True)
    cart = CartLoad(SMALL_DECK)
    for z, one in ((0, lowest), (100, upper)):
        cart.add(Placement(one, 0, 0, z, 600, 400))
    assert cart.still_bears_g("lowest") == cart.still_bears_g("upper") == 7_000
    assert names(again(cart, [box("f", 300, 200, 100, 7, fragile=True)])) == []
    assert names(again(cart, [box("f", 300, 200, 100, 7.001, fragile=True)])) == ["f"]


FULL = [box(f"{n}", 300, 200, 250, 5 + n) for n in range(8)]
"""Eight that fill the cart, four on four."""


def spread() -> tuple[dict[int, CartLoad], list[Load]]:
    """Four of them on the deck, no two side by side, so that no whole layer has room; and those that are left."""
    cart = CartLoad(SMALL_DECK)
    for load, (x, y) in zip(FULL[:2], ((150, 0), (150, 200)), strict=True):
        cart.add(Placement(load, x, y, 0, 300, 200))
    return {0: cart}, FULL[2:]


def test_parts_are_loaded_again_until_nothing_is_left() -> None:
    carts, left = spread()
    found = load_parts_again(carts, left, {}, Effort(100_000_000), random.Random(1))
    assert found is not None
    assert_carried(Answer((tuple(found[0].placements),)), FULL, SMALL_DECK)


def test_where_little_is_left_behind_a_trip_fewer_is_sought_by_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two that need a cart each; one is left behind by the first part of the search."""
    loads = tuple(box(name, 600, 400, 300) for name in "ab")
    carts = [CartLoad(SMALL_DECK, placements=[Placement(load, 0, 0, 0, 600, 400)]) for load in loads]
    asked: list[int] = []
    monkeypatch.setattr(trips, "load_parts_again", lambda carts, left, *given: asked.append(len(left)))
    for most, by_parts in ((1, 10), (0, 10), (1, None)):
        monkeypatch.setattr(trips, "MOST_LEFT", most)
        effort = Effort(10_000)
        assert trips._one_trip_fewer(PackingProblem(loads, SMALL_DECK), carts, effort, 1, by_parts) is None
        assert effort.spent is (asked == [1] and (most, by_parts) != (1, 10))
    assert asked == [1]


def test_what_does_not_go_on_the_carts_is_given_up_with_the_effort() -> None:
    carts, left = spread()
    effort = Effort(2_000_000)
    assert load_parts_again(carts, [*left, box("more", 300, 200, 250)], {}, effort, random.Random(1)) is None
    assert effort.spent


def test_what_is_left_behind_counts_more_with_each_step() -> None:
    carts, left = spread()
    search = _Parts(carts, [*left, box("more", 300, 200, 250)], {}, Effort(100_000_000), random.Random(1))
    for _ in range(40):
        search.step()
    (behind,) = search.left
    for name, cost in search.costs.items():
        times = (cost / search.shares[name] - 1) / GROWS
        assert times == pytest.approx(round(times)) and times <= 40
    assert search.costs[behind.carton] > search.shares[behind.carton]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_part_has_few_loads_from_one_cart_or_two_and_the_bound_ones_first(seed: int) -> None:
    rng = random.Random(seed)
    one, other = (loaded(rng, 20)[0] for _ in range(2))
    others = [box(f"x{n}", 100, 100, 50) for n in range(2)]
    carts = {0: one, 1: other, 2: CartLoad(DECK)}
    search = _Parts(carts, others, {"x1": 1}, Effort(0), rng)
    sizes = set()
    for _ in range(30):
        kept, loads = search._part()
        sizes.add(len(kept))
        assert 1 in kept and len(kept) <= 2
        assert loads[:2] == others
        before = [one.load for trip in kept for one in carts[trip].placements]
        after = [one.load for cart in kept.values() for one in cart.placements]
        assert sorted(load.carton for load in [*after, *loads[2:]]) == sorted(load.carton for load in before)
        assert len(loads) <= MOST_FREE + 6  # as one neighbour on each cart brings down at most
    assert sizes == {1, 2}
