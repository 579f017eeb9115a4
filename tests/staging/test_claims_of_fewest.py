"""What the plan calls proven holds for every plan, not only for those that begin as this one did."""

import random

import pytest

from receiving.model import Carton, CartonKind, StagingPlan
from tests.staging.shipments import bay, carton, layout, manifest, plan_staging, reconciled

WIDE = layout(*(bay(f"B{i}", "Sol", i, order=i, length=400, depth=300) for i in range(1, 6)))
SIZES = [(60, 40, 15), (40, 30, 20), (45, 33, 27), (52, 38, 31), (80, 60, 5), (30, 20, 10)]


def drawn(seed: int, *, open_first: bool) -> list[Carton]:
    rng = random.Random(seed)
    return [
        carton(
            f"{i:02}",
            (rng.randint(1, 5), rng.randint(1, 6)),
            weight=round(rng.uniform(8, 40), 1),
            size=rng.choice(SIZES),
            kind=CartonKind.TRAY,
            open_first=open_first,
        )
        for i in range(rng.randint(8, 24))
    ]


def planned(cartons: list[Carton]) -> StagingPlan:
    shipment = manifest(*cartons)
    return plan_staging(shipment, reconciled(shipment), WIDE, time_limit_s=0.2)


@pytest.mark.parametrize("seed", range(40))
def test_no_number_of_trips_is_called_the_fewest_that_the_same_cartons_go_below(seed: int) -> None:
    """All cartons open-first, or none: what is open-first puts no limit on how few trips a plan can have."""
    firsts, plain = planned(drawn(seed, open_first=True)), planned(drawn(seed, open_first=False))
    assert firsts.bound.at_least <= plain.bound.planned
    assert firsts.bound.planned <= plain.bound.planned, "they can be loaded as if none were open-first"


def test_what_people_put_on_trips_of_its_own_is_counted_as_needed() -> None:
    from receiving.model import StagingChanged
    from tests.staging.shipments import NOON

    shipment = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    notes = [StagingChanged("a", NOON, "Kim", "01", trip=1), StagingChanged("b", NOON, "Kim", "02", trip=2)]
    plan = plan_staging(shipment, reconciled(shipment), WIDE, notes)
    assert (plan.bound.planned, plan.bound.at_least) == (2, 2)
