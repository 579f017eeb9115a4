"""Loads of boxes that others drew up keep the rules of loading, by a checker written apart from the loader.

Source: box types of problem 1 of the sets 1 and 7 of Bischoff & Ratcliff, Issues in the development of approaches to
container loading, Omega 23 (1995) 377-390 (OR-Library, thpack1 and thpack7; of the latter the first sixteen types;
thpack1 from memory), in a container of 587 × 233 × 220 cm. The sets state no weights: 1 kg is taken for 10 dm³. They
let most boxes be tipped; here all stay upright, so that their fill is not an aim of ours.
"""

import pytest

from receiving.model import Cart, Carton, CartonKind, Trip
from receiving.staging.floor import spot_of
from receiving.staging.loads import deck_of, measure
from receiving.staging.trips import PackingProblem, solve_packing
from tests.staging.load_checker import check_trip
from tests.staging.shipments import carton, manifest

CONTAINER = Cart(max_load_kg=30_000, deck_length_cm=587, deck_width_cm=233, stack_height_cm=220)
THPACK1 = ((108, 76, 30, 40), (110, 43, 25, 33), (92, 81, 55, 39))
THPACK7 = (
    (108, 76, 30, 10),
    (110, 43, 25, 6),
    (92, 81, 55, 5),
    (81, 33, 28, 5),
    (120, 99, 73, 6),
    (111, 70, 48, 4),
    (98, 72, 46, 7),
    (95, 66, 31, 6),
    (85, 84, 30, 5),
    (71, 32, 25, 5),
    (36, 34, 25, 4),
    (97, 67, 62, 8),
    (33, 25, 23, 2),
    (95, 27, 26, 5),
    (94, 81, 44, 8),
    (41, 39, 38, 4),
)
"""Length, width and height in centimetres, and how many; the last number of the last type is ours."""


def boxes(types: tuple[tuple[int, int, int, int], ...]) -> list[Carton]:
    return [
        carton(f"{number}-{each}", kind=CartonKind.PARTS, size=(a, b, c), weight=round(a * b * c / 10_000, 1))
        for number, (a, b, c, count) in enumerate(types, start=1)
        for each in range(count)
    ]


@pytest.mark.parametrize("types", [THPACK1, THPACK7], ids=["thpack1", "thpack7"])
def test_a_container_of_others_boxes_keeps_the_rules_of_loading(types: tuple[tuple[int, int, int, int], ...]) -> None:
    cartons = boxes(types)
    shipment = manifest(*cartons)
    loads, _ = measure(cartons, shipment)
    solution = solve_packing(PackingProblem(tuple(loads.values()), deck_of(CONTAINER)), time_limit_s=0.05)
    assert sum(map(len, solution.trips)) == len(cartons)
    assert solution.at_least <= solution.driven <= 2
    by_name = {one.carton: one for one in cartons}
    for number, placed in enumerate(solution.trips, start=1):
        names = tuple(one.load.carton for one in placed)
        trip = Trip(number, names, sum(by_name[n].weight_kg or 0 for n in names), stacks=tuple(map(spot_of, placed)))
        assert check_trip(trip, by_name, CONTAINER, {}) == []
