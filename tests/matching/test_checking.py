"""What a person should look at, where a missing carton was looked for, and what waits for it."""

from dataclasses import replace

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
from receiving.model import (
    CartonKind,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Note,
    NoteWithdrawn,
    Place,
    PlaceSearched,
    ReadAssigned,
    ShortDeclared,
    Unreadable,
)
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc

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
    said = ReadAssigned("n1", NOON, "Ana", GUIDED.raw.read_id, "02")
    assert guided_to_check(GUIDED, notes=(said,)) == ()
    assert guided_to_check(GUIDED, notes=(said, NoteWithdrawn("n2", NOON, "Ana", "n1"))) == (GUIDED.raw.read_id,)


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
