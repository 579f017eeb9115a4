"""The search for a missing carton: where it was looked for, who saw it last, and when it is declared short."""

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Place, Source
from tests.web.conftest import Browser
from tests.web.scenario import SHIPMENT, sscc

ADDRESS = "/s/S-2041~2FA"
PLACES = ("dock", "back_room", "overhead", "sales_floor")


def scan(ctx: service.Context, serial: int, place: Place = Place.DOCK, by: str = "Bo") -> str:
    given = service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=place, by=by, source=Source.SCANNER)
    return given.read_id


def search(ctx: service.Context, carton: str, *places: str) -> None:
    for place in places:
        service.add_note(ctx, SHIPMENT, "place_searched", by="Ada", carton=carton, place=place)


def test_a_missing_carton_is_looked_for_place_by_place_and_then_declared_short(browser: Browser) -> None:
    page = browser.get(f"{ADDRESS}/cartons/04").text
    assert "Nobody has seen it yet." in page
    assert page.count("Nobody looked here yet.") == 4
    assert "Store management looks there; do not climb." in page
    for place in PLACES:
        browser.post(f"{ADDRESS}/notes", {"kind": "place_searched", "carton": "04", "place": place})
    page = browser.get(f"{ADDRESS}/cartons/04").text
    assert "Nobody looked here yet." not in page
    assert "It was looked for everywhere." in page
    browser.post(f"{ADDRESS}/notes", {"kind": "short_declared", "carton": "04"})
    page = browser.get(f"{ADDRESS}/cartons/04").text
    assert "Declared short by" in page
    assert "Declared short, after it was looked for everywhere." in page
    assert "Declared short" in browser.get(ADDRESS).text


def test_it_is_not_declared_short_before_the_search_without_a_reason(browser: Browser, ctx: service.Context) -> None:
    search(ctx, "04", "dock", "back_room")
    for reason in ("", "   "):
        with pytest.raises(BadRequest, match=r"not looked for everywhere: .*overhead.*, .*floor") as fault:
            service.add_note(ctx, SHIPMENT, "short_declared", by="Ada", carton="04", reason=reason)
        assert "give the reason" in str(fault.value.next_step)
    answer = browser.post(f"{ADDRESS}/notes", {"kind": "short_declared", "carton": "04", "reason": ""})
    assert answer.status_code == 400
    browser.post(f"{ADDRESS}/notes", {"kind": "short_declared", "carton": "04", "reason": "not on the van, he says"})
    assert "not on the van, he says" in browser.get(f"{ADDRESS}/cartons/04").text


def test_a_carton_that_is_here_is_neither_looked_for_nor_declared_short(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 4)
    for kind, fields in (("place_searched", {"place": "dock"}), ("short_declared", {"reason": "lost"})):
        with pytest.raises(BadRequest, match="Carton 04 is not missing"):
            service.add_note(ctx, SHIPMENT, kind, by="Ada", carton="04", **fields)
    assert "Where is it?" not in browser.get(f"{ADDRESS}/cartons/04").text


def test_who_saw_it_last_is_told_also_after_that_was_taken_back(browser: Browser, ctx: service.Context) -> None:
    read = scan(ctx, 4, Place.BACK_ROOM, "Bo")
    service.add_note(ctx, SHIPMENT, "read_assigned", by="Ada", read_id=read, carton="04")
    service.add_note(ctx, SHIPMENT, "read_rejected", by="Ada", read_id=read, reason="scanned by mistake")
    assert "It was seen last by Bo, back room" in browser.get(f"{ADDRESS}/cartons/04").text


def test_a_search_that_is_taken_back_is_open_again(ctx: service.Context) -> None:
    search(ctx, "04", *PLACES)
    note = service.get_shipment(ctx, SHIPMENT).notes[-1]
    service.add_note(ctx, SHIPMENT, "note_withdrawn", by="Ada", withdrawn=note.note_id)
    with pytest.raises(BadRequest, match=r"everywhere: [a-z ]*floor"):
        service.add_note(ctx, SHIPMENT, "short_declared", by="Ada", carton="04")


def test_store_management_is_asked_for_overhead_storage_while_nobody_looked_there(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, 3)
    request = 'id="overhead-request"'
    assert request in browser.get(ADDRESS).text
    missing = [finding.carton.carton for finding in service.get_shipment(ctx, SHIPMENT).reconciliation.short]
    for carton in missing[1:]:
        search(ctx, carton, "overhead")
    page = browser.get(ADDRESS).text
    sheet = page[page.index(request) : page.index("</details>", page.index(request))]
    assert f"<b>{missing[0]}</b>" in sheet
    assert f"<b>{missing[1]}</b>" not in sheet
    assert "Nobody else climbs or stands below" in sheet
    search(ctx, missing[0], "overhead")
    assert request not in browser.get(ADDRESS).text


def test_all_there_is_not_the_first_thing_to_tap_on_a_missing_carton(browser: Browser, ctx: service.Context) -> None:
    assert '<button class="button">All there</button>' in browser.get(f"{ADDRESS}/cartons/04").text
    scan(ctx, 4)
    assert '<button class="button main">All there</button>' in browser.get(f"{ADDRESS}/cartons/04").text


def test_a_place_is_searched_for_every_missing_carton_with_one_tap_at_the_hand_over(
    browser: Browser, ctx: service.Context
) -> None:
    page = browser.get(f"{ADDRESS}/hand-over").text
    assert "Sales floor: none of 16 there" in page
    assert "Not yet: dock, back room, overhead and sales floor" in page
    missing = [finding.carton.carton for finding in service.get_shipment(ctx, SHIPMENT).reconciliation.short]
    scan(ctx, 4)
    browser.post(f"{ADDRESS}/notes", {"kind": "place_searched", "place": "dock", "carton": missing})
    page = browser.get(f"{ADDRESS}/hand-over").text
    assert "Dock: none" not in page
    assert "Not yet: back room, overhead and sales floor" in page
    answer = browser.post(f"{ADDRESS}/notes", {"kind": "place_searched", "place": "moon", "carton": missing})
    assert answer.status_code == 400


def test_a_carton_says_in_few_words_what_must_not_be_done_and_all_of_it_behind_a_tap(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, 20, Place.OVERHEAD)
    page = browser.get(f"{ADDRESS}/cartons/20").text
    brief, _, whole = page.partition('<details class="care-whole">')[2].partition("</summary>")
    assert "Overhead: do not climb; 31 kg (68.3 lb): not by hand</span>" in brief
    assert whole.startswith(
        "Overhead: ask store management to bring it down, do not climb; "
        "31 kg (68.3 lb): not by hand, ask store management for a lifting aid.</details>"
    )
    scan(ctx, 12)
    assert "24.5 kg (54 lb): not alone</span></div>" in browser.get(f"{ADDRESS}/cartons/12").text
