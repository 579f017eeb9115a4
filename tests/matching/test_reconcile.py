"""What becomes of labels, whole and torn, known and strange.

What a person should look at, where a missing carton was looked for, and what waits for it.
"""

from dataclasses import replace
from math import exp
from uuid import UUID

import pytest

from receiving.matching import (
    NOT_SEARCHED,
    SEARCHED,
    SearchState,
    blocked_positions,
    counted_lines,
    reconcile,
    search_states,
    section_state,
    things_to_check,
)
from receiving.matching.presence import Ledger
from receiving.model import (
    CartonKind,
    CartonState,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Explanation,
    How,
    Note,
    NoteWithdrawn,
    Outcome,
    OverReason,
    Place,
    PlaceSearched,
    ReadAssigned,
    Reconciliation,
    ShortDeclared,
    Source,
    Unreadable,
)
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.spoken import in_words


def names(findings: object) -> list[str]:
    return [finding.carton.carton for finding in findings]  # type: ignore[attr-defined]


def explanation_of(result: Reconciliation, number: int) -> Explanation:
    return next(e for e in result.explanations if e.read_id == str(UUID(int=number)))


def test_a_carton_is_received_by_its_sscc() -> None:
    result = reconcile(manifest(carton("01", (1, 1)), carton("02", (1, 2))), [read(1, sscc=sscc(1001))])
    assert names(result.received) == ["01"]
    assert names(result.short) == ["02"]
    assert result.received[0].how is How.SSCC
    assert result.received[0].evidence == (str(UUID(int=1)),)
    assert in_words(result.received[0]) == f"SSCC {sscc(1001)} is carton 01 on the manifest"


def test_a_carton_is_received_by_its_plain_barcode() -> None:
    result = reconcile(manifest(carton("01", code=0, barcode="KX-1")), [read(1, barcode="KX-1")])
    assert (result.complete, result.received[0].how) == (True, How.BARCODE)


def test_one_label_in_ten_photos_is_one_carton() -> None:
    reads = [read(n, sscc=sscc(1001), photo=f"p{n}", label=1) for n in range(10)]
    result = reconcile(manifest(carton("01", (1, 1))), reads)
    assert result.complete
    assert (result.duplicates, result.over, result.questions) == ((), (), ())
    assert len(result.received[0].evidence) == 10


def test_typed_and_guided_reads_are_named_only_where_nothing_better_shows_the_carton() -> None:
    expected = manifest(carton("01", (1, 1)))
    typed = read(1, sscc=sscc(1001), source=Source.TYPED)
    guided = read(2, sscc=sscc(1001), photo="p", label=1, guided=True)
    plain = read(3, sscc=sscc(1001))
    assert reconcile(expected, [typed]).received[0].how is How.TYPED
    assert reconcile(expected, [guided]).received[0].how is How.GUIDED
    assert reconcile(expected, [typed, guided, plain]).received[0].how is How.SSCC


def test_a_torn_label_is_the_one_carton_open_at_its_address() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)), carton("03", (1, 2)))
    result = reconcile(expected, [read(1, sscc=sscc(1001)), read(2, address=at(1, 1), photo="p", label=1)])
    assert names(result.received) == ["01", "02"]
    assert result.received[1].how is How.ADDRESS
    assert "only one still open there" in in_words(result.received[1])


def test_a_torn_label_with_two_cartons_open_at_its_address_is_a_question() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    result = reconcile(expected, [read(1, address=at(1, 1))])
    assert names(result.short) == ["01", "02"]
    assert [q.cartons for q in result.questions] == [("01", "02")]
    assert in_words(result.questions[0]) == (
        "The label says Oak, column 1, row 1, and nothing else can be read. "
        "Is it carton 01 or 02, or none of this shipment?"
    )


def test_a_torn_label_seen_in_two_photos_is_one_carton_and_no_extra() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    reads = [read(n, address=at(1, 1), photo=f"p{n}", label=2) for n in (1, 2)]
    result = reconcile(expected, reads)
    assert names(result.received) == ["01"]
    assert (result.over, result.duplicates, result.questions) == ((), (), ())


def test_the_position_label_beside_a_code_label_does_not_stand_for_another_carton() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    for label in (0, 7):
        reads = [read(1, sscc=sscc(1001), photo="p", label=label), read(2, address=at(1, 1), photo="p", x=300)]
        result = reconcile(expected, reads)
        assert names(result.received) == ["01"]
        assert explanation_of(result, 2).carton == "01"


def test_one_code_label_has_one_position_label_and_a_second_one_beside_it_is_asked_about() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    reads = [read(1, sscc=sscc(1001), photo="p"), *(read(n, address=at(1, 1), photo="p", x=300 * n) for n in (2, 3))]
    result = reconcile(expected, reads)
    assert explanation_of(result, 2).carton == "01"
    assert [(asked.cartons, asked.again) for asked in result.questions] == [(("02",), ("01",))]
    assert explanation_of(result, 3).outcome is Outcome.QUESTION


def test_odds_above_about_a_million_to_one_are_not_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is not a carton of this many known labels is next to impossible; nobody can say how impossible."""
    expected = manifest(carton("01", (1, 1)), carton("02", (2, 1)))
    odds = []
    for cost in (12.0, 20.0, 30.0):
        monkeypatch.setattr(Ledger, "over_cost", cost)
        odds.append(explanation_of(reconcile(expected, [read(1, address=at(1, 1))]), 1).odds)
    assert odds == pytest.approx([exp(12), exp(14), exp(14)])


def test_an_address_without_carton_is_over() -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [read(1, address=at(9, 9))])
    assert [(o.why, in_words(o)) for o in result.over] == [
        (
            OverReason.NOT_ON_MANIFEST,
            "The label for Oak, column 9, row 9 is not on this manifest nor on any other open shipment",
        )
    ]


def test_an_address_of_a_known_carton_is_a_second_look_and_no_extra() -> None:
    result = reconcile(
        manifest(carton("01", (1, 1))), [read(1, sscc=sscc(1001)), read(2, address=at(1, 1), photo="p", label=1)]
    )
    assert result.complete
    assert explanation_of(result, 2).outcome is Outcome.MATCHED


def test_a_carton_of_another_store_is_over_and_says_whose_it_is() -> None:
    other = manifest(carton("07", (1, 1), code=77), shipment="SH-2", store="0422")
    result = reconcile(manifest(carton("01", (1, 1))), [read(1, sscc=sscc(77))], others=[other])
    over = result.over[0]
    assert (over.why, in_words(over)) == (
        OverReason.OTHER_STORE,
        "belongs to store 0422, shipment SH-2, carton 07",
    )
    assert (over.store, over.shipment, over.carton) == ("0422", "SH-2", "07")


def test_a_carton_of_the_same_stores_other_shipment_says_so() -> None:
    other = manifest(carton("07", (1, 1), code=77), shipment="SH-2")
    result = reconcile(manifest(carton("01", (1, 1))), [read(1, sscc=sscc(77))], others=[other])
    assert result.over[0].why is OverReason.OTHER_SHIPMENT


def test_an_unknown_sscc_is_over_even_at_an_open_address() -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [read(1, sscc=sscc(5), address=at(1, 1))])
    assert names(result.short) == ["01"]
    assert result.over[0].why is OverReason.NOT_ON_MANIFEST


def test_an_unlisted_sscc_matches_by_address_where_the_manifest_gives_no_sscc() -> None:
    result = reconcile(manifest(carton("01", (1, 1), code=0)), [read(1, sscc=sscc(5), address=at(1, 1))])
    assert (names(result.received), result.over) == (["01"], ())


def test_a_products_own_barcode_is_no_extra_carton() -> None:
    reads = [
        read(1, "4006381333931", symbology="]E0", gtin="4006381333931", photo="p", label=1),
        read(2, "https://example.org/a", symbology="]Q1", photo="p", label=2, x=300),
    ]
    result = reconcile(manifest(carton("01", (1, 1))), reads)
    assert {o.why for o in result.over} == {OverReason.NOT_A_CARTON_LABEL}
    assert result.extra == ()


def test_an_unknown_code_built_like_the_manifests_own_is_an_extra_carton() -> None:
    expected = manifest(carton("01", code=0, barcode="KX-0147"))
    reads = [
        read(1, barcode="KX-0999", photo="p", label=1),
        read(2, barcode="1Z9990001234", photo="p", label=2, x=300),
    ]
    result = reconcile(expected, reads)
    assert {o.raw: o.why for o in result.over} == {
        "KX-0999": OverReason.NOT_ON_MANIFEST,
        "1Z9990001234": OverReason.NOT_A_CARTON_LABEL,
    }


def test_two_labels_with_one_code_in_one_photo_are_a_duplicate() -> None:
    reads = [read(n, sscc=sscc(1001), photo="p", label=n, x=n * 300) for n in (1, 2)]
    result = reconcile(manifest(carton("01", (1, 1))), reads)
    assert [d.read_ids for d in result.duplicates] == [(str(UUID(int=1)), str(UUID(int=2)))]
    assert (explanation_of(result, 1).outcome, explanation_of(result, 2).outcome) == (
        Outcome.MATCHED,
        Outcome.DUPLICATE,
    )


def test_one_symbol_found_twice_at_one_spot_is_no_duplicate() -> None:
    reads = [read(n, sscc=sscc(1001), photo="p", label=n, x=n) for n in (1, 2)]
    assert reconcile(manifest(carton("01", (1, 1))), reads).duplicates == ()


def test_one_code_at_two_places_at_once_is_a_duplicate_and_later_a_moved_carton() -> None:
    expected = manifest(carton("01", (1, 1)))
    first = read(1, sscc=sscc(1001), at=0, place=Place.DOCK)
    at_once = read(2, sscc=sscc(1001), at=5, place=Place.OVERHEAD)
    later = read(3, sscc=sscc(1001), at=500, place=Place.OVERHEAD)
    assert len(reconcile(expected, [first, at_once]).duplicates) == 1
    moved = reconcile(expected, [first, later])
    assert (moved.duplicates, moved.received[0].place) == ((), Place.OVERHEAD)


def test_a_label_that_contradicts_itself_is_a_question() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    reads = [read(n, sscc=sscc(1000 + n), photo="p", label=1) for n in (1, 2)]
    result = reconcile(expected, reads)
    assert names(result.received) == []
    assert [q.cartons for q in result.questions] == [("01", "02")]


def test_a_code_of_one_carton_and_the_address_of_another_is_a_question() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    result = reconcile(expected, [read(1, sscc=sscc(1001), address=at(1, 2))])
    assert [q.cartons for q in result.questions] == [("01", "02")]


def test_a_guided_read_that_fits_two_codes_is_a_question() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    blurred = read(1, sscc=sscc(1001), photo="p", label=1, guided=True, alternatives=(f"00{sscc(1002)}",))
    assert [q.cartons for q in reconcile(expected, [blurred]).questions] == [("01", "02")]


def test_cartons_that_share_a_barcode_are_counted_by_the_labels_that_one_photo_shows() -> None:
    same = [carton(name, code=0, barcode="RAIL-122", kind=CartonKind.PARTS) for name in ("01", "02", "03")]
    reads = [read(n, barcode="RAIL-122", photo="p", label=n, x=n * 300) for n in (1, 2)]
    result = reconcile(manifest(*same), reads)
    assert names(result.received) == ["01", "02"]
    assert in_words(result.received[0]) == (
        "It carries barcode RAIL-122, as 3 cartons do; 2 such labels are in one photo"
    )
    scan = reconcile(manifest(*same), [read(1, barcode="RAIL-122")])
    assert [in_words(f) for f in scan.received] == [
        "It carries barcode RAIL-122, as 3 cartons do; counted as carton 01"
    ]
    scans = reconcile(manifest(*same), [read(n, barcode="RAIL-122") for n in (1, 2)])
    assert len(scans.questions) == 1
    assert len(scans.short) == 2


def test_each_further_scan_of_a_shared_barcode_is_a_question_of_its_own_and_photos_are_one() -> None:
    same = [carton(name, code=0, barcode="RAIL-122", kind=CartonKind.PARTS) for name in ("01", "02", "03")]
    three = reconcile(manifest(*same), [read(n, barcode="RAIL-122") for n in (1, 2, 3)])
    assert [len(q.read_ids) for q in three.questions] == [1, 1]
    photos = reconcile(manifest(*same), [read(n, barcode="RAIL-122", photo=f"p{n}", label=1) for n in range(1, 9)])
    assert [len(q.read_ids) for q in photos.questions] == [7]


def test_the_kind_on_the_label_tells_two_cartons_of_one_address_apart() -> None:
    header = replace(carton("02", (1, 1)), kind=CartonKind.HEADER)
    result = reconcile(manifest(carton("01", (1, 1)), header), [read(1, address=at(1, 1), kind="header")])
    assert names(result.received) == ["02"]


def test_a_torn_label_once_placed_by_a_person_does_not_count_for_the_next_carton() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    placed = ReadAssigned("n1", NOON, "Ana", str(UUID(int=1)), "01")
    result = reconcile(expected, [read(n, address=at(1, 1), photo=f"p{n}", label=1) for n in (1, 2)], [placed])
    assert names(result.received) == ["01"]
    assert len(result.questions) == 1


def test_an_empty_shipment_has_nothing_to_say() -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [])
    assert (names(result.short), result.short[0].state) == (["01"], CartonState.SHORT)


EXPECTED = manifest(carton("01"), carton("02"), carton("03", (1, 1)))

PLAIN = read(1, sscc=sscc(1001))

GUIDED = read(2, sscc=sscc(1002), guided=True, photo="p", symbology="]C1")


def guided_to_check(*reads: object, notes: tuple[Note, ...] = ()) -> tuple[str, ...]:
    found = reconcile(EXPECTED, reads, notes)  # type: ignore[arg-type]
    return things_to_check(found, reads, notes).guided  # type: ignore[arg-type]


def test_a_guided_read_that_alone_shows_a_carton_is_to_be_checked() -> None:
    assert guided_to_check(PLAIN) == ()
    assert guided_to_check(PLAIN, GUIDED) == (GUIDED.raw.read_id,)


def test_a_plain_read_of_the_same_carton_settles_it_and_one_of_another_does_not() -> None:
    plain = read(3, sscc=sscc(1002), photo="q")
    assert guided_to_check(GUIDED, plain) == ()
    assert guided_to_check(GUIDED, PLAIN) == (GUIDED.raw.read_id,)


def test_a_persons_word_settles_it_until_it_is_taken_back() -> None:
    assigned = ReadAssigned("n1", NOON, "Ana", GUIDED.raw.read_id, "02")
    assert guided_to_check(GUIDED, notes=(assigned,)) == ()
    assert guided_to_check(GUIDED, notes=(assigned, NoteWithdrawn("n2", NOON, "Ana", "n1"))) == (GUIDED.raw.read_id,)


def test_all_that_is_to_be_checked_is_counted_by_its_kind() -> None:
    bent = DamageNoted("n1", NOON, "Ana", "01", Damage.ARRIVED, True)
    quad = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    unread = (Unreadable("p", quad, ""), Unreadable("p", quad, ""), Unreadable("q", quad, ""))
    reads = [PLAIN, GUIDED]
    found = reconcile(EXPECTED, reads, (bent,), unread=unread)
    check = things_to_check(found, reads, (bent,), failed=("r",))
    assert (check.damaged, check.unread, check.failed) == (("01",), ("p", "q"), ("r",))
    assert check.count == len(check.questions) + 1 + len(check.duplicates) + 1 + 2 + 1
    assert things_to_check(reconcile(EXPECTED, []), []).count == 0


# --- the search ----------------------------------------------------------------------------------------------------


def searched(name: str, place: Place, of: str = "01") -> PlaceSearched:
    return PlaceSearched(name, NOON, "Ana", carton=of, place=place)


def state_of(carton_id: str, *notes: Note) -> SearchState:
    return search_states(notes).get(carton_id, NOT_SEARCHED)


def test_every_place_of_a_store_is_searched_but_other() -> None:
    assert set(SEARCHED) == set(Place) - {Place.OTHER}
    assert state_of("01").left == SEARCHED


def test_a_place_is_left_until_somebody_looked_there_for_this_carton() -> None:
    first, *others = SEARCHED
    notes = (searched("n1", first), searched("n2", others[0], of="02"))
    assert state_of("01", *notes).left == tuple(others)
    assert state_of("02", *notes).left == (first, *others[1:])
    assert state_of("01", *notes, NoteWithdrawn("n3", NOON, "Ana", "n1")).left == SEARCHED
    assert state_of("01", *notes).searched == {first: notes[0]}
    again = searched("n4", first)
    assert state_of("01", *notes, again).searched == {first: again}, "the last search of a place"


def test_a_carton_is_declared_short_by_the_last_note_that_stands() -> None:
    one, two = (ShortDeclared(f"n{n}", NOON, "Ana", carton="01") for n in (1, 2))
    assert state_of("01").declared is None
    assert state_of("02", one).declared is None
    assert state_of("01", one, two).declared is two
    assert state_of("01", one, two, NoteWithdrawn("n3", NOON, "Ana", "n2")).declared is one
    looked = searched("n5", SEARCHED[0])
    assert state_of("01", looked, one) == state_of("01", one, looked) == SearchState({SEARCHED[0]: looked}, one)


# --- what waits for a missing carton -------------------------------------------------------------------------------


def test_positions_wait_for_the_carton_that_was_packed_for_them() -> None:
    trays = manifest(carton("01", (1, 1), (1, 2)), carton("02", (2, 1)), carton("03", (3, 1)))
    found = reconcile(trays, [read(1, sscc=sscc(1003))])
    waiting = blocked_positions(section_state(trays, found), trays, found)
    assert dict(waiting) == {"01": 2, "02": 1}


def test_where_nothing_is_missing_no_position_waits() -> None:
    trays = manifest(carton("01", (1, 1)), carton("02", (2, 1)))
    found = reconcile(trays, [read(n, sscc=sscc(1000 + n)) for n in (1, 2)])
    assert dict(blocked_positions(section_state(trays, found), trays, found)) == {}


def test_of_several_cartons_with_a_part_a_position_waits_only_for_the_one_packed_for_it() -> None:
    """Trays of one item, one for each position: the other one would do, but it has a place of its own."""
    trays = manifest(
        *(
            replace(carton(name), contents=(ContentLine("Oak", at(column, 1), "TR-12", "tray", 1),))
            for name, column in (("01", 1), ("02", 2), ("03", 3))
        )
    )
    found = reconcile(trays, [read(1, sscc=sscc(1003))])
    assert dict(blocked_positions(section_state(trays, found), trays, found)) == {"01": 1, "02": 1}


def test_a_position_that_lacks_a_loose_part_waits_for_every_carton_that_holds_it() -> None:
    tray = replace(carton("01"), contents=(ContentLine("Oak", at(1, 1), "TR-12", "tray", 1),))
    rails = [
        replace(
            carton(name),
            kind=CartonKind.PARTS,
            contents=(ContentLine("Oak", item="R", description="Price rails", qty=1),),
        )
        for name in ("02", "03")
    ]
    expected = manifest(tray, *rails)
    no_rail = ContentCounted("n1", NOON, "Ana", "01", "price rail", 0)
    found = reconcile(expected, [read(1, sscc=sscc(1001))], (no_rail,))
    state = section_state(expected, found, (no_rail,))
    lines = counted_lines(expected, found, (no_rail,))
    assert [line.missing for line in lines if line.part == "price rail" and line.carton == "01"] == [1]
    assert dict(blocked_positions(state, expected, found, (no_rail,))) == {"02": 1, "03": 1}
