"""What a plan calls the fewest trips and stops, held against all loads of small carts, enumerated.

The enumeration shares no code with the planner. Cartons and cart are whole units, every carton stands at every whole
unit, upright, turned or not, on the deck or on what is loaded already; of the rules it knows those of carrying, from
`load_checker`, which also passes each load that is found. So whatever it finds is a plan, and no bound may be above.
"""

import random
from collections.abc import Iterator
from functools import cache
from itertools import product

import pytest

from receiving.model import Cart, Carton, CartonKind, Spot, StagingChanged, StagingPlan, Trip
from tests.staging.load_checker import check_trip
from tests.staging.shipments import NOON, bay, carton, layout, manifest, plan_staging, reconciled

UNIT_CM = 20
LONG, WIDE, HIGH = 3, 2, 3
BASES = ((1, 1), (2, 1), (2, 2), (3, 1), (3, 2))
KINDS = (CartonKind.TRAY, CartonKind.TRAY, CartonKind.PARTS, CartonKind.GRAPHIC)
SMALL = layout(
    *(bay(f"B{i}", "Sol", i, order=i, length=600, depth=400) for i in (1, 2, 3)),
    cart=Cart(60, LONG * UNIT_CM, WIDE * UNIT_CM, HIGH * UNIT_CM),
)

Spots = tuple[Spot, ...]


def drawn(seed: int, firsts: str, most: int = 5) -> list[Carton]:
    rng = random.Random(seed)
    made = []
    for number in range(rng.randint(3, most)):
        (length, width), height = rng.choice(BASES), rng.choice((1, 1, 1, 2, 3))
        made.append(
            carton(
                f"{number}",
                (rng.randint(1, 3), 1),
                kind=rng.choice(KINDS),
                weight=rng.randint(2, 30),
                size=(length * UNIT_CM, width * UNIT_CM, height * UNIT_CM),
                open_first={"none": False, "all": True, "some": rng.random() < 0.4}[firsts],
            )
        )
    return made


def places(one: Carton, placed: Spots) -> Iterator[Spot]:
    """Every whole place at which the carton stands on the deck or on what is there."""
    assert one.length_cm and one.width_cm and one.height_cm
    for length, width in {(one.length_cm, one.width_cm), (one.width_cm, one.length_cm)}:
        for x, y in product(range(0, LONG * UNIT_CM, UNIT_CM), range(0, WIDE * UNIT_CM, UNIT_CM)):
            if x + length > LONG * UNIT_CM or y + width > WIDE * UNIT_CM:
                continue
            tops = [
                spot.z_cm + spot.height_cm
                for spot in placed
                if x < spot.x_cm + spot.length_cm
                and spot.x_cm < x + length
                and y < spot.y_cm + spot.width_cm
                and spot.y_cm < y + width
            ]
            foot = max(tops, default=0.0)
            if foot + one.height_cm <= HIGH * UNIT_CM:
                yield Spot((one.carton,), x, y, length, width, one.height_cm, foot)


def loads_found(cartons: dict[str, Carton], names: frozenset[str]) -> bool:
    """Some order and places load these cartons on one cart, by the rules."""
    if sum(cartons[name].weight_kg or 0 for name in names) > SMALL.cart.max_load_kg:
        return False
    sides = [(one.length_cm or 0, one.width_cm or 0, one.height_cm or 0) for one in map(cartons.get, names) if one]
    if sum(length * width * height for length, width, height in sides) > LONG * WIDE * HIGH * UNIT_CM**3:
        return False

    def extend(placed: Spots) -> bool:
        if len(placed) == len(names):
            return True
        on = {spot.cartons[0] for spot in placed}
        for name in sorted(names - on):
            for spot in places(cartons[name], placed):
                later = (spot.z_cm, name) > ((placed[-1].z_cm, placed[-1].cartons[0]) if placed else (-1.0, ""))
                if later and keeps_rules(cartons, (*placed, spot)) and extend((*placed, spot)):
                    return True
        return False

    return extend(())


def keeps_rules(cartons: dict[str, Carton], spots: Spots) -> bool:
    names = tuple(spot.cartons[0] for spot in spots)
    trip = Trip(1, names, sum(cartons[name].weight_kg or 0 for name in names), stacks=spots)
    return not check_trip(trip, cartons, SMALL.cart, {})


def fewest(cartons: list[Carton], stops: dict[str, str], pins: dict[str, int]) -> dict[int, int]:
    """By number of trips the fewest stops of the plans with this many that put what is pinned on trips of its own."""
    by_name = {one.carton: one for one in cartons}

    @cache
    def fits(names: frozenset[str]) -> bool:
        return len({pins[name] for name in names if name in pins}) <= 1 and loads_found(by_name, names)

    @cache
    def best(left: frozenset[str]) -> dict[int, int]:
        if not left:
            return {0: 0}
        first, found = min(left), dict[int, int]()
        rest = sorted(left - {first})
        for chosen in product((False, True), repeat=len(rest)):
            group = frozenset([first, *(name for name, taken in zip(rest, chosen, strict=True) if taken)])
            if any(pins.get(a) == pins[b] and a not in group for a in pins for b in group if b in pins):
                continue  # what is pinned to one trip rides together
            further = best(left - group)
            if further and fits(group):
                halts = len({stops[name] for name in group})
                for trips, count in further.items():
                    found[trips + 1] = min(found.get(trips + 1, 99), count + halts)
        return found

    return best(frozenset(by_name))


def checked(plan: StagingPlan, cartons: list[Carton], pins: dict[str, int]) -> tuple[int, int]:
    """The fewest trips of all plans, and the planned ones, after holding both claims of the plan against them."""
    stops = {name: at.bay for at in plan.bays for name in at.cartons}
    possible = fewest(cartons, stops, pins)
    assert plan.bound.at_least <= min(possible)
    if plan.bound.planned in possible:
        assert plan.stop_bound.at_least <= possible[plan.bound.planned]
    return min(possible), plan.bound.planned


@pytest.mark.parametrize("firsts", ["none", "some", "all"])
@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_called_the_fewest_that_an_enumeration_goes_below(seed: int, firsts: str) -> None:
    cartons = drawn(seed, firsts)
    shipment = manifest(*cartons)
    checked(plan_staging(shipment, reconciled(shipment), SMALL, time_limit_s=0.1), cartons, {})


@pytest.mark.parametrize("seed", range(12))
def test_with_pinned_cartons_too(seed: int) -> None:
    cartons = drawn(100 + seed, "some")
    shipment = manifest(*cartons)
    pins = {"0": 1, "1": 2}
    notes = [StagingChanged(f"n{name}", NOON, "Kim", name, trip=trip) for name, trip in pins.items()]
    checked(plan_staging(shipment, reconciled(shipment), SMALL, notes, time_limit_s=0.1), cartons, pins)
