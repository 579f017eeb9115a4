"""Counting contents, bay sheets, and the one replacement request, over HTTP."""

import csv
import io
import json

from receiving import service
from receiving.model import Place, Source
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, picture, sscc

ADDRESS = "/s/S-2041~2FA"
DRAFT = "/stores/0417/request"
DELIVERY = {
    "deliver_to": "Store 0417, 1 Pier Road",
    "contact": "Bo Lind",
    "phone": "555-0100",
    "needed_by": "2026-03-12",
}


def scan(ctx: service.Context, *serials: int) -> None:
    for serial in serials:
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)


def test_a_carton_is_counted_in_one_tap(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 9)
    page = read(browser.get(f"{ADDRESS}/contents").text)
    assert "To count 2" in page.text
    browser.post(f"{ADDRESS}/notes", {"kind": "content_counted", "carton": "03"})
    text = read(browser.get(f"{ADDRESS}/contents").text).text
    assert "To count 1" in text
    assert "all there" in text


def test_what_waits_and_what_must_be_ordered_is_named(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, *range(1, 11), 12, 13, 20, 21, 22)
    text = read(browser.get(f"{ADDRESS}/contents").text).text
    view = service.get_contents(ctx, SHIPMENT)
    assert f"{len(view.section.settable)} of" in text
    assert "Moss & Fern, column 3, row 1" in text.split("Positions that wait")[1]


def test_a_bay_sheet_lists_its_positions_top_to_bottom_and_is_a_pdf_too(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 4)
    page = read(browser.get(f"{ADDRESS}/bay-sheets").text)
    assert [e.text.split(" ")[1] for e in page.all("h2") if "Bay" in e.text] == ["B1:", "B2:", "B3:"]
    assert len(page.all("tr")) == 3 + 18
    response = browser.get(f"{ADDRESS}/bay-sheets.pdf?paper=Letter")
    assert (response.mimetype, response.data[:5]) == ("application/pdf", b"%PDF-")


def test_everything_that_a_store_lacks_goes_into_one_request(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, *range(1, 11), 12, 20, 21, 22)
    note = {"kind": "damage_noted", "carton": "12", "reason": "arrived_damaged", "usable": "false", "item": "HEADER-H"}
    browser.post(f"{ADDRESS}/notes", note)
    text = read(browser.get(DRAFT).text).text
    for words in ("HEADER-H", "TRAY-M31", "GRAPHIC-M", "Carton did not arrive", "Arrived damaged"):
        assert words in text
    assert "One request and one delivery charge instead of 2" in text


def test_a_request_is_issued_once_revised_when_it_changes_and_received_like_a_shipment(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, *range(1, 11), 12, 20, 21, 22)
    first = browser.post(DRAFT, DELIVERY)
    again = browser.post(DRAFT, DELIVERY)
    assert first.headers["Location"] == again.headers["Location"] == "/stores/0417/requests/1"
    assert "revision 1" in read(browser.get("/stores/0417/requests/1").text).text
    scan(ctx, 13)
    draft = read(browser.get(DRAFT).text)
    assert "No longer asked for" in draft.text
    browser.post(DRAFT, DELIVERY)
    page = read(browser.get("/stores/0417/requests/1").text)
    assert "revision 2" in page.text
    assert browser.get("/s/R-0417-001").status_code == 200


def test_a_request_comes_as_pdf_csv_and_json(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, *range(1, 11))
    browser.post(DRAFT, DELIVERY)
    base = "/stores/0417/requests/1"
    assert browser.get(f"{base}.pdf").data[:5] == b"%PDF-"
    rows = list(csv.DictReader(io.StringIO(browser.get(f"{base}.csv").text)))
    issued = service.get_request(ctx, "0417", 1)
    assert len(rows) == len(issued.lines)
    assert json.loads(browser.get(f"{base}.json").data)["store"] == "0417"
    assert browser.get(f"{base}.xml").status_code == 404
    assert browser.get("/stores/0417/requests/9").status_code == 404


def test_a_request_without_a_contact_or_with_a_wrong_date_keeps_what_was_typed(browser: Browser) -> None:
    for fields in ({**DELIVERY, "contact": ""}, {**DELIVERY, "needed_by": "next week"}):
        response = browser.post(DRAFT, {**fields, "remarks": "Ring the bell."})
        page = read(response.text)
        assert response.status_code == 400
        assert page.all("input", name="phone")[0].attributes["value"] == "555-0100"
        assert page.all("textarea", name="remarks")[0].text == "Ring the bell."


def test_a_store_that_lacks_nothing_has_nothing_to_ask_for(browser: Browser) -> None:
    text = read(browser.get("/stores/9999/request").text).text
    assert "Nothing is lacking that is not resolved or asked for already." in text


def test_what_is_worn_on_the_fixture_goes_into_the_same_request(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, *range(1, 14), 20, 21, 22)
    fields = {"kind": "damage_noted", "reason": "existing_worn", "usable": "false", "item": "PRICE-RAIL", "qty": "2"}
    place = {"section": "Harbor Lane", "column": "2", "row": "1", "carton": "", "back": f"{ADDRESS}/contents"}
    page = read(browser.post(f"{ADDRESS}/notes", {**fields, **place}, follow_redirects=True).text)
    assert "Existing part worn: 2 pieces of PRICE-RAIL at column 2, row 1, not usable." in page.text
    text = read(browser.get(DRAFT).text).text
    assert "2 × PRICE-RAIL" in text
    assert "Worn on the fixture" in text
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert "PRICE-RAIL" not in read(browser.get(DRAFT).text).text


def test_a_damage_is_noted_with_its_photo(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 12)
    fields = {"kind": "damage_noted", "carton": "12", "reason": "arrived_damaged", "usable": "false"}
    upload = {**fields, "photo_file": (io.BytesIO(picture("#777")), "corner.jpg")}
    browser.post(f"{ADDRESS}/notes", upload, content_type="multipart/form-data")
    view = service.get_shipment(ctx, SHIPMENT)
    (row,) = view.photos
    assert view.notes[0].photo == row.photo
    page = read(browser.get(f"{ADDRESS}/cartons/12").text)
    assert page.all("a", href=f"{ADDRESS}/photos/{row.photo}")


def test_a_damage_whose_photo_cannot_be_used_is_not_half_noted(browser: Browser, ctx: service.Context) -> None:
    fields = {"kind": "damage_noted", "carton": "12", "reason": "arrived_damaged", "usable": "false"}
    upload = {**fields, "photo_file": (io.BytesIO(b"no photo"), "x.jpg")}
    assert browser.post(f"{ADDRESS}/notes", upload, content_type="multipart/form-data").status_code == 415
    assert service.get_shipment(ctx, SHIPMENT).notes == ()
