"""Whole staging plans as they were found right, kept beside the tests, so that no upgrade changes a plan unnoticed.

A plan hangs on the wall of a back room while the work goes on: the page must not say another one the next day because
a search was rewritten. Each plan was held against ``load_checker`` before it was kept. Where a change is meant and
better (fewer trips, fewer stops), keep the new ones with ``python tests/staging/approved_plans.py``.
"""

import random
import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.model import (
    Cart,
    Carton,
    CartonKind,
    CartonMoved,
    CartonPlace,
    Layout,
    LiftAdvice,
    Note,
    OuterOpened,
    Place,
    Spot,
    StagingChanged,
    StagingPlan,
)
from receiving.staging.loading import Effort
from tests.staging.load_checker import check_plan
from tests.staging.shipments import NOON, bay, carton, layout, manifest, plan_staging, reconciled

FOLDER = Path(__file__).with_name("approved")
KINDS = (*[CartonKind.TRAY] * 6, CartonKind.PARTS, CartonKind.HEADER, CartonKind.GRAPHIC, CartonKind.LIGHTING)
SMALL = Cart(max_load_kg=70, deck_length_cm=90, deck_width_cm=60, stack_height_cm=90)
MIDDLE = Cart(max_load_kg=110, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)
LARGE = Cart(max_load_kg=250, deck_length_cm=120, deck_width_cm=60, stack_height_cm=120)
MODULES = ((60, 40, 15), (60, 40, 20), (40, 30, 15), (40, 30, 20), (30, 20, 15), (120, 20, 15), (80, 60, 5))
"""Centimetres: parts and multiples of the module of 600 mm × 400 mm (ISO 3394), a header and a graphic."""

FLOORS = {"roomy": (300, 120), "narrow": (130, 60), "tight": (122, 40)}
"""Length and depth of the floor in front of a bay, in centimetres."""


def _odd(rng: random.Random) -> tuple[float, float, float]:
    return (rng.randint(28, 110), rng.randint(18, 58), rng.randint(6, 34))


def _where(floor: str, cart: Cart, bays: int) -> Layout:
    length, depth = FLOORS[floor]
    own = (bay(f"B{i}", "Sol", i, order=bays - i, length=length, depth=depth) for i in range(1, bays + 1))
    return layout(*own, cart=cart)


def _cartons(seed: int, count: int, bays: int, *, odd: bool, heavy: float) -> tuple[Carton, ...]:
    rng = random.Random(seed)
    return tuple(
        carton(
            f"{i:02}",
            (rng.randint(1, bays), rng.randint(1, 6)),
            kind=rng.choice(KINDS),
            weight=round(rng.uniform(1, heavy), 1),
            size=_odd(rng) if odd else rng.choice(MODULES),
            open_first=rng.random() < 0.06,
        )
        for i in range(count)
    )


def _wishes(seed: int, count: int) -> tuple[Note, ...]:
    rng = random.Random(seed)
    return tuple(
        StagingChanged(f"w{i}", NOON, "Kim", f"{rng.randrange(count):02}", trip=rng.randint(1, 3)) for i in range(2)
    )


CASES = {
    # name: seed, cartons, bays, odd sizes, kilograms at most, floor, cart, wishes of people
    "few-on-a-small-cart": (1, 10, 2, False, 12, "roomy", SMALL, False),
    "modules-in-five-bays": (2, 24, 5, False, 10, "roomy", MIDDLE, False),
    "modules-on-narrow-floors": (3, 22, 3, False, 9, "narrow", MIDDLE, False),
    "odd-sizes": (4, 16, 4, True, 14, "roomy", MIDDLE, False),
    "odd-sizes-on-tight-floors": (5, 18, 5, True, 12, "tight", LARGE, False),
    "light-and-many": (6, 34, 4, False, 4, "roomy", MIDDLE, False),
    "heavy": (7, 14, 4, False, 29, "roomy", SMALL, False),
    "heavy-in-many-bays": (8, 18, 7, False, 24, "roomy", MIDDLE, False),
    "with-wishes": (9, 18, 4, False, 12, "roomy", MIDDLE, True),
    "with-wishes-on-narrow-floors": (10, 16, 3, True, 12, "narrow", LARGE, True),
    "waves": (11, 26, 2, False, 8, "tight", LARGE, False),
    "many-waves": (15, 44, 2, False, 8, "tight", MIDDLE, False),
    "twelve-bays": (12, 24, 12, False, 9, "tight", SMALL, False),
    "one-bay": (13, 14, 1, True, 15, "narrow", SMALL, False),
    "large-cart": (14, 30, 5, True, 14, "roomy", LARGE, False),
}


HAPPENED = {
    # name: seed, cartons that are missing, notes, and what becomes of some cartons; each of 22 cartons for four bays
    "under-way": (
        16,
        "",
        (
            CartonMoved("m1", NOON, "Kim", "03", "B1", trip=1, along=("05", "07", "11")),
            CartonMoved("m2", NOON, "Kim", "08", "B2"),
            CartonMoved("m3", NOON, "Kim", "09", "B3", trip=2, along=("10",)),
            StagingChanged("w1", NOON, "Kim", "12", trip=4, bay="B4"),
            StagingChanged("w2", NOON, "Kim", "13", trip=1),
        ),
        {},
    ),
    "some-missing": (
        17,
        "00 04 09 15",
        (CartonPlace("p1", NOON, "Kim", "06", Place.OVERHEAD),),
        {"04": {"open_first": True}},
    ),
    "unmeasured": (
        18,
        "",
        (),
        {"02": {"weight_kg": None}, "05": {"height_cm": None}, "07": {"weight_kg": None, "length_cm": None}},
    ),
    "by-hand-and-heavy": (
        19,
        "",
        (),
        {
            "01": {"length_cm": 190.0, "kind": CartonKind.HEADER},
            "06": {"weight_kg": 28.0},
            "09": {"height_cm": 140.0},
            "11": {"weight_kg": 80.0, "length_cm": 200.0},
        },
    ),
    "in-outers": (
        20,
        "",
        (OuterOpened("o1", NOON, "Kim", "20"),),
        {
            "20": {"kind": CartonKind.OUTER, "contents": ()},
            "21": {"kind": CartonKind.OUTER, "contents": ()},
            **{f"{n:02}": {"outer": "20"} for n in (1, 2)},
            **{f"{n:02}": {"outer": "21"} for n in (3, 4)},
        },
    ),
    "without-a-layout": (21, "02", (), {}),
}


def _happened(name: str) -> StagingPlan:
    seed, missing, notes, changed = HAPPENED[name]
    cartons = tuple(replace(one, **changed.get(one.carton, {})) for one in _cartons(seed, 22, 4, odd=False, heavy=14))
    shipment = manifest(*cartons)
    where = None if name == "without-a-layout" else _where("roomy", MIDDLE, 4)
    inside = "03 04" if name == "in-outers" else ""
    found = reconciled(shipment, short=missing, inside=inside)
    plan = plan_staging(shipment, found, where, notes, time_limit_s=0.1)
    if where and name != "unmeasured":  # the checker needs a floor, and the size of all
        gone = {*missing.split(), *inside.split(), *(["20"] if name == "in-outers" else [])}
        assert check_plan(plan, shipment, where, [one.carton for one in shipment if one.carton not in gone]) == []
    return plan


def approved(name: str) -> str:
    """A case in lines: its plan, and what the search for it was charged.

    How long people wait hangs on that charge: what is not charged for is searched without end. Parts of a search that
    are handed on are charged there and where they came from.
    """
    given: list[tuple[Effort, int]] = []
    begin = Effort.__init__

    def noted(effort: Effort, comparisons: int) -> None:
        begin(effort, comparisons)
        given.append((effort, comparisons))

    Effort.__init__ = noted  # type: ignore[method-assign]
    try:
        plan = planned(name)
    finally:
        Effort.__init__ = begin  # type: ignore[method-assign]
    return f"{in_lines(plan)}comparisons {sum(comparisons - effort.left for effort, comparisons in given)}\n"


def planned(name: str) -> StagingPlan:
    """The plan of a case, with which the checker of loads must find nothing wrong."""
    if name in HAPPENED:
        return _happened(name)
    seed, count, bays, odd, heavy, floor, cart, wished = CASES[name]
    shipment = manifest(*_cartons(seed, count, bays, odd=odd, heavy=heavy))
    where = _where(floor, cart, bays)
    notes = _wishes(seed, count) if wished else ()
    plan = plan_staging(shipment, reconciled(shipment), where, notes, time_limit_s=0.1)
    assert check_plan(plan, shipment, where, [one.carton for one in shipment]) == []
    return plan


def _spots(spots: tuple[Spot, ...]) -> Iterator[str]:
    for spot in spots:
        sides = " × ".join(f"{side:g}" for side in (spot.length_cm, spot.width_cm, spot.height_cm))
        yield f"    {' '.join(spot.cartons)} at {spot.x_cm:g} {spot.y_cm:g} {spot.z_cm:g}: {sides}"


def _lifted(lift: LiftAdvice) -> str:
    return lift.carton


def _lift(lift: LiftAdvice) -> str:
    index = "none" if lift.index is None else f"{lift.index:.2f}"
    return f"{lift.weight_kg:g} of {lift.limit_kg:.1f} kg is {index}, {len(lift.lower)} ways"


def in_lines(plan: StagingPlan) -> str:
    """All of a plan that decides what people do, one line a fact; what is said of it is for other tests."""
    lines = [
        f"trips {plan.bound.planned} at least {plan.bound.at_least}, "
        f"stops {plan.stop_bound.planned} at least {plan.stop_bound.at_least}"
    ]
    for trip in plan.trips:
        how = f"by hand, {trip.people}" if trip.by_hand else "cart under way" if trip.under_way else "cart"
        off = f", lifted off {' '.join(trip.lifted_off)}" if trip.lifted_off else ""
        lines.append(
            f"trip {trip.trip} wave {trip.wave} {how}: {' '.join(trip.cartons)}, {trip.load_kg:.1f} kg to "
            f"{' '.join(trip.stops)}, {trip.walk_m:g} m{off}"
        )
        lines += _spots(trip.stacks)
    for own in plan.bays:
        dug = f", dug out {' '.join(own.dug_out)}" if own.dug_out else ""
        moved = f", there already {' '.join(own.moved)}" if own.moved else ""
        late = f", restacked {' '.join(own.restacked)}" if own.restacked else ""
        lines.append(f"bay {own.bay} wave {own.wave}: {' '.join(own.cartons)}{moved}{dug}{late}")
        lines += _spots(own.spots)
    lines += [f"held {held.carton}{' (missing)' if held.missing else ''}" for held in plan.held]
    lines += [f"caution {caution.topic.name} {caution.carton}" for caution in plan.cautions]
    lines += [f"lift {carton}: {', '.join(map(_lift, own))}" for carton, own in groupby(plan.lifting, _lifted)]
    lines += [f"step {step.step} {step.bay}: {' '.join(step.cartons)}" for step in plan.steps]
    return "\n".join(line.rstrip() for line in lines) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for case in (*CASES, *HAPPENED):
        (FOLDER / f"{case}.txt").write_text(approved(case), encoding="utf-8")
