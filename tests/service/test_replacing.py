import json
from datetime import date

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.model import CartonKind, Place, Source
from receiving.model.contents import Part
from receiving.model.replacement import Delivery, LeftOutReason
from tests.receipts import confirm_with_shorts
from tests.spoken import in_words

TO_STORE = Delivery("Store 0417, goods in", "Grace", needed_by=date(2026, 3, 8))


def see(ctx: service.Context, *cartons: str) -> None:
    for carton in cartons:
        service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton=carton)


def asked(ctx: service.Context) -> list[tuple[str, str, int]]:
    return [(line.carton, line.reason.value, line.qty) for line in service.draft_request(ctx, "0417").lines]


def test_the_draft_holds_what_is_missing_and_what_broke(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    service.add_note(
        ctx, "S-1", "damage_noted", by="Ada", carton="02", reason="arrived_damaged", usable=False, remark="cracked"
    )
    assert {(carton, reason) for carton, reason, _ in asked(ctx)} == {
        ("02", "arrived_damaged"),
        ("03", "carton_missing"),
    }


def test_one_request_is_numbered_then_revised_and_never_doubled(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    first = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    again = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    assert (first.number, first.revision) == (1, 1)
    assert again == first
    see(ctx, "03")
    draft = service.draft_request(ctx, "0417")
    assert (draft.previous, draft.lines) == (first, ())
    assert [each.request for each in draft.withdrawals] == [first]
    revised = service.withdraw_lines(ctx, "0417", 1, by="Ada")
    assert (revised.number, revised.revision, revised.lines) == (1, 2, ())
    assert service.list_requests(ctx, "0417") == (revised,)
    with pytest.raises(Conflict, match="asks for nothing that is here already"):
        service.withdraw_lines(ctx, "0417", 1, by="Ada")


def test_what_is_settled_or_asked_for_is_left_out_with_the_reason(ctx: service.Context) -> None:
    see(ctx, "01")
    follow(ctx, "02", "sent_again", due=date(2026, 3, 5), remark="tracking 77")
    draft = service.draft_request(ctx, "0417")
    assert [line.carton for line in draft.lines] == ["03"]
    assert [(left.line.carton, left.reason, left.detail, left.due) for left in draft.left_out] == [
        ("02", LeftOutReason.SENT_AGAIN, "tracking 77", date(2026, 3, 5))
    ]
    first = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    assert [line.carton for line in first.lines] == ["03"]
    again = service.draft_request(ctx, "0417")
    assert again.lines == ()
    assert {(left.line.carton, left.reason, left.detail) for left in again.left_out} == {
        ("02", LeftOutReason.SENT_AGAIN, "tracking 77"),
        ("03", LeftOutReason.IN_REQUEST, "R-0417-001"),
    }


def follow(ctx: service.Context, carton: str, step: str, **more: object) -> None:
    service.add_note(ctx, "S-1", "shortage_followed", by="Ada", carton=carton, step=step, **more)


def test_what_is_done_without_later_is_no_longer_needed_from_an_open_request(ctx: service.Context) -> None:
    see(ctx, "01")
    service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    follow(ctx, "02", "done_without")
    (withdrawal,) = service.draft_request(ctx, "0417").withdrawals
    assert list(map(str, withdrawal.changes)) == [
        "No longer asked for: 1 × T-1 tray for Harbor, column 1, row 1 (carton did not arrive)",
    ]


def test_a_line_can_be_left_out_and_the_reason_is_kept(ctx: service.Context) -> None:
    see(ctx, "01")
    by_carton = {line.carton: line for line in service.draft_request(ctx, "0417").lines}
    choice = service.RequestChoice(frozenset({by_carton["02"].key}), {by_carton["03"].key: "the store has a spare"})
    request = service.issue_request(ctx, "0417", TO_STORE, by="Ada", choice=choice)
    assert [line.carton for line in request.lines] == ["02"]
    assert [(left.line.carton, left.reason, left.detail) for left in service.get_request(ctx, "0417", 1).left_out] == [
        ("03", LeftOutReason.CHOSEN, "the store has a spare")
    ]
    strange = service.RequestChoice(frozenset({"of another day"}), {})
    with pytest.raises(Conflict, match="has changed since it was shown"):
        service.issue_request(ctx, "0417", TO_STORE, by="Ada", choice=strange)


def test_what_is_added_to_an_open_request_leaves_the_numbers_of_its_lines(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    first = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    damage = {"carton": "02", "reason": "arrived_damaged", "usable": False}
    service.add_note(ctx, "S-1", "damage_noted", by="Ada", **damage)
    keys = frozenset(line.key for line in service.draft_request(ctx, "0417").lines)
    second = service.issue_request(ctx, "0417", TO_STORE, by="Ada", choice=service.RequestChoice(keys, {}, True))
    assert (second.number, second.revision) == (1, 2)
    before, after = dict(first.cartons), dict(second.cartons)
    assert {number: after[number] for number in before} == before
    assert set(after) > set(before)


def test_what_a_request_brings_settles_the_carton_that_it_replaces(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    request = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    waiting = {row.row.shipment: row for row in service.get_overview(ctx)}
    assert waiting["R-0417-001"].urgency is service.Urgency.AWAITED
    assert waiting["R-0417-001"].row.visit_date == date(2026, 3, 9)  # the visit that it is for, not the day it is due
    assert waiting["S-1"].urgency is service.Urgency.SHORT
    for carton, _ in request.cartons:
        service.add_note(ctx, request.reference, "carton_seen", by="Ada", carton=carton)
    after = {row.row.shipment: row for row in service.get_overview(ctx)}
    assert after["S-1"].urgency is service.Urgency.FOLLOWED
    assert after["S-1"].row.followed[0].replaced


def test_what_a_request_should_bring_is_received_like_any_shipment(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    request = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    view = service.get_shipment(ctx, request.reference)
    assert (view.row.store, view.row.expected) == ("0417", len(request.lines))
    assert view.manifest.dispatch_date is None
    assert (view.row.due, view.row.visit_date) == (date(2026, 3, 8), date(2026, 3, 9))
    for carton in view.manifest:
        service.add_note(ctx, request.reference, "carton_seen", by="Ada", carton=carton.carton)
    assert service.draft_request(ctx, "0417").lines == ()


def test_after_a_confirmed_request_the_next_one_has_a_new_number(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    first = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    confirm_with_shorts(ctx, first.reference)
    second = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    assert (second.number, second.revision) == (2, 1)


def test_a_request_leaves_as_paper_csv_and_json(ctx: service.Context) -> None:
    see(ctx, "01", "02")
    request = service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    assert service.make_request_pdf(ctx, "0417", 1).startswith(b"%PDF")
    assert request.reference in service.make_request_csv(ctx, "0417", 1)
    assert json.loads(service.make_request_json(ctx, "0417", 1))["number"] == 1
    with pytest.raises(NotFound, match="Store '0417' has no replacement request 7"):
        service.get_request(ctx, "0417", 7)


def test_a_store_that_lacks_nothing_gets_no_request(ctx: service.Context) -> None:
    see(ctx, "01", "02", "03")
    with pytest.raises(BadRequest):
        service.issue_request(ctx, "0417", TO_STORE, by="Ada")
    assert service.list_requests(ctx, "0417") == ()


def test_contents_count_as_the_manifest_says_until_somebody_counts(ctx: service.Context) -> None:
    see(ctx, "02")
    before = service.get_contents(ctx, "S-1")
    assert len(before.section.settable) == 1
    service.add_note(ctx, "S-1", "content_counted", by="Ada", carton="02", item="T-1", qty=0)
    after = service.get_contents(ctx, "S-1")
    assert after.section.settable == ()
    assert any(line.counted and line.here == 0 for line in after.lines)


def test_the_parts_list_is_kept_and_used(ctx: service.Context) -> None:
    changed = service.get_parts_list(ctx).changed(CartonKind.TRAY, (Part("base"),))
    service.save_parts_list(ctx, changed)
    assert service.get_parts_list(ctx) == changed
    assert {line.part for line in service.get_contents(ctx, "S-1").lines if line.carton == "02"} == {"base"}


def test_the_parts_list_is_edited_as_rows_and_the_usual_one_comes_back(ctx: service.Context) -> None:
    usual = service.get_parts_table(ctx)
    assert (usual.usual, usual.version) == (True, 0)
    service.save_parts_table(ctx, [("tray", "base", "1", "no"), ("tray", "clear cover", "2", "no")], follows=0)
    table = service.get_parts_table(ctx)
    assert (table.rows[-1], table.usual, table.version) == (("tray", "clear cover", "2", "no"), False, 1)
    with pytest.raises(Conflict, match="Somebody else saved"):
        service.save_parts_table(ctx, usual.rows, follows=0)
    with pytest.raises(BadRequest, match="Row 1: quantity '0' is not a whole number"):
        service.save_parts_table(ctx, [("tray", "base", "0", "no")], follows=1)
    with pytest.raises(BadRequest, match="301 parts"):
        service.save_parts_table(ctx, [("tray", "base", "1", "no")] * 301, follows=1)
    assert service.get_parts_table(ctx) == table
    service.reset_parts_list(ctx, follows=1)
    assert service.get_parts_table(ctx) == service.PartsTable(usual.rows, True, 2)


def test_bay_sheets_name_every_position_of_the_bay(ctx: service.Context) -> None:
    see(ctx, "02")
    (sheet,) = service.list_bay_sheets(ctx, "S-1").sheets
    assert (sheet.bay, len(sheet.rows)) == ("B1", 2)
    assert service.make_bay_sheets_pdf(ctx, "S-1").startswith(b"%PDF")


def test_an_over_says_that_its_own_store_is_short_of_it(ctx: service.Context) -> None:
    service.add_scan(ctx, "S-1", "]C100395200000000000036", place=Place.DOCK, by="", source=Source.SCANNER)
    (over,) = service.get_shipment(ctx, "S-1").reconciliation.over
    assert "which is short of it" in in_words(over)
