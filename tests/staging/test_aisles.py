"""The floor in front of a bay gives way to its aisle: what must stay free stays free."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import Bay, Layout, StagingChanged, StagingPlan
from receiving.staging.aisles import KEEP_CLEAR_CM
from tests.staging.shipments import NOON, bay, carton, layout, manifest, plan_staging, reconciled

TRAYS = manifest(*(carton(f"{i}", (1, i + 1), size=(60, 30, 50)) for i in range(8)))


def planned(*bays: Bay, keep_clear: float | None = None, notes: tuple[StagingChanged, ...] = ()) -> StagingPlan:
    where: Layout = replace(layout(*bays), keep_clear_cm=keep_clear)
    return plan_staging(TRAYS, reconciled(TRAYS), where, notes)


def words(plan: StagingPlan) -> str:
    return " ".join(caution.text for caution in plan.cautions)


def test_cartons_take_no_more_floor_than_the_aisle_can_spare() -> None:
    wide, narrow = (replace(bay("B1", "Sol", 1), aisle_width_cm=cm) for cm in (200, 150))
    roomy, tight = (planned(one, keep_clear=110).bays[0] for one in (wide, narrow))
    assert (roomy.aisle.floor_depth_cm, tight.aisle.floor_depth_cm) == (60, 40)
    assert max(spot.y_cm + spot.width_cm for spot in roomy.spots) == 60
    assert max(spot.y_cm + spot.width_cm for spot in tight.spots) <= 40
    assert (roomy.aisle.clear_cm, tight.aisle.clear_cm) == (140, 120)
    assert [(one.wave, len(one.cartons)) for one in planned(narrow, keep_clear=110).bays] == [(1, 4), (2, 4)]


def test_between_the_fixture_and_the_cartons_a_person_can_stand() -> None:
    narrow = replace(bay("B1", "Sol", 1), aisle_width_cm=120)
    (first, *_) = planned(narrow, keep_clear=50).bays
    assert first.aisle.floor_depth_cm == 45
    assert first.aisle.clear_cm >= 75


def test_what_an_aisle_must_keep_comes_from_the_bay_then_the_store_then_the_default() -> None:
    aisle = replace(bay("B1", "Sol", 1), aisle_width_cm=180)
    kept = [
        planned(one, keep_clear=store).bays[0].aisle
        for one, store in ((replace(aisle, keep_clear_cm=130), 112), (aisle, 112), (aisle, None))
    ]
    assert [(one.keep_clear_cm, one.assumed) for one in kept] == [(130, False), (112, False), (KEEP_CLEAR_CM, True)]


def test_an_assumed_width_is_said_with_its_source_and_who_decides() -> None:
    plan = planned(replace(bay("B1", "Sol", 1), aisle_width_cm=200))
    assert "91.5 cm (36 in) is planned (accessible route, 2010 ADA Standards 403.5.1)" in words(plan)
    assert "Local code and store management decide, and may ask for more." in words(plan)
    assert "91.5" not in words(planned(replace(bay("B1", "Sol", 1), aisle_width_cm=200), keep_clear=112))


def test_a_layout_that_states_no_aisle_keeps_its_floor_and_asks_for_a_measure() -> None:
    plan = planned(bay("B1", "Sol", 1))
    assert plan.bays[0].aisle is None
    assert len(plan.bays[0].cartons) == 8
    assert "The layout does not say how wide the aisle in front of bay B1 is: measure what stays free" in words(plan)


def test_before_a_bay_with_a_narrow_aisle_nothing_stands_and_the_next_bay_takes_it() -> None:
    narrow = replace(bay("B1", "Sol", 1), aisle_width_cm=90)
    plan = planned(narrow, replace(bay("B2", "Sol", 2, order=2), aisle_width_cm=200))
    assert [staging.bay for staging in plan.bays] == ["B2"]
    text = words(plan)
    assert "No floor in front of bay B1: its aisle is 90 cm (35.4 in) wide, and 91.5 cm (36 in) must stay free." in text


def test_cartons_that_no_aisle_has_room_for_wait_with_the_reason() -> None:
    plan = planned(replace(bay("B1", "Sol", 1), aisle_width_cm=90))
    assert plan.trips == ()
    assert plan.held[0].why.startswith("no floor is kept free in front of bay B1, and no other bay has any left")
    assert "No floor in front of bay B1: its aisle is 90 cm (35.4 in) wide" in words(plan)


def test_a_bay_that_keeps_no_floor_at_all_hands_its_cartons_on() -> None:
    plan = planned(bay("B1", "Sol", 1, depth=0), bay("B2", "Sol", 2, order=2, depth=100, length=300))
    assert [(staging.bay, len(staging.cartons)) for staging in plan.bays] == [("B2", 8)]


def test_what_a_person_puts_before_a_narrow_bay_is_listed_and_kept_out_of_the_aisle() -> None:
    narrow = replace(bay("B1", "Sol", 1), aisle_width_cm=90)
    change = StagingChanged("n", NOON, "Kim", "3", bay="B1")
    plan = planned(narrow, replace(bay("B2", "Sol", 2, order=2), aisle_width_cm=200), notes=(change,))
    assert next(staging for staging in plan.bays if staging.bay == "B1").cartons == ("3",)
    assert "No floor is left for carton 3 in front of bay B1: keep it out of the aisle." in words(plan)


@settings(max_examples=40, deadline=None)
@given(st.floats(60, 260), st.floats(60, 200), st.floats(1, 200))
def test_no_aisle_is_ever_left_narrower_than_what_must_stay_free(wide: float, kept: float, depth: float) -> None:
    plan = planned(replace(bay("B1", "Sol", 1, depth=depth), aisle_width_cm=wide), keep_clear=kept)
    for staging in plan.bays:
        assert staging.aisle.clear_cm >= min(kept, wide) - 0.06
        assert staging.aisle.floor_depth_cm <= depth
    assert len(plan.held) + sum(len(staging.cartons) for staging in plan.bays) == 8


@pytest.mark.parametrize("keep_clear", [None, 91.5])
def test_an_aisle_of_exactly_what_must_stay_free_has_no_floor_to_spare(keep_clear: float | None) -> None:
    assert planned(replace(bay("B1", "Sol", 1), aisle_width_cm=91.5), keep_clear=keep_clear).bays == ()
