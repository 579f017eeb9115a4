"""Floors before the bays, the order of work, lifts along the way, and assumed measures."""

import random
from dataclasses import replace
from datetime import timedelta
from itertools import combinations, pairwise
from typing import Any

import pytest

from receiving.model import Cart, CartonKind, CartonMoved, HandOver, Spot, StagingPlan
from receiving.staging import stacking
from receiving.staging.floor import Floors
from receiving.staging.handling import Duration, limit_of_lift
from receiving.staging.loads import Deck, Load, measure
from receiving.staging.stacking import handle_less, may_rest_on, stack_up
from receiving.staging.waves import stacked_by_arrival
from receiving.staging.work_order import opening_key
from receiving.wording import bay_wave_words, trip_wave_words
from tests.staging.load_checker import check_plan
from tests.staging.shipments import NOON, bay, carton, layout, manifest, overlap, plan_staging, reconciled


def staged(plan: StagingPlan) -> dict[str, str]:
    return {name: one.bay for one in plan.bays for name in one.cartons}


def test_cartons_stand_on_the_floor_of_their_bay_and_leave_the_aisle_free() -> None:
    shipment = manifest(*(carton(f"{i:02}", (1, i + 1)) for i in range(12)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    (one,) = plan.bays
    assert sorted(name for spot in one.spots for name in spot.cartons) == sorted(one.cartons)
    assert all(spot.x_cm + spot.length_cm <= 122 and spot.y_cm + spot.width_cm <= 60 for spot in one.spots)
    assert all(overlap(a, b) == 0 for a in one.spots for b in one.spots if a is not b)
    assert all(spot.height_cm <= 120 for spot in one.spots)


def test_what_finds_no_floor_stands_before_the_next_bay_and_is_said() -> None:
    shipment = manifest(*(carton(f"{i}", (1, i + 1), size=(60, 60, 95)) for i in range(3)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert staged(plan) == {"0": "B1", "1": "B1", "2": "B2"}
    assert [c.text for c in plan.cautions if c.carton == "2"] == [
        "Carton 2 belongs to bay B1, which has no floor left: it stands in front of B2."
    ]
    assert plan.trips[-1].stops == ("B2",)


def test_cartons_that_go_to_the_same_other_bay_are_said_in_one_sentence() -> None:
    shipment = manifest(*(carton(f"{i}", (1, i + 1), size=(60, 60, 95)) for i in range(4)))
    words = [c.text for c in plan_staging(shipment, reconciled(shipment), layout()).cautions]
    assert "Cartons 2, 3 belong to bay B1, which has no floor left: they stand in front of B2." in words


def test_a_bay_of_the_same_section_is_asked_before_another_sections() -> None:
    shipment = manifest(*(carton(f"{i}", (2, i + 1), size=(60, 60, 95)) for i in range(3)))
    bays = (bay("B1", "Sol", 1, order=1), bay("B2", "Sol", 2, order=2), bay("L1", "Luna", 1, order=3))
    assert staged(plan_staging(shipment, reconciled(shipment), layout(*bays))) == {"0": "B2", "1": "B2", "2": "B1"}


def test_what_finds_no_floor_is_brought_in_a_second_wave_when_the_floor_is_clear() -> None:
    shipment = manifest(*(carton(f"{i}", (1, i + 1), size=(60, 60, 100)) for i in range(5)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert plan.held == ()
    assert [(trip.wave, trip.cartons) for trip in plan.trips if trip.wave == 2] == [(2, ("4",))]
    assert [(at.bay, at.wave, at.cartons) for at in plan.bays if at.wave == 2] == [("B1", 2, ("4",))]
    assert str(trip_wave_words(plan.trips[-1])) == "Wave 2: bring it when the floor in front of B1 is clear."
    assert str(bay_wave_words(plan.bays[-1])).startswith(
        "Wave 2: when what stands in front of this bay is set and cleared"
    )
    assert plan.bound.planned == len(plan.trips) >= plan.bound.at_least
    assert check_plan(plan, shipment, layout(), "01234") == []


def test_the_first_wave_brings_what_is_opened_first() -> None:
    tall = [carton(f"{9 - i}", (1, i + 1), size=(60, 60, 100)) for i in range(5)]
    shipment = manifest(*reversed(tall))
    plan = plan_staging(shipment, reconciled(shipment), layout(bay("B1", "Sol", 1)))
    assert [(at.wave, at.cartons) for at in plan.bays] == [(1, ("9", "8")), (2, ("7", "6")), (3, ("5",))]
    assert [(trip.trip, trip.wave) for trip in plan.trips] == [(n, n) for n in (1, 2, 3)]


def test_once_the_second_wave_is_brought_the_first_is_taken_as_cleared() -> None:
    shipment = manifest(*(carton(f"{i}", (1, i + 1), size=(60, 60, 100)) for i in range(4)))
    where = layout(bay("B1", "Sol", 1))
    moved = [CartonMoved(f"n{i}", NOON, "Kim", f"{i}", "B1", trip=1) for i in range(2)]
    half = plan_staging(shipment, reconciled(shipment), where, moved)
    assert [(trip.trip, trip.wave, set(trip.cartons)) for trip in half.trips] == [(2, 2, {"2", "3"})]
    later = [CartonMoved(f"n{i}", NOON + timedelta(hours=1), "Kim", f"{i}", "B1", trip=2) for i in range(2, 4)]
    done = plan_staging(shipment, reconciled(shipment), where, [*moved, *later])
    assert done.trips == ()
    assert {name for spot in done.bays[0].spots for name in spot.cartons} == {"2", "3"}
    assert not any("No floor is left" in caution.text for caution in done.cautions)


def test_a_carton_larger_than_every_floor_is_brought_when_its_bay_is_set() -> None:
    shipment = manifest(carton("1", (1, 1), kind=CartonKind.HEADER, size=(240, 20, 15)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert plan.held[0].why.startswith("larger than the floor kept in front of bay B1")


def test_the_work_runs_from_open_first_over_section_wide_to_headers_and_trays_top_to_bottom() -> None:
    shipment = manifest(
        carton("t3", (2, 2)),
        carton("t2", (1, 2)),
        carton("t1", (2, 1)),
        carton("h", (1, 1), kind=CartonKind.HEADER, size=(100, 20, 15)),
        carton("p", kind=CartonKind.PARTS, size=(40, 30, 20)),
        carton("i", kind=CartonKind.INSTRUCTIONS, size=(30, 20, 5), weight=1),
        carton("x", kind=CartonKind.TAGS, size=(30, 20, 5), weight=1, open_first=True),
        carton("late", (4, 1)),
    )
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert [step.cartons for step in plan.steps] == [("x",), ("i", "p"), ("h",), ("t1", "t2", "t3"), ("late",)]
    assert [step.step for step in plan.steps] == [1, 2, 3, 4, 5]
    assert all(step.can_start for step in plan.steps)
    assert plan.bays[0].cartons == ("x", "i", "p", "h", "t1", "t2", "t3")


@pytest.mark.parametrize("kind", [CartonKind.PARTS, CartonKind.INSTRUCTIONS])
def test_a_section_waits_for_its_missing_parts_and_another_section_can_start(kind: CartonKind) -> None:
    shipment = manifest(
        carton("p", kind=kind), carton("a", (1, 1)), carton("b", (1, 1), section="Luna"), carton("c", (2, 1))
    )
    plan = plan_staging(
        shipment, reconciled(shipment, short="p"), layout(bay("B1", "Sol", 1, 2), bay("B2", "Luna", 1, order=2))
    )
    steps = {step.cartons: step for step in plan.steps}
    assert steps[("a", "c")].waits_for == ("p",)
    assert steps[("b",)].can_start


def test_a_missing_tray_does_not_stop_the_others() -> None:
    shipment = manifest(carton("a", (1, 1)), carton("b", (2, 1)))
    (step,) = plan_staging(shipment, reconciled(shipment, short="a"), layout()).steps
    assert (step.cartons, step.can_start) == (("b",), True)
    assert step.words.endswith("missing: a, the rest can start")


def test_every_hand_over_has_a_limit_and_says_what_lowers_the_index() -> None:
    shipment = manifest(carton("1", (1, 1), weight=20, size=(40, 30, 20)))
    lifts = plan_staging(shipment, reconciled(shipment), layout()).lifting
    assert [lift.hand_over for lift in lifts] == list(HandOver)
    assert all(lift.index == pytest.approx(20 / lift.limit_kg, abs=0.05) for lift in lifts)
    assert all("two people" in lift.lower[0] for lift in lifts)
    raised = lifts[0].lower[1]
    assert raised.startswith("raise both ends to waist height (75 cm, 29.5 in): limit ")
    assert float(raised.split("limit ")[1].split()[0]) > lifts[0].limit_kg


def test_a_wider_carton_has_a_lower_limit_and_so_has_more_lifting() -> None:
    slim, wide = Load("1", 9000, 400, 200, 200), Load("2", 9000, 400, 390, 200)
    easy = limit_of_lift(slim, 25, 75, 0.2, Duration.SHORT)
    assert limit_of_lift(wide, 25, 75, 0.2, Duration.SHORT) < easy
    assert limit_of_lift(slim, 25, 75, 4, Duration.SHORT) < easy
    assert limit_of_lift(slim, 25, 75, 0.2, Duration.LONG) < easy


def test_the_frequency_of_lifts_is_that_of_the_plan() -> None:
    """One trip of 8 cartons over 60 m: 2 × 60 s of walking, 16 lifts of 12 s, so 16 lifts in 5.2 minutes."""
    shipment = manifest(*(carton(f"{i}", (1, i + 1), weight=9, size=(40, 30, 12)) for i in range(8)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    lift = next(a for a in plan.lifting if (a.carton, a.hand_over) == ("0", HandOver.CART_TO_FLOOR))
    foot_cm = next(spot.z_cm for spot in plan.trips[0].stacks if spot.cartons == ("0",))
    load = Load("0", 9000, 400, 300, 120)
    assert lift.limit_kg == round(limit_of_lift(load, 25 + foot_cm, 0, 16 / 5.2, Duration.SHORT), 1)
    far = plan_staging(shipment, reconciled(shipment), replace(layout(), walk_m=600)).lifting
    assert all(calm.limit_kg >= busy.limit_kg for calm, busy in zip(far, plan.lifting, strict=True))
    assert sum(calm.limit_kg for calm in far) > sum(busy.limit_kg for busy in plan.lifting)


def test_a_carton_without_a_weight_is_tipped_before_it_is_lifted() -> None:
    shipment = manifest(carton("1", (1, 1), weight=None), carton("2", (1, 2), weight=4))
    words = [c.text for c in plan_staging(shipment, reconciled(shipment), layout()).cautions]
    assert (
        "Carton 1: no weight stated, so no lifting advice. Tip a corner before lifting; two people where in doubt."
        in (words)
    )


def test_measures_are_rounded_up_so_that_a_plan_never_counts_on_room_that_is_not_there() -> None:
    one = replace(carton("1", (1, 1), weight=1.0001, size=(10.04, 5.01, 0.1)))
    loads, assumed = measure([one], manifest(one))
    assert assumed == ()
    assert loads["1"] == Load("1", 1001, 101, 51, 1)


def test_an_outer_box_weighs_what_its_cartons_weigh() -> None:
    outer = carton("o", kind=CartonKind.OUTER, weight=None, size=(80, 60, 60))
    shipment = manifest(outer, carton("1", (1, 1), weight=3.5, outer="o"), carton("2", (1, 2), weight=4, outer="o"))
    loads, assumed = measure([outer], shipment)
    assert (loads["o"].weight_g, assumed) == (7500, ())


def test_nothing_known_of_a_kind_gives_the_planning_values() -> None:
    one = carton("1", kind=CartonKind.OTHER, weight=None, size=None)
    loads, assumed = measure([one], manifest(one))
    assert loads["1"] == Load("1", 10_000, 600, 400, 300)
    assert str(assumed[0]) == "Carton 1: weight not stated, 10 kg (22 lb) assumed (our planning value)."


def test_what_comes_on_a_later_trip_lies_on_what_came_before_where_the_floor_allows_it() -> None:
    """Two trips of six trays to one bay: the plan stacks by trip, not by opening alone, and names what it cannot."""
    small = Cart(48, 120, 60, 100)
    trays = [carton(f"{i:02}", (1, 1 + i), weight=8) for i in range(12)]
    shipment = manifest(*trays)
    for length, depth, restacked in ((122, 60, None), (240, 120, ())):
        where = layout(bay("B1", "Sol", 1, 2, 3, length=length, depth=depth), cart=small)
        plan = plan_staging(shipment, reconciled(shipment), where)
        comes = {name: trip.trip for trip in plan.trips for name in trip.cartons}
        late = {
            lower
            for spot in plan.bays[0].spots
            for at, lower in enumerate(spot.cartons)
            if any(comes[upper] < comes[lower] for upper in spot.cartons[at + 1 :])
        }
        assert len(plan.trips) == 2
        assert set(plan.bays[0].restacked) == late
        assert restacked is None or plan.bays[0].restacked == restacked


def test_where_one_stack_alone_fits_a_carton_is_dug_out_sooner_than_two_are_restacked() -> None:
    """C comes first and is opened first, as A is: no stack has neither, so the one that handles one twice."""
    one_stack = layout(bay("B1", "Sol", 1, length=60, depth=40))
    heights = {"A": 200, "B": 200, "C": 150}
    loads = {name: Load(name, 4000 if name == "C" else 5000, 600, 400, height) for name, height in heights.items()}
    opening, arrival = {"A": 1, "B": 3, "C": 1}, {"A": 3, "B": 3, "C": 1}
    before = Floors(spots={"B1": (Spot(("A", "B", "C"), 0, 0, 60, 40, 55),)})
    after = stacked_by_arrival(before, one_stack, loads, opening, arrival)
    assert [spot.cartons for spot in after.spots["B1"]] == [("C", "B", "A")]
    assert (after.dug, after.restacked) == ({"B1": ("C",)}, {})


def test_equal_trays_are_changed_round_until_fewer_are_dug_out() -> None:
    """Weights that allow some orders only: never more is handled twice than before, and over many stacks it is less."""
    before = after = 0
    for seed in range(40):
        rng = random.Random(seed)
        trays = [Load(f"{i}", rng.randint(6, 15) * 1000, 600, 400, 250) for i in range(8)]
        floor = Deck(1 << 60, 1220, 400, 1200, 750)
        opening = {tray.carton: turn for turn, tray in enumerate(trays)}
        arrival = {tray.carton: rng.randint(1, 2) for tray in trays}
        stacks = stack_up(sorted(trays, key=lambda tray: -tray.weight_g), floor, {}, without_digging=False, arrival={})
        changed = handle_less(stacks, floor, opening, arrival)
        assert sorted(tray.carton for stack in changed for tray in stack) == sorted(opening)
        assert all(may_rest_on(upper, lower) for stack in changed for lower, upper in pairwise(stack))
        assert all(sum(tray.height_mm for tray in stack) <= floor.height_mm for stack in changed)
        counts = [handled_twice(own, opening, arrival) for own in (stacks, changed)]
        assert counts[1] <= counts[0]
        before, after = before + counts[0], after + counts[1]
    assert after < 0.7 * before


def handled_twice(stacks: list[list[Load]], opening: dict[str, int], arrival: dict[str, int]) -> int:
    found = set()
    for stack in stacks:
        for lower, upper in combinations(stack, 2):
            if opening[upper.carton] > opening[lower.carton]:
                found.add(("dug", lower.carton))
            if arrival[upper.carton] < arrival[lower.carton]:
                found.add(("late", lower.carton))
    return len(found)


def test_changing_trays_round_ends_whatever_their_number(monkeypatch: pytest.MonkeyPatch) -> None:
    """300 trays on one floor: this many changes are looked at and no more, two stacks in each."""
    looked = []
    count = stacking._wrong_pairs

    def counted(*of: Any) -> tuple[int, int]:
        looked.append(of)
        return count(*of)

    monkeypatch.setattr(stacking, "_wrong_pairs", counted)
    trays = [Load(f"{i:03}", 8_000, 600, 400, 100) for i in range(300)]
    floor = Deck(1 << 60, 12_200, 4_000, 1200, 750)
    opening = {tray.carton: turn for turn, tray in enumerate(trays)}
    stacks = [trays[at : at + 12] for at in range(0, 300, 12)]
    changed = handle_less(stacks, floor, opening, {})
    assert handled_twice(changed, opening, dict.fromkeys(opening, 1)) < 300 - 25
    assert len(looked) <= 2 * stacking.CHANGES + len(stacks)


def test_a_section_is_opened_by_kind_then_headers_then_trays_from_the_top_left() -> None:
    kinds = CartonKind
    several = [
        carton("a", kind=kinds.OTHER),
        carton("b", kind=kinds.GRAPHIC),
        carton("c", kind=kinds.LIGHTING),
        carton("d", kind=kinds.PARTS),
        carton("e", kind=kinds.TAGS),
        carton("f", kind=kinds.INSTRUCTIONS),
        carton("g", (1, 2)),
        carton("h", (2, 1)),
        carton("i", (1, 1)),
        carton("j", (2, 2), kind=kinds.HEADER),
        carton("z", (2, 2), open_first=True),
    ]
    assert "".join(each.carton for each in sorted(several, key=opening_key)) == "zfedcbajihg"
