"""Who is staged, where to, what is held, and what people must be told."""

from dataclasses import replace
from datetime import timedelta

import pytest

from receiving.model import (
    BayStaging,
    Carton,
    CartonKind,
    CartonMoved,
    CartonPlace,
    ContentLine,
    Held,
    NoteWithdrawn,
    OuterOpened,
    Place,
    StagingChanged,
    StagingPlan,
    Topic,
    Trip,
)
from receiving.staging import plan_change_cost, rode_along
from receiving.staging.changes import cost_between
from tests.spoken import in_english
from tests.staging.shipments import (
    CART,
    NOON,
    assert_loaded_well,
    bay,
    carton,
    layout,
    manifest,
    plan_staging,
    reconciled,
)


def bay_of(plan: StagingPlan, name: str) -> str:
    return next((b.bay for b in plan.bays if name in b.cartons), "")


def trip_of(plan: StagingPlan, name: str) -> int:
    return next((trip.trip for trip in plan.trips if name in trip.cartons), 0)


def held(plan: StagingPlan) -> dict[str, str]:
    return {h.carton: h.why for h in plan.held}


def cautions_of(plan: StagingPlan, name: str) -> str:
    return " ".join(caution.text for caution in plan.cautions if caution.carton == name)


def twenty(**changes: object) -> list:
    return [carton(f"{i:02}", (1 + i % 5, 1 + i // 5), **changes) for i in range(20)]


def test_a_carton_goes_to_the_bay_of_its_address() -> None:
    shipment = manifest(carton("01", (2, 1)), carton("02", (5, 3)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert (bay_of(plan, "01"), bay_of(plan, "02")) == ("B1", "B2")


def test_of_several_addresses_the_bay_that_is_set_first_counts() -> None:
    shipment = manifest(carton("01", (1, 1), (5, 1)))
    late_first = layout(bay("B1", "Sol", 1, order=2), bay("B2", "Sol", 5, order=1))
    assert bay_of(plan_staging(shipment, reconciled(shipment), late_first), "01") == "B2"


@pytest.mark.parametrize("kind", [CartonKind.GRAPHIC, CartonKind.PARTS, CartonKind.TAGS, CartonKind.INSTRUCTIONS])
def test_a_section_wide_carton_goes_to_the_sections_first_bay(kind: CartonKind) -> None:
    shipment = manifest(carton("01", kind=kind))
    plan = plan_staging(
        shipment, reconciled(shipment), layout(bay("B9", "Sol", 1, order=3), bay("B4", "Sol", 2, order=2))
    )
    assert bay_of(plan, "01") == "B4"


def test_a_section_that_the_layout_does_not_know_is_held_with_the_reason() -> None:
    shipment = manifest(carton("01", (1, 1), section="Nova"), carton("02", (1, 1)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert held(plan) == {
        "01": "no bay in the layout for section 'Nova'; ask the office or store management where it goes"
    }
    assert trip_of(plan, "01") == 0


def test_a_column_without_a_bay_goes_to_the_sections_first_bay_and_is_to_be_checked() -> None:
    shipment = manifest(carton("01", (9, 1)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert bay_of(plan, "01") == "B1"
    assert "column 9, row 1 is in no bay of the layout" in cautions_of(plan, "01")


def test_cartons_not_found_wait_and_are_on_no_trip() -> None:
    shipment = manifest(carton("01", (1, 1)), carton("02", (2, 1)))
    plan = plan_staging(shipment, reconciled(shipment, short="02"), layout())
    assert [(h.carton, h.why, h.missing) for h in plan.held] == [("02", "not found yet", True)]
    assert trip_of(plan, "02") == 0
    assert bay_of(plan, "02") == ""


def test_an_open_first_carton_rides_on_trip_1_on_top_and_loaded_last() -> None:
    shipment = manifest(*twenty(), carton("90", kind=CartonKind.TAGS, weight=9, size=(30, 20, 10), open_first=True))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    first = plan.trips[0]
    assert (first.trip, first.cartons[-1]) == (1, "90")
    mine = next(spot for spot in first.stacks if spot.cartons == ("90",))
    assert mine.z_cm > 0
    assert_loaded_well(plan, shipment, CART)


def test_open_first_cartons_are_listed_also_when_they_are_missing() -> None:
    shipment = manifest(carton("01", open_first=True), carton("02", open_first=True), carton("03"))
    plan = plan_staging(shipment, reconciled(shipment, short="02"), layout())
    assert [(first.carton, first.found) for first in plan.open_first] == [("01", True), ("02", False)]


def test_cartons_inside_an_unopened_outer_ride_in_it() -> None:
    outer = carton("00", kind=CartonKind.OUTER, section="", weight=None, size=(80, 60, 60))
    shipment = manifest(outer, carton("01", (4, 1), outer="00"), carton("02", (5, 1), outer="00"))
    plan = plan_staging(shipment, reconciled(shipment, inside="01 02"), layout())
    assert held(plan).keys() == {"01", "02"}
    assert (trip_of(plan, "00"), bay_of(plan, "00")) == (1, "B2")
    assert plan.trips[0].load_kg == 16


def test_an_outer_whose_cartons_were_seen_stays_behind_and_they_ride_alone() -> None:
    outer = carton("00", kind=CartonKind.OUTER, section="", weight=20, size=(80, 60, 60))
    shipment = manifest(outer, carton("01", (4, 1), outer="00"), carton("02", (5, 1), outer="00"))
    plan = plan_staging(shipment, reconciled(shipment, inside="02"), layout())
    assert (trip_of(plan, "00"), trip_of(plan, "01"), trip_of(plan, "02")) == (0, 1, 0)
    assert held(plan)["02"] == "not seen yet in the opened outer box 00"
    assert held(plan)["00"].startswith("the outer box is open")


def test_an_outer_that_was_noted_as_opened_stays_behind() -> None:
    outer = carton("00", kind=CartonKind.OUTER, section="", weight=20, size=(80, 60, 60))
    shipment = manifest(outer, carton("01", (4, 1), outer="00"))
    plan = plan_staging(shipment, reconciled(shipment), layout(), [OuterOpened("n", NOON, "Kim", "00")])
    assert (trip_of(plan, "00"), trip_of(plan, "01")) == (0, 1)


def test_an_outer_is_open_once_one_of_its_cartons_was_moved_though_nobody_read_it() -> None:
    outer = carton("00", kind=CartonKind.OUTER, section="", weight=20, size=(80, 60, 60))
    shipment = manifest(outer, carton("01", (4, 1), outer="00"), carton("02", (5, 1), outer="00"))
    moved = CartonMoved("n", NOON, "Kim", "01", "B2", trip=1)
    plan = plan_staging(shipment, reconciled(shipment, inside="01 02"), layout(), [moved])
    assert held(plan) == {
        "00": "the outer box is open; its cartons are staged one by one",
        "02": "not seen yet in the opened outer box 00",
    }


@pytest.mark.parametrize("outer", [carton("00", kind=CartonKind.OUTER, section=""), carton("00", (1, 1))])
@pytest.mark.parametrize("listed", [True, False])
def test_what_was_noted_as_opened_stays_where_it_is_an_outer_or_holds_cartons(outer: Carton, listed: bool) -> None:
    """An outer box whose contents are not on the manifest, a tray that holds a carton: but no tray that holds none."""
    shipment = manifest(outer, *([carton("01", (4, 1), outer="00")] if listed else []))
    plan = plan_staging(shipment, reconciled(shipment), layout(), [OuterOpened("n", NOON, "Kim", "00")])
    assert ("00" in held(plan)) == (listed or outer.kind is CartonKind.OUTER)


def test_a_carton_inside_an_outer_that_nobody_names_travels_in_it() -> None:
    shipment = manifest(carton("01", (4, 1)))
    plan = plan_staging(shipment, reconciled(shipment, inside="01"), layout())
    assert held(plan) == {"01": "inside the unopened outer box; it travels in it"}


def test_an_outer_too_heavy_for_the_cart_is_held_to_be_opened_here() -> None:
    shipment = manifest(carton("00", kind=CartonKind.OUTER, weight=190, size=(120, 80, 100)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert plan.trips == ()
    assert "open it here and stage its contents" in held(plan)["00"]


def test_without_a_layout_trips_are_planned_for_a_common_cart_which_is_said() -> None:
    shipment = manifest(*twenty())
    plan = plan_staging(shipment, reconciled(shipment), None)
    assert (len(plan.trips), plan.bays, plan.held) == (2, (), ())
    assert plan.cautions[0].text.startswith("No layout: no bays; trips are planned for a cart that takes 110 kg")


def test_without_weight_and_size_the_plan_says_what_it_assumed() -> None:
    shipment = manifest(carton("01", (1, 1), weight=None, size=None), carton("02", (2, 1), weight=9, size=(50, 30, 20)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    assert "Carton 01: weight not stated, 9 kg (19.8 lb) assumed (the most of any tray here)." in plan.assumptions
    assert plan.trips[0].load_kg == 18
    assert {advice.carton for advice in plan.lifting} == {"02"}


@pytest.mark.parametrize(("kg", "pounds"), [(23, "50.7"), (26, "57.3"), (30, "66.1")])
def test_beside_every_heavy_carton_stands_a_caution_with_its_source(kg: float, pounds: str) -> None:
    shipment = manifest(carton("01", (1, 1), weight=kg, size=(40, 30, 20)), carton("02", (1, 2), weight=2))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    both = f"{kg} kg, {pounds} lb"
    assert f"Carton 01 is heavy ({both}): two people (up to 30 kg, 66.1 lb) or a lifting aid." in cautions_of(
        plan, "01"
    )
    assert "NIOSH" in cautions_of(plan, "01")
    assert cautions_of(plan, "02") == ""


def test_nobody_is_told_to_lift_by_hand_what_two_people_cannot() -> None:
    shipment = manifest(carton("01", (1, 1), weight=90, size=(60, 40, 40)))
    plan = plan_staging(shipment, reconciled(shipment), layout())
    texts = cautions_of(plan, "01")
    assert "(90 kg, 198.4 lb): not to be lifted by hand; take its contents out, or ask store management" in texts


def strain_of(*weights: float) -> str:
    shipment = manifest(*(carton(f"{i:02}", (1, 1), weight=kg) for i, kg in enumerate(weights)))
    plan = plan_staging(shipment, reconciled(shipment), layout(bay("B1", "Sol", 1, length=600, depth=300)))
    text = [caution.text for caution in plan.cautions if caution.topic is Topic.STRAINED]
    return text[0].partition(":")[0] if text else ""


def test_a_caution_that_holds_for_nearly_all_cartons_names_those_it_does_not_hold_for() -> None:
    assert strain_of(*[11] * 4, 1) == "Cartons 00, 01, 02, 03"
    assert strain_of(*[11] * 5, 1) == "5 of 6 cartons (not 05)"
    assert strain_of(*[11] * 5, 1, 1) == "Cartons 00, 01, 02, 03, 04"
    assert strain_of(*[11] * 8, 1, 1) == "8 of 10 cartons (not 08, 09)"
    assert strain_of(*[11] * 8, 24) == "All 8 cartons (heavy ones have a caution of their own)"
    assert strain_of(*[11] * 8, 1, 24) == "8 of 9 cartons (not 08; heavy ones have a caution of their own)"
    assert strain_of(*[11] * 8) == "All 8 cartons"
    assert strain_of(1, 1) == ""


def test_a_list_of_cartons_that_turns_into_a_count_is_not_a_new_caution() -> None:
    weights = [11.0] * 4 + [11.0, 1.0]
    shipment = manifest(*(carton(f"{i:02}", (1, 1), weight=kg) for i, kg in enumerate(weights)))
    where = layout(bay("B1", "Sol", 1, length=600, depth=300))
    before = plan_staging(shipment, reconciled(shipment), where)
    fewer = plan_staging(shipment, reconciled(shipment, short="00"), where)
    cost = in_english(cost_between(fewer, before, StagingChanged("n", NOON, "Kim", "05", trip=1)))
    assert "5 of 6 cartons" in " ".join(caution.text for caution in before.cautions)
    assert not [caution for caution in cost.cautions if caution.topic is Topic.STRAINED]


def test_a_carton_in_overhead_storage_is_for_store_management() -> None:
    shipment = manifest(carton("01", (1, 1)), carton("02", (2, 1)))
    note = CartonPlace("n", NOON, "Kim", "02", Place.OVERHEAD)
    plan = plan_staging(shipment, reconciled(shipment), layout(), [note])
    assert (
        cautions_of(plan, "02")
        == "Carton 02 is in overhead storage: ask store management to bring it down; do not climb."
    )
    brought = CartonPlace("m", NOON + timedelta(minutes=5), "Kim", "02", Place.BACK_ROOM)
    assert cautions_of(plan_staging(shipment, reconciled(shipment), layout(), [brought, note]), "02") == ""


def test_egress_is_kept_clear_and_full_trays_are_held_shut() -> None:
    shipment = manifest(carton("01", (1, 1), kind=CartonKind.REPLACEMENT_TRAY))
    words = " ".join(caution.text for caution in plan_staging(shipment, reconciled(shipment), layout()).cautions)
    assert "the local code decides how wide, store management decides where" in words
    assert "strip of board at the front (common practice, no source)" in words


def test_a_layout_of_another_store_is_a_caution() -> None:
    shipment = manifest(carton("01", (1, 1)))
    plan = plan_staging(shipment, reconciled(shipment), layout(store="0999"))
    assert plan.cautions[0].text.startswith("The layout is of store 0999, the shipment is for store 0417")


def test_what_was_moved_keeps_its_place_and_is_not_carried_again() -> None:
    shipment = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    plan = plan_staging(shipment, reconciled(shipment), layout(), [CartonMoved("n", NOON, "Kim", "01", "B2", trip=1)])
    assert (bay_of(plan, "01"), trip_of(plan, "01")) == ("B2", 0)
    assert next(b for b in plan.bays if b.bay == "B2").moved == ("01",)
    assert trip_of(plan, "02") == 2, "trip 1 was driven"


def test_what_rode_along_with_a_moved_carton_stays_on_its_trip_until_it_is_moved_or_put_elsewhere() -> None:
    shipment = manifest(*twenty())
    begun = CartonMoved("n", NOON, "Kim", "01", "B1", trip=1, along=("02", "03", "19"))
    plan = plan_staging(shipment, reconciled(shipment), layout(), [begun])
    first, *others = plan.trips
    assert (first.trip, set(first.cartons), first.under_way) == (1, {"02", "03", "19"}, True)
    assert [trip.trip for trip in others] == list(range(2, 2 + len(others)))
    assert not any(trip.under_way for trip in others)
    assert plan.bound.planned == len(plan.trips)
    assert plan.stop_bound.planned == sum(len(trip.stops) for trip in plan.trips)
    assert plan.stop_bound.at_least == len(first.stops) + sum(len(trip.stops) for trip in others)
    assert_loaded_well(plan, shipment, CART)
    later = NOON + timedelta(minutes=1)
    moved = CartonMoved("m", later, "Kim", "03", "B1", trip=1, along=("02", "19"))
    taken_off = StagingChanged("o", later, "Kim", "19", trip=2)
    plan = plan_staging(shipment, reconciled(shipment), layout(), [begun, moved, taken_off])
    assert plan.trips[0].cartons == ("02",)
    assert trip_of(plan, "19") == 2


def test_a_move_knows_what_was_on_the_cart_from_the_plan_then_from_the_move_before() -> None:
    shipment = manifest(*twenty())
    plan = plan_staging(shipment, reconciled(shipment), layout())
    load = plan.trips[0].cartons
    one = CartonMoved("n", NOON, "Kim", load[0], "B1", trip=1)
    assert rode_along(one, (), plan) == load[1:]
    begun = replace(one, along=load[1:])
    two = CartonMoved("m", NOON + timedelta(minutes=1), "Kim", load[1], "B1", trip=1)
    assert set(rode_along(two, (begun,), StagingPlan())) == set(load[2:])
    assert rode_along(replace(one, trip=None), (), plan) == ()
    assert rode_along(replace(one, bay=""), (), plan) == ()


def test_a_carton_taken_back_to_the_back_room_is_carried_again() -> None:
    shipment = manifest(carton("01", (1, 1)))
    there = CartonMoved("n", NOON, "Kim", "01", "B2", trip=1)
    back = CartonMoved("m", NOON + timedelta(minutes=1), "Kim", "01")
    for notes in ([there, back], [there, NoteWithdrawn("w", NOON, "Kim", "n")]):
        plan = plan_staging(shipment, reconciled(shipment), layout(), notes)
        assert (bay_of(plan, "01"), trip_of(plan, "01")) == ("B1", 1)


def test_an_undone_undo_brings_a_move_and_a_pin_back() -> None:
    shipment = manifest(*twenty())
    other = {1: 2, 2: 1}[trip_of(plan_staging(shipment, reconciled(shipment), layout()), "07")]
    minutes = [NOON + timedelta(minutes=i) for i in range(4)]
    for note in (CartonMoved("n", NOON, "Kim", "07", "B2", trip=1), StagingChanged("n", NOON, "Kim", "07", trip=other)):
        undone = NoteWithdrawn("w", minutes[1], "Kim", "n")
        again = NoteWithdrawn("v", minutes[2], "Kim", "w")
        assert plan_staging(shipment, reconciled(shipment), layout(), [note, undone, again]) == plan_staging(
            shipment, reconciled(shipment), layout(), [note]
        )
        assert plan_staging(shipment, reconciled(shipment), layout(), [note, undone]) == plan_staging(
            shipment, reconciled(shipment), layout()
        )


def test_a_carton_put_on_a_trip_by_a_person_stays_there_in_the_next_plan() -> None:
    shipment = manifest(*twenty())
    before = plan_staging(shipment, reconciled(shipment), layout())
    other = {1: 2, 2: 1}[trip_of(before, "07")]
    pin = StagingChanged("n", NOON, "Kim", "07", trip=other, bay="B2")
    for short in ("", "03", "03 11 12"):
        plan = plan_staging(shipment, reconciled(shipment, short=short), layout(), [pin])
        assert (trip_of(plan, "07"), bay_of(plan, "07")) == (other, "B2")
        assert_loaded_well(plan, shipment, CART)


@pytest.mark.parametrize(("wished", "rides"), [(3, 3), (4, 3), (9, 3)])
def test_a_carton_put_on_a_trip_beyond_the_last_rides_on_a_last_one_of_its_own_and_that_is_said(
    wished: int, rides: int
) -> None:
    shipment = manifest(*twenty())
    plan = plan_staging(shipment, reconciled(shipment), layout(), [StagingChanged("n", NOON, "Kim", "07", trip=wished)])
    assert [trip.trip for trip in plan.trips] == [1, 2, 3]
    assert trip_of(plan, "07") == rides
    words = f"Carton 07 was put on trip {wished}, which is not needed: it rides on trip {rides}."
    assert cautions_of(plan, "07") == ("" if wished == rides else words)


def test_a_carton_put_on_a_trip_that_was_driven_without_it_rides_later_and_that_is_said() -> None:
    shipment = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    notes = [StagingChanged("n", NOON, "Kim", "02", trip=1), CartonMoved("m", NOON, "Kim", "01", "B1", trip=1)]
    plan = plan_staging(shipment, reconciled(shipment), layout(), notes)
    assert trip_of(plan, "02") == 2
    assert cautions_of(plan, "02") == "Carton 02 was put on trip 1, which was driven without it: it rides on trip 2."


def test_a_person_cannot_overload_a_cart() -> None:
    shipment = manifest(*(carton(f"{i:02}", (1, i + 1), weight=20, size=(40, 30, 20)) for i in range(8)))
    pins = [StagingChanged(f"n{i}", NOON, "Kim", f"{i:02}", trip=1) for i in range(8)]
    plan = plan_staging(shipment, reconciled(shipment), layout(), pins)
    assert_loaded_well(plan, shipment, CART)
    assert sum(len(trip.cartons) for trip in plan.trips) == 8
    refused = [c.carton for c in plan.cautions if "does not fit on trip 1 with what else was put there" in c.text]
    assert len(refused) == 3


def test_a_change_says_what_it_costs_in_trips_and_stops() -> None:
    shipment = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    change = StagingChanged("n", NOON, "Kim", "02", trip=2)
    cost = in_english(plan_change_cost(shipment, reconciled(shipment), layout(), (), change))
    assert (cost.trips, cost.stops, cost.walk_m) == (1, 1, 121.2)
    assert cost.words == "This change costs: +1 trip, +1 stop, +121.2 m (398 ft) of walking."
    same = in_english(plan_change_cost(shipment, reconciled(shipment), layout(), (), replace(change, trip=1)))
    assert same.words == "This change costs nothing."


def test_a_change_that_saves_says_so_and_one_that_does_both_costs() -> None:
    def plan(trips: int, stops: int, walk_m: float, **more: object) -> StagingPlan:
        made = [Trip(n, (f"{n}",), 1, ("B",) * (stops if n == 1 else 0), walk_m=walk_m / trips) for n in (1, 2)[:trips]]
        return StagingPlan(trips=tuple(made), **more)  # type: ignore[arg-type]

    change = StagingChanged("n", NOON, "Kim", "1", bay="B")
    before = plan(2, 4, 100.0, bays=(BayStaging("B", ("1", "2")),))

    def words(after: StagingPlan) -> str:
        return in_english(cost_between(before, after, change)).words

    assert words(plan(1, 2, 60.0)) == "This change saves: 1 trip, 2 stops, 40 m (131 ft) of walking."
    assert words(plan(1, 4, 100.0)) == "This change saves: 1 trip."
    assert words(plan(1, 5, 100.0)) == "This change costs: −1 trip, +1 stop."
    pushed = plan(1, 4, 100.0, bays=(BayStaging("B", ("1",)), BayStaging("C", ("2",))))
    assert words(pushed) == "This change costs: −1 trip, carton 2 to bay C."
    left = plan(2, 4, 100.0, held=(Held("2", "no room"),))
    assert words(left) == "This change costs: carton 2 stays in the back room."


def test_a_change_that_the_plan_cannot_keep_says_where_the_carton_goes_instead() -> None:
    header = carton("02", (1, 1), kind=CartonKind.HEADER, weight=14, size=(152, 20, 15))
    shipment = manifest(carton("01", (1, 1)), header, carton("03", (1, 2)))
    change = StagingChanged("n", NOON, "Kim", "02", trip=1)
    cost = in_english(plan_change_cost(shipment, reconciled(shipment), layout(), (), change))
    assert cost.cautions[0].text == "Carton 02 is carried by hand, on trip 2 all the same, not on trip 1."
    gone = in_english(
        plan_change_cost(shipment, reconciled(shipment, short="03"), layout(), (), replace(change, carton="03"))
    )
    assert gone.cautions[0].text.startswith("Carton 03 is on no trip: it is not here")


def test_a_bay_or_trip_that_is_not_there_is_said() -> None:
    shipment = manifest(carton("01", (1, 1)))
    plan = plan_staging(shipment, reconciled(shipment), layout(), [StagingChanged("n", NOON, "Kim", "01", bay="B7")])
    assert "was put at bay B7, which the layout does not have" in cautions_of(plan, "01")
    assert bay_of(plan, "01") == "B1"


def test_a_long_header_rides_out_over_the_deck_and_a_longer_one_is_carried_by_two() -> None:
    long = carton("01", (1, 1), kind=CartonKind.HEADER, weight=9, size=(140, 20, 15))
    longer = carton("02", (1, 1), kind=CartonKind.HEADER, weight=14, size=(152, 20, 15))
    shipment = manifest(long, longer)
    plan = plan_staging(shipment, reconciled(shipment), layout())
    by_cart, by_hand = plan.trips
    assert (by_cart.cartons, by_cart.by_hand) == (("01",), False)
    assert (by_hand.cartons, by_hand.by_hand, by_hand.people) == (("02",), True, 2)
    assert "two people carry it" in cautions_of(plan, "02")


def test_an_empty_shipment_gives_an_empty_plan() -> None:
    plan = plan_staging(manifest(), reconciled(manifest()), layout())
    assert (plan.trips, plan.bays, plan.held, plan.cautions, plan.bound.proven) == ((), (), (), (), True)


def test_a_carton_without_section_goes_to_the_first_bay_of_all() -> None:
    wide = replace(carton("01", section=""), contents=(ContentLine(),))
    shipment = manifest(wide)
    assert bay_of(plan_staging(shipment, reconciled(shipment), layout()), "01") == "B1"
