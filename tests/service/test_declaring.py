"""No receipt lists a carton as missing that nobody declared short: after the search of every place, or for a reason."""

import json

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import Place, PlaceSearched, Receipt, ShortDeclared, Source

PLACES = (Place.DOCK, Place.BACK_ROOM, Place.OVERHEAD, Place.SALES_FLOOR)


def confirm(ctx: service.Context, digest: str = "", **said: object) -> Receipt:
    shown = digest or service.show_receipt(ctx, "S-1").digest
    missing = service.MissingAnswer(**said)
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
    missing = service.MissingAnswer(searched=True)
    with pytest.raises(Conflict, match="has changed since"):
        service.confirm(ctx, "S-1", shown, name="Max", role="Clerk", with_exceptions=True, missing=missing)
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
    for told in ((), ("03",)):
        with pytest.raises(Conflict, match="has changed since"):
            give(ctx, shown.digest, *told)
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
