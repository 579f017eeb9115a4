"""No note that can be sent takes a shipment or a list with it, and an undo holds whatever the clock does.

Answers to questions: one call for every code of the label in question.

No receipt lists a carton as missing that nobody declared short: after the search of every place, or for a reason.
"""

import json
from datetime import UTC, datetime, timedelta

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import PhotoReading, Place, PlaceSearched, Question, Receipt, ShortDeclared, Source, Symbol
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import picture


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("noted_at", "2026-03-02T09:00:00"),
        ("noted_at", "0001-01-01T00:00:00+14:00"),
        ("noted_at", "9999-12-31T23:59:59-12:00"),
        ("note_id", "1"),
        ("action_id", "1"),
        ("seq", "1"),
        ("along", "03"),
        ("ctx", "x"),
        ("found", "x"),
        ("fields", "x"),
        ("qty", "2"),
    ],
)
def test_a_note_takes_only_what_a_person_may_say(ctx: service.Context, field: str, value: str) -> None:
    with pytest.raises(BadRequest, match=f"A carton_seen note has no field '{field}'"):
        service.add_notes(ctx, "S-1", "carton_seen", [{"carton": "02", field: value}], by="Ada")
    assert service.get_shipment(ctx, "S-1").notes == ()
    assert len(service.get_overview(ctx)) == 2


@pytest.mark.parametrize(
    ("kind", "fields", "message"),
    [
        ("damage_noted", {"reason": "arrived_damaged", "usable": "false", "qty": "0"}, "quantity 0 is not from 1 to"),
        ("damage_noted", {"reason": "arrived_damaged", "usable": "false", "qty": "1" * 30}, "quantity 1"),
        (
            "damage_noted",
            {"reason": "arrived_damaged", "usable": "false", "column": "0", "row": "1"},
            "column 0 is not",
        ),
        ("content_counted", {"qty": "-1"}, "quantity -1 is not from 0 to"),
        ("content_counted", {"qty": "1e400"}, "This note cannot be kept"),
        ("carton_moved", {"bay": "B1", "trip": "0"}, "trip 0 is not from 1 to"),
        ("staging_changed", {"trip": "-4"}, "trip -4 is not from 1 to"),
        ("shortage_followed", {"step": "on_its_way", "due": "9999-12-31"}, "day 9999-12-31 is not from 2000 to 2199"),
        ("damage_noted", {"reason": "arrived_damaged", "usable": "false", "photo": "../../etc"}, "photo '../../etc'"),
        (
            "damage_noted",
            {"reason": "arrived_damaged", "usable": "false", "photo": "ab" * 32},
            "no photo 'abababababab",
        ),
    ],
)
def test_a_quantity_a_place_a_day_and_a_photo_are_checked(
    ctx: service.Context, kind: str, fields: dict[str, str], message: str
) -> None:
    with pytest.raises(BadRequest) as fault:
        service.add_note(ctx, "S-1", kind, by="Ada", carton="02", **fields)
    assert message in str(fault.value)
    assert service.get_shipment(ctx, "S-1").notes == ()


def test_a_photo_of_the_shipment_may_show_damage(ctx: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    row = service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    fields = {"carton": "02", "reason": "arrived_damaged", "usable": "false", "photo": row.photo}
    service.add_note(ctx, "S-1", "damage_noted", by="Ada", **fields)
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def clock_back(ctx: service.Context) -> None:
    """The machine's clock is set five hours back, and goes on from there."""
    later = ctx.now
    ctx.now = lambda: later() - timedelta(hours=5)


def test_an_undo_holds_after_the_clock_was_set_back(ctx: service.Context) -> None:
    note = service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    clock_back(ctx)
    service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=note.note_id)
    assert service.get_shipment(ctx, "S-1").row.here == 0


def test_what_was_undone_and_then_brought_back_counts_after_the_clock_was_set_back(ctx: service.Context) -> None:
    note = service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    undo = service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=note.note_id)
    clock_back(ctx)
    service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=undo.note_id)
    assert service.get_shipment(ctx, "S-1").row.here == 1


def test_a_visit_that_is_sent_is_no_longer_held_after_the_clock_was_set_back(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "visit_decided", by="Ada", go="false")
    assert service.get_shipment(ctx, "S-1").row.held
    clock_back(ctx)
    service.add_note(ctx, "S-1", "visit_decided", by="Ada", go="true")
    assert not service.get_shipment(ctx, "S-1").row.held


def test_the_last_place_said_holds_after_the_clock_was_set_back(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    service.add_note(ctx, "S-1", "carton_place", by="Ada", carton="02", place="overhead")
    clock_back(ctx)
    service.add_note(ctx, "S-1", "carton_place", by="Ada", carton="02", place="back_room")
    (here,) = service.get_shipment(ctx, "S-1").reconciliation.received
    assert here.place is Place.BACK_ROOM


def test_the_last_move_holds_in_the_plan_after_the_clock_was_set_back(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    service.add_note(ctx, "S-1", "carton_moved", by="Ada", carton="02", bay="B1")
    assert [bay.moved for bay in service.get_shipment(ctx, "S-1").plan.bays] == [("02",)]
    clock_back(ctx)
    service.add_note(ctx, "S-1", "carton_moved", by="Ada", carton="02")
    assert [bay.moved for bay in service.get_shipment(ctx, "S-1").plan.bays] == [()]


def test_a_clock_that_is_years_off_is_refused_before_anything_is_stored(ctx: service.Context) -> None:
    ctx.now = lambda: datetime(1970, 1, 1, tzinfo=UTC)
    with pytest.raises(BadRequest, match=r"time 1970-01-01T00:00:00\+00:00 is not from 2000 to 2199"):
        service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")


QUAD = ((1.0, 1.0), (30.0, 1.0), (30.0, 20.0), (1.0, 20.0))

TRAY_1, TRAY_2 = "00395200000000000012", "00395200000000000029"


@pytest.fixture
def question(ctx: service.Context, reader: PlannedReader) -> Question:
    """A blurred label that may be either tray: a guided read that could not rule the other out."""
    blurred = Symbol(TRAY_1, "]C1", QUAD, "guided", label=1, guided=True, confidence=0.55, alternatives=(TRAY_2,))
    reader.readings["a.png"] = PhotoReading(40, 30, (blurred,))
    service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    (asked,) = service.get_shipment(ctx, "S-1").reconciliation.questions
    return asked


def test_a_guided_read_between_two_candidates_asks_for_both(question: Question) -> None:
    assert set(question.cartons) == {"02", "03"}


def test_an_answer_settles_every_read_of_the_question(ctx: service.Context, question: Question) -> None:
    assert service.answer_question(ctx, "S-1", question.question_id, "03", by="Ada") == question
    view = service.get_shipment(ctx, "S-1")
    assert view.reconciliation.questions == ()
    assert [f.carton.carton for f in view.reconciliation.received] == ["03"]
    assert {note.by for note in view.notes} == {"Ada"}
    assert len(view.notes) == len(question.read_ids)


def test_none_of_these_leaves_no_carton_here_and_no_question(ctx: service.Context, question: Question) -> None:
    service.answer_question(ctx, "S-1", question.question_id, "", by="Ada")
    found = service.get_shipment(ctx, "S-1").reconciliation
    assert (found.questions, found.received) == ((), ())


def test_a_question_is_answered_once(ctx: service.Context, question: Question) -> None:
    service.answer_question(ctx, "S-1", question.question_id, "02", by="Ada")
    with pytest.raises(Conflict, match="answered already"):
        service.answer_question(ctx, "S-1", question.question_id, "03", by="Bo")
    assert len(service.get_shipment(ctx, "S-1").notes) == len(question.read_ids)


def test_an_answer_that_is_no_carton_of_the_shipment_stores_nothing(ctx: service.Context, question: Question) -> None:
    with pytest.raises(BadRequest, match="Carton '77' is not on the manifest"):
        service.answer_question(ctx, "S-1", question.question_id, "77", by="Ada")
    assert service.get_shipment(ctx, "S-1").notes == ()


PLACES = (Place.DOCK, Place.BACK_ROOM, Place.OVERHEAD, Place.SALES_FLOOR)


def confirm(ctx: service.Context, digest: str = "", **answers: object) -> Receipt:
    shown = digest or service.show_receipt(ctx, "S-1").digest
    missing = service.MissingAnswer(**answers)
    return service.confirm(ctx, "S-1", shown, name="Grace", role="Manager", with_exceptions=True, missing=missing)


def declared(receipt: Receipt) -> dict[str, tuple[str, str, tuple[Place, ...]]]:
    return {
        line.carton: (line.declared.by, line.declared.reason, line.declared.searched)
        for line in receipt.shown.lines
        if line.declared
    }


def test_a_receipt_is_not_given_while_a_missing_carton_is_not_declared_short(ctx: service.Context) -> None:
    with pytest.raises(BadRequest) as fault:
        confirm(ctx)
    assert str(fault.value.message) == "Cartons 01, 02, 03 are missing and not declared short."
    assert str(fault.value.next_step) == "Say that they were looked for everywhere, or why not."
    assert service.get_shipment(ctx, "S-1").receipts == ()
    assert service.get_shipment(ctx, "S-1").notes == ()


def test_what_is_said_of_all_declares_each_of_them_in_the_name_of_who_confirms(ctx: service.Context) -> None:
    receipt = confirm(ctx, searched=True)
    assert declared(receipt) == dict.fromkeys(("01", "02", "03"), ("Grace", "", PLACES))
    notes = service.get_shipment(ctx, "S-1").notes
    assert {note.by for note in notes} == {"Grace"}
    assert len({note.action_id for note in notes}) == 1
    assert [sum(isinstance(note, kind) for note in notes) for kind in (PlaceSearched, ShortDeclared)] == [12, 3]


def test_one_carton_may_have_a_reason_of_its_own_and_is_then_not_searched_for(ctx: service.Context) -> None:
    receipt = confirm(ctx, reason="the van left", reasons={"02": "seen on the truck"})
    assert declared(receipt)["01"] == ("Grace", "the van left", ())
    assert declared(receipt)["02"] == ("Grace", "seen on the truck", ())


def test_a_reason_for_one_carton_does_not_speak_for_the_others(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match=r"Cartons 01, 03 are missing"):
        confirm(ctx, reasons={"02": "seen on the truck"})
    with pytest.raises(BadRequest, match=r"Carton 03 is missing .*declared short\."):
        confirm(ctx, reasons={"02": "seen on the truck", "01": "also"})


def test_a_search_that_is_over_needs_no_answer_more(ctx: service.Context) -> None:
    for place in PLACES:
        service.search_place(ctx, "S-1", place, ["01", "02", "03"], by="Ada")
    assert declared(confirm(ctx)) == dict.fromkeys(("01", "02", "03"), ("Grace", "", PLACES))


def test_who_declared_it_before_stays_on_the_receipt(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "short_declared", by="Ada", carton="01", reason="not loaded, says the driver")
    before = service.show_receipt(ctx, "S-1")
    assert declared(confirm(ctx, searched=True))["01"] == ("Ada", "not loaded, says the driver", ())
    assert [line.carton for line in before.lines if line.declared] == ["01"]


def test_a_declaration_made_since_the_counts_were_shown_has_to_be_looked_at(ctx: service.Context) -> None:
    shown = service.show_receipt(ctx, "S-1")
    service.add_note(ctx, "S-1", "short_declared", by="Ada", carton="01", reason="lost")
    with pytest.raises(Conflict, match="has changed since"):
        confirm(ctx, shown.digest, searched=True)


def test_the_same_confirmation_sent_again_is_the_same_receipt(ctx: service.Context) -> None:
    shown = service.show_receipt(ctx, "S-1").digest
    first = confirm(ctx, shown, searched=True)
    assert confirm(ctx, shown, searched=True) == first
    assert len(service.get_shipment(ctx, "S-1").receipts) == 1
    assert len(service.get_shipment(ctx, "S-1").notes) == 15
    service.add_scan(ctx, "S-1", "]C100395200000000000012", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    with pytest.raises(Conflict):
        confirm(ctx, shown, searched=True)


def test_somebody_else_has_to_see_what_was_declared_in_the_name_of_who_confirmed_before(ctx: service.Context) -> None:
    shown = service.show_receipt(ctx, "S-1").digest
    first = confirm(ctx, shown, searched=True)
    with pytest.raises(Conflict, match="has changed since"):
        confirm_with_shorts(ctx, "S-1", digest=shown, name="Max", role="Clerk")
    assert service.get_shipment(ctx, "S-1").receipts == (first,)


def test_a_place_is_searched_for_all_at_once_and_what_was_found_since_is_left_out(ctx: service.Context) -> None:
    service.add_scan(ctx, "S-1", "]C100395200000000000012", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    notes = service.search_place(ctx, "S-1", Place.DOCK, ["01", "02", "03"], by="Ada")
    assert [note.carton for note in notes if isinstance(note, PlaceSearched)] == ["01", "03"]
    with pytest.raises(BadRequest, match="None of these cartons is missing"):
        service.search_place(ctx, "S-1", Place.DOCK, ["02"], by="Ada")


def test_the_files_of_a_receipt_say_who_declared_what_short(ctx: service.Context) -> None:
    confirm(ctx, reason="the van left")
    lines = json.loads(service.make_receipt_data(ctx, "S-1", 1, "json"))["shown"]["lines"]
    assert [line["declared"]["reason"] for line in lines if line["declared"]] == ["the van left"] * 3
    head, first, *_ = service.make_receipt_data(ctx, "S-1", 1, "csv").splitlines()
    assert head == "receipt,carton,state,words,declared_by,declared_at,declared_reason,searched"
    assert ",Grace,2026-" in first
    assert first.endswith(",the van left,")


def give(ctx: service.Context, digest: str, *since: str) -> Receipt:
    missing = service.MissingAnswer(reason="the van left")
    person = {"name": "Grace", "role": "Manager"}
    return service.confirm(ctx, "S-1", digest, **person, with_exceptions=True, missing=missing, since=since)


def test_what_a_phone_did_without_a_signal_and_told_is_confirmed_with_what_was_shown(ctx: service.Context) -> None:
    shown = service.get_receipt_to_confirm(ctx, "S-1").shown
    service.add_scan(ctx, "S-1", "]C100395200000000000012", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    service.add_note(ctx, "S-1", "damage_noted", by="Ada", carton="02", reason="arrived_damaged", usable=False)
    for stated in ((), ("03",)):
        with pytest.raises(Conflict, match="has changed since"):
            give(ctx, shown.digest, *stated)
    receipt = give(ctx, shown.digest, "02")
    assert (receipt.shown.received, receipt.asked) == (1, shown.digest)
    assert [line.state for line in receipt.shown.lines if line.carton == "02"] == ["damaged", "received"]
    assert give(ctx, shown.digest, "02") == receipt


def test_what_somebody_else_did_meanwhile_is_not_confirmed_unseen(ctx: service.Context) -> None:
    shown = service.get_receipt_to_confirm(ctx, "S-1").shown
    for digits in ("00395200000000000012", "00395200000000000029"):
        service.add_scan(ctx, "S-1", f"]C1{digits}", place=Place.DOCK, by="Bo", source=Source.SCANNER)
    with pytest.raises(Conflict):
        give(ctx, shown.digest, "02")
    with pytest.raises(Conflict):
        give(ctx, "0" * 64, "02", "03")
