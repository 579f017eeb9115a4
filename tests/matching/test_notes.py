"""What a person says beside the reads, and takes back."""

from datetime import timedelta
from uuid import UUID

from receiving.matching import reconcile
from receiving.model import (
    CartonKind,
    CartonPlace,
    CartonSeen,
    CartonState,
    ContentCounted,
    Damage,
    DamageNoted,
    How,
    NoteWithdrawn,
    Outcome,
    OuterOpened,
    OverReason,
    Place,
    ReadAssigned,
    ReadRejected,
)
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.spoken import in_words

BOX = manifest(carton("10", kind=CartonKind.OUTER), carton("01", (1, 1), outer="10"), carton("02", (1, 2), outer="10"))
ONE = str(UUID(int=1))


def states(result: object) -> dict[str, CartonState]:
    return {f.carton.carton: f.state for f in result.cartons}  # type: ignore[attr-defined]


def test_a_rejected_read_is_left_out_and_comes_back_when_the_note_is_withdrawn() -> None:
    expected = manifest(carton("01", (1, 1)))
    no = ReadRejected("n1", NOON, "Ana", ONE, "wrong pile")
    back = NoteWithdrawn("n2", NOON, "Ana", "n1")
    again = NoteWithdrawn("n3", NOON + timedelta(seconds=1), "Ana", "n2")
    reads = [read(1, sscc=sscc(1001))]
    result = reconcile(expected, reads, [no])
    assert (result.received, in_words(result.explanations[0])) == ((), "Ana set this read aside: wrong pile")
    assert result.explanations[0].outcome is Outcome.REJECTED
    assert reconcile(expected, reads, [no, back]).complete
    assert reconcile(expected, reads, [again, back, no]).received == ()


def test_a_person_places_a_read_or_says_that_it_is_none_of_this_shipment() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    torn = [read(1, address=at(1, 1))]
    placed = reconcile(expected, torn, [ReadAssigned("n1", NOON, "Ana", ONE, "02")])
    assert [(f.carton.carton, f.how) for f in placed.received] == [("02", How.ADDRESS)]
    assert placed.questions == ()
    none = reconcile(expected, torn, [ReadAssigned("n1", NOON, "Ana", ONE, "")])
    assert [(o.why, in_words(o)) for o in none.over] == [
        (OverReason.NOT_ON_MANIFEST, "Ana says that this is none of this shipment")
    ]


def test_the_last_of_two_assignments_holds() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    first = ReadAssigned("n9", NOON, "Ana", ONE, "01")
    last = ReadAssigned("n1", NOON + timedelta(seconds=5), "Ana", ONE, "02")
    result = reconcile(expected, [read(1, address=at(1, 1))], [last, first])
    assert [f.carton.carton for f in result.received] == ["02"]


def test_a_label_whose_reads_a_person_told_apart_is_two_cartons() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    reads = [read(n, sscc=sscc(1000 + n), photo="p", label=1) for n in (1, 2)]
    notes = [ReadAssigned(f"n{n}", NOON, "Ana", str(UUID(int=n)), f"0{n}") for n in (1, 2)]
    assert reconcile(expected, reads, notes).complete


def test_a_carton_seen_without_label_is_here() -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [], [CartonSeen("n1", NOON, "Ana", "01", "label gone")])
    assert (result.received[0].how, in_words(result.received[0])) == (
        How.TYPED,
        "Ana confirms that it is here: label gone",
    )


def test_contents_of_an_unopened_outer_box_are_inside_and_not_received() -> None:
    result = reconcile(BOX, [read(1, sscc=sscc(1010))])
    assert states(result) == {"10": CartonState.RECEIVED, "01": CartonState.INSIDE, "02": CartonState.INSIDE}
    assert [f.carton.carton for f in result.short] == ["01", "02"]


def test_an_outer_box_opened_with_all_inside_brings_its_contents() -> None:
    result = reconcile(BOX, [], [OuterOpened("n1", NOON, "Ana", "10", all_inside=True)])
    assert [f.how for f in result.cartons] == [How.TYPED, How.INSIDE_OUTER, How.INSIDE_OUTER]


def test_an_opened_outer_box_leaves_what_was_not_found_missing() -> None:
    result = reconcile(BOX, [read(1, sscc=sscc(1001))], [OuterOpened("n1", NOON, "Ana", "10")])
    assert states(result) == {"10": CartonState.RECEIVED, "01": CartonState.RECEIVED, "02": CartonState.SHORT}


def test_an_outer_box_broken_down_by_the_store_is_no_short() -> None:
    seen = reconcile(BOX, [read(1, sscc=sscc(1001))])
    assert states(seen)["10"] is CartonState.RECEIVED
    assert (seen.cartons[0].how, in_words(seen.cartons[0])) == (
        How.INSIDE_OUTER,
        "Known by its contents: broken down by store staff",
    )
    noted = reconcile(BOX, [], [OuterOpened("n1", NOON, "Ana", "10", by_store=True)])
    assert noted.cartons[0].how is How.INSIDE_OUTER
    assert states(noted)["01"] is CartonState.SHORT


def test_nothing_of_an_unseen_outer_box_is_here() -> None:
    assert set(states(reconcile(BOX, [])).values()) == {CartonState.SHORT}


def test_boxes_that_travel_in_each_other_do_not_hang_the_work() -> None:
    ring = manifest(carton("01", outer="02"), carton("02", outer="01"))
    assert len(reconcile(ring, [read(1, sscc=sscc(1001))]).received) == 2


def test_the_last_known_place_holds() -> None:
    expected = manifest(carton("01", (1, 1)))
    up = CartonPlace("n1", NOON + timedelta(seconds=30), "Ana", "01", Place.OVERHEAD)
    early = read(1, sscc=sscc(1001), at=0, place=Place.DOCK)
    unstated = read(2, sscc=sscc(1001), at=60, place=Place.OTHER)
    down = read(3, sscc=sscc(1001), at=90, place=Place.BACK_ROOM)
    assert reconcile(expected, [unstated, early], [up]).received[0].place is Place.OVERHEAD
    assert reconcile(expected, [down, unstated, early], [up]).received[0].place is Place.BACK_ROOM


def test_damage_stands_beside_its_carton() -> None:
    note = DamageNoted("n1", NOON, "Ana", "01", Damage.ARRIVED, usable=False)
    result = reconcile(manifest(carton("01", (1, 1))), [read(1, sscc=sscc(1001))], [note])
    assert result.received[0].damage == (note,)


def test_a_carton_whose_contents_a_person_counted_is_here() -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [], [ContentCounted("n1", NOON, "Ana", "01")])
    assert [(f.how, in_words(f)) for f in result.received] == [(How.TYPED, "Ana opened it and counted its contents")]
