"""Trips and floors against packings whose optimum is published.

Sources:
- Falkenauer, A hybrid solution genetic algorithm for bin packing, Journal of Heuristics 2 (1996) 5–30; the classes
  are binpack1 to binpack8 of the OR-Library (Beasley, J. Opl Res. Soc. 41 (1990) 1069–1072). The recipe is used
  here, not the files: uniform = whole sizes 20..100 into 150; triplet = sizes of 25.0..50.0 into 100.0, drawn so that
  each bin is exactly one of 38.0..49.0, one from 25.0 to half of what is left, and the rest: the optimum is n/3.
- Martello & Toth, Knapsack Problems (1990), chapter 8: the example of nine items (from memory of that page).
- Moroń's rectangle of nine squares (Przegląd Matematyczno-Fizyczny 3 (1925) 152–153) and Duijvestijn's square of 21
  squares (J. Combin. Theory B 25 (1978) 240–243): perfect packings, so no smaller box can hold them.
- Korf, Optimal rectangle packing: initial results, ICAPS 2003: the least box of the squares 1, 2, …, n (OEIS A038666).
"""

import random

import pytest

from receiving.model import (
    Address,
    Bay,
    Cart,
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    ContentLine,
    Layout,
    Manifest,
    Reconciliation,
)
from receiving.staging import plan_staging
from receiving.staging.bounds import bound_bins
from receiving.staging.by_weight import best_fit_decreasing, fewest_bins
from receiving.staging.rectangles import Packing, Verdict, pack_rectangles
from tests.spoken import verbatim


def uniform(seed: int, count: int) -> list[int]:
    rng = random.Random(seed)
    return [rng.randint(20, 100) for _ in range(count)]


def triplets(seed: int, count: int) -> list[int]:
    rng = random.Random(seed)
    sizes = []
    for _ in range(count // 3):
        first = rng.randint(380, 490)
        second = rng.randint(250, (1000 - first) // 2)
        sizes += [first, second, 1000 - first - second]
    rng.shuffle(sizes)
    return sizes


def assert_packs(bins: tuple[tuple[int, ...], ...], sizes: list[int], capacity: int) -> None:
    assert sorted(index for one in bins for index in one) == list(range(len(sizes)))
    assert all(sum(sizes[index] for index in one) <= capacity for one in bins)


@pytest.mark.parametrize("seed", range(4))
def test_triplets_of_sixty_are_packed_to_their_published_optimum(seed: int) -> None:
    sizes = triplets(seed, 60)
    solved = fewest_bins(sizes, 1000)
    assert_packs(solved.bins, sizes, 1000)
    assert (len(solved.bins), solved.at_least) == (20, 20)
    assert len(best_fit_decreasing(sizes, 1000)) > 20, "the instance is of no use: a greedy rule solves it"


@pytest.mark.parametrize("seed", range(4))
def test_uniform_items_of_120_are_packed_and_proven(seed: int) -> None:
    sizes = uniform(seed, 120)
    solved = fewest_bins(sizes, 150)
    assert_packs(solved.bins, sizes, 150)
    assert len(solved.bins) == solved.at_least >= -(-sum(sizes) // 150)


def test_the_nine_items_of_martello_and_toth_take_four_bins() -> None:
    sizes = [70, 60, 50, 33, 33, 33, 11, 7, 3]
    assert -(-sum(sizes) // 100) == 3
    assert bound_bins(sizes, 100) == 4
    assert len(fewest_bins(sizes, 100).bins) == 4


def test_a_shipment_of_triplets_is_driven_in_the_fewest_trips() -> None:
    """Cartons that fill a cart by weight alone, 0.1 kg for one unit of size: 30 of them, 10 trips."""
    cartons = tuple(
        Carton(
            f"{number:02}",
            CartonKind.TRAY,
            contents=(ContentLine("Sol", Address("Sol", 1, number + 1)),),
            weight_kg=size / 10,
            length_cm=20,
            width_cm=20,
            height_cm=20,
        )
        for number, size in enumerate(triplets(7, 30))
    )
    shipment = Manifest("S1", "0417", cartons)
    found = Reconciliation(
        "S1", "0417", tuple(CartonFinding(c, CartonState.RECEIVED, verbatim("read")) for c in cartons)
    )
    layout = Layout("0417", 60, Cart(100, 120, 60, 100), (Bay("B1", "Sol", (1,), 1, 122, 122, 60),))
    plan = plan_staging(shipment, found, layout)
    assert (len(plan.trips), plan.bound.at_least, plan.bound.proven) == (10, 10, True)
    assert sorted(carton for trip in plan.trips for carton in trip.cartons) == [c.carton for c in cartons]


def assert_stands(packing: Packing, sides: list[tuple[int, int]], length: int, width: int) -> None:
    assert packing.verdict is Verdict.PACKED
    cells = set()
    for (a, b), placed in zip(sides, packing.placed, strict=True):
        assert {a, b} == {placed.length, placed.width}
        assert 0 <= placed.x <= length - placed.length
        assert 0 <= placed.y <= width - placed.width
        covered = {
            (x, y) for x in range(placed.x, placed.x + placed.length) for y in range(placed.y, placed.y + placed.width)
        }
        assert not covered & cells
        cells |= covered


def squares(*sides: int) -> list[tuple[int, int]]:
    return [(side, side) for side in sides]


def test_the_rectangle_of_nine_squares_is_found() -> None:
    sides = squares(18, 15, 14, 10, 9, 8, 7, 4, 1)
    assert_stands(pack_rectangles(sides, 33, 32, steps=100_000), sides, 33, 32)


def test_the_square_of_21_squares_is_found() -> None:
    sides = squares(50, 42, 37, 35, 33, 29, 27, 25, 24, 19, 18, 17, 16, 15, 11, 9, 8, 7, 6, 4, 2)
    assert_stands(pack_rectangles(sides, 112, 112, steps=2_000_000), sides, 112, 112)


LEAST_BOXES = {3: (5, 3), 4: (7, 5), 5: (12, 5), 6: (11, 9)}


@pytest.mark.parametrize(("count", "box"), LEAST_BOXES.items())
def test_the_least_box_of_consecutive_squares_is_found_and_no_smaller_one_holds_them(
    count: int, box: tuple[int, int]
) -> None:
    sides = squares(*range(count, 0, -1))
    assert_stands(pack_rectangles(sides, *box, steps=200_000), sides, *box)
    area = sum(side * side for side in range(1, count + 1))
    smaller = [
        (length, width)
        for width in range(count, box[0] * box[1])
        for length in range(width, box[0] * box[1])
        if area <= length * width < box[0] * box[1]
    ]
    assert all(pack_rectangles(sides, *one, steps=200_000).verdict is Verdict.IMPOSSIBLE for one in smaller)


@pytest.mark.parametrize(("count", "box"), [(7, (22, 7)), (8, (15, 14)), (9, (20, 15)), (10, (27, 15))])
def test_more_consecutive_squares_stand_in_their_least_box(count: int, box: tuple[int, int]) -> None:
    sides = squares(*range(count, 0, -1))
    assert_stands(pack_rectangles(sides, *box, steps=300_000), sides, *box)


def test_a_rectangle_is_turned_where_only_that_fits() -> None:
    sides = [(3, 2), (3, 2), (3, 2), (2, 3)]
    assert_stands(pack_rectangles(sides, 5, 5, steps=10_000), sides, 5, 5)


def test_too_few_steps_leave_the_question_open() -> None:
    assert pack_rectangles(squares(*range(8, 0, -1)), 15, 14, steps=3).verdict is Verdict.UNDECIDED
