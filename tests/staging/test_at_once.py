"""What is known before any cart is planned: what opens first, and the bay of each carton by rule."""

from dataclasses import replace

import pytest

from receiving.model import Address, Carton, CartonKind, CartonMoved, ContentLine, Layout, OpenFirst, StagingChanged
from receiving.staging.at_once import bay_by_rule, before_planning
from receiving.staging.destinations import destination
from tests.staging.shipments import NOON, bay, carton, layout, manifest, reconciled

WHERE = layout(bay("B1", "Sol", 1, 2, order=2), bay("B2", "Sol", 3, order=1), bay("B3", "Luna", 1, order=3))
SHIPMENT = manifest(
    carton("01", (1, 1)),
    carton("02", (3, 1), open_first=True),
    carton("03", (2, 1)),
    carton("04", (1, 4), open_first=True),
    carton("05", section="Mars"),
)


def test_cartons_that_are_here_are_before_their_bays_in_setting_order_and_the_others_are_held() -> None:
    plan = before_planning(SHIPMENT, reconciled(SHIPMENT, short="04"), WHERE)
    assert [(one.bay, one.cartons) for one in plan.bays] == [("B2", ("02",)), ("B1", ("01", "03"))]
    assert [(one.carton, one.missing) for one in plan.held] == [("04", True), ("05", False)]
    assert (plan.trips, plan.cautions, plan.steps) == ((), (), ())
    assert plan.open_first == (OpenFirst("02", True, "tray, here"), OpenFirst("04", False, "tray, not found yet"))


def test_without_a_layout_no_bay_is_named_and_nothing_that_is_here_is_held() -> None:
    plan = before_planning(SHIPMENT, reconciled(SHIPMENT), None)
    assert (plan.bays, plan.held) == ((), ())
    assert [one.carton for one in plan.open_first] == ["02", "04"]


def test_a_person_decides_the_bay_before_any_rule() -> None:
    put = StagingChanged("n", NOON, "Kim", "01", bay="B3")
    plan = before_planning(SHIPMENT, reconciled(SHIPMENT), WHERE, [put])
    assert [(one.bay, one.cartons) for one in plan.bays] == [("B2", ("02",)), ("B1", ("03", "04")), ("B3", ("01",))]


def test_what_was_moved_to_a_bay_is_there_before_anything_is_planned() -> None:
    moved = CartonMoved("n", NOON, "Kim", "03", bay="B3")
    plan = before_planning(SHIPMENT, reconciled(SHIPMENT, short="03"), WHERE, [moved])
    assert {one.bay: one.moved for one in plan.bays} == {"B2": (), "B1": (), "B3": ("03",)}
    back = CartonMoved("o", NOON, "Kim", "03", bay="")
    assert not any(one.moved for one in before_planning(SHIPMENT, reconciled(SHIPMENT), WHERE, [moved, back]).bays)


OUTER = carton("10", kind=CartonKind.OUTER, section="")
IN_IT = carton("11", (3, 2), outer="10")


@pytest.mark.parametrize(
    ("of", "chosen", "named"),
    [
        (SHIPMENT.cartons[0], "", "B1"),
        (SHIPMENT.cartons[0], "B3", "B3"),
        (SHIPMENT.cartons[0], "B9", "B1"),  # there is no such bay (any more)
        (SHIPMENT.cartons[4], "", ""),  # a section that the layout does not know
        (OUTER, "", "B2"),  # by what is in it
    ],
)
def test_the_bay_of_one_carton_is_the_one_chosen_where_it_is_there_or_that_of_its_contents(
    of: Carton, chosen: str, named: str
) -> None:
    whole = manifest(*SHIPMENT, OUTER, IN_IT)
    notes = [StagingChanged("n", NOON, "Kim", of.carton, bay=chosen)] if chosen else []
    assert bay_by_rule(of, whole, WHERE, notes) == named
    assert bay_by_rule(of, whole, None, notes) == ""


def test_a_carton_that_has_no_bay_says_why() -> None:
    def why(of: Carton, where: Layout = WHERE) -> str:
        found = destination(of, where)
        assert found.bay is None
        return str(found.why)

    assert why(SHIPMENT.cartons[0], replace(WHERE, bays=())) == "the layout has no bays"
    assert why(SHIPMENT.cartons[4]) == "no bay in the layout for section 'Mars'"
    assert why(carton("06", (1, 1), section="Mars")) == "no bay in the layout for section 'Mars'"
    nowhere = replace(SHIPMENT.cartons[0], contents=(ContentLine("", Address("", 9, 9)),))
    assert why(nowhere).endswith("does not say its section, and fits no bay or more than one")
