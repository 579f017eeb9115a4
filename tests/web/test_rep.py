"""The rep's pages, over HTTP, with the real service."""

from dataclasses import replace
from io import BytesIO

import pytest
from flask.testing import FlaskClient

from receiving import service
from receiving.model import PhotoReading, Place, Source, Symbol, UnreadRegion
from receiving.service import ingest
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, box, picture, pile_reading, sscc
from web.pages.photos import points_text

ADDRESS = "/s/S-2041~2FA"
ACTION = "8f14e45f-ceea-467f-a34f-9a2b1c3d4e5f"


def scan(ctx: service.Context, serial: int) -> service.ScanAnswer:
    return service.add_scan(
        ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.BACK_ROOM, by="Ada", source=Source.SCANNER
    )


def read_pile(ctx: service.Context, reader: PlannedReader, name: str = "pile.jpg") -> str:
    reader.readings[name] = pile_reading()
    row = service.add_photo(ctx, SHIPMENT, name, picture(), place=Place.DOCK, by="Ada")
    wait_until_read(ctx)
    return row.photo


def wait_until_read(ctx: service.Context) -> None:
    ctx.wait()
    assert all(row.status is not service.PhotoStatus.WAITING for row in service.get_shipment(ctx, SHIPMENT).photos)


def test_the_list_leads_to_a_shipment_whose_id_holds_a_slash(browser: Browser) -> None:
    page = read(browser.get("/").text)
    assert ADDRESS in {link.attributes["href"] for link in page.all("a")}
    assert browser.get(ADDRESS).status_code == 200


def test_the_count_stands_in_the_heading_and_in_the_title(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    page = read(browser.get(ADDRESS).text)
    assert page.all("h1")[0].text == "1 of 16 here"
    assert page.all("title")[0].text.startswith("1 of 16 here, store 0417")


def test_a_scan_is_answered_with_what_the_carton_is_and_where_it_goes(browser: Browser) -> None:
    response = browser.post(f"{ADDRESS}/scans", {"text": f"]C100{sscc(1)}", "place": "dock"}, follow_redirects=True)
    page = read(response.text)
    answer = next(e for e in page.all("div") if e.attributes.get("class") == "answer here")
    assert "Here · 01" in answer.text
    assert "Open this one first" in answer.text
    assert "bay B1" in " ".join(answer.text.split())


def test_a_scan_made_by_mistake_is_undone_from_its_answer(browser: Browser, ctx: service.Context) -> None:
    response = browser.post(f"{ADDRESS}/scans", {"text": "5012345678900"}, headers={"X-Action": ACTION})
    page = read(response.json["html"])
    fields = {e.attributes["name"]: e.attributes["value"] for e in page.all("input")}
    assert fields.pop("token") == browser.token
    browser.post(f"{ADDRESS}/notes", fields)
    assert service.get_shipment(ctx, SHIPMENT).reconciliation.over == ()


def test_the_same_scan_sent_twice_is_one_read(browser: Browser, ctx: service.Context) -> None:
    fields = {"text": f"]C100{sscc(3)}", "scan_id": ACTION}
    for _ in range(2):
        assert browser.post(f"{ADDRESS}/scans", fields).status_code == 303
    assert len(service.get_shipment(ctx, SHIPMENT).reads) == 1


def test_a_scan_that_waited_for_a_signal_keeps_who_and_where(browser: Browser, ctx: service.Context) -> None:
    browser.client.set_cookie("person", "Somebody%20else")
    browser.client.set_cookie("place", "dock")
    browser.post(f"{ADDRESS}/scans", {"text": f"]C100{sscc(3)}", "place": "overhead", "by": "Ada Ng"})
    (stored,) = service.get_shipment(ctx, SHIPMENT).reads
    assert (stored.raw.place, stored.raw.by) == (Place.OVERHEAD, "Ada Ng")


def test_an_empty_scan_says_what_to_do(browser: Browser) -> None:
    response = browser.post(f"{ADDRESS}/scans", {"text": "  "}, headers={"X-Part": "answer"})
    assert response.status_code == 400
    assert "Scan or type the label again." in read(response.text).text


def test_the_place_stays_chosen_and_overhead_warns(browser: Browser) -> None:
    browser.post("/who", {"person": "Ada", "back": ADDRESS})
    response = browser.post("/place", {"place": "overhead", "back": ADDRESS}, follow_redirects=True)
    page = read(response.text)
    assert [e.attributes["value"] for e in page.all("button", aria_pressed="true")] == ["overhead"]
    assert "ask store management to bring it down; do not climb" in page.text


def test_the_name_is_asked_once(browser: Browser) -> None:
    assert "Who is receiving?" in read(browser.get(ADDRESS).text).text
    browser.post("/who", {"person": "  Zoë   Ng "})
    page = read(browser.get(ADDRESS).text)
    assert "Who is receiving?" not in page.text
    assert page.all("input", name="by")[0].attributes["value"] == "Zoë Ng"


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"])
def test_a_form_leads_back_only_to_our_own_pages(browser: Browser, back: str) -> None:
    assert browser.post("/who", {"person": "Ada", "back": back}).headers["Location"] == "/"


def test_the_state_is_not_sent_again_until_something_is_stored(browser: Browser, ctx: service.Context) -> None:
    etag = browser.get(f"{ADDRESS}/state").headers["ETag"]
    assert browser.get(f"{ADDRESS}/state", headers={"If-None-Match": etag}).status_code == 304
    scan(ctx, 3)
    assert browser.get(f"{ADDRESS}/state", headers={"If-None-Match": etag}).status_code == 200


def test_what_follows_is_not_sent_again_until_something_is_stored(browser: Browser, ctx: service.Context) -> None:
    seen = {"If-None-Match": browser.get(f"{ADDRESS}/live").headers["ETag"]}
    assert browser.get(f"{ADDRESS}/live", headers=seen).status_code == 304
    scan(ctx, 3)
    changed = browser.get(f"{ADDRESS}/live", headers=seen)
    assert (changed.status_code, changed.headers["ETag"] == seen["If-None-Match"]) == (200, False)


def test_the_live_part_is_the_same_as_on_the_page(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    browser.post("/who", {"person": "Ada"})
    part = browser.get(f"{ADDRESS}/live").text
    assert part.strip() in browser.get(ADDRESS).text


def test_a_photo_comes_back_with_its_labels_outlined_and_listed(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    reader.readings["pile.jpg"] = pile_reading()
    response = browser.post(
        f"{ADDRESS}/photos", {"photos": (BytesIO(picture()), "pile.jpg")}, content_type="multipart/form-data"
    )
    assert response.headers["Location"] == f"{ADDRESS}#photos"
    wait_until_read(ctx)
    photo = service.get_shipment(ctx, SHIPMENT).photos[0].photo
    page = read(browser.get(f"{ADDRESS}/photos/{photo}").text)
    assert [e.text for e in page.all("text")] == ["03", "04", "05", "a"]
    assert len(page.all("polygon")) == 8
    assert "Here · 03" in page.text
    assert "Read with help, 97% sure" in page.text
    assert "Needs a closer photo" in page.text


def test_a_photo_is_served_upright_as_jpeg_for_good(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    photo = read_pile(ctx, reader)
    response = browser.get(f"{ADDRESS}/photos/{photo}/480.jpg")
    assert (response.mimetype, response.data[:2]) == ("image/jpeg", b"\xff\xd8")
    assert "immutable" in response.headers["Cache-Control"]
    assert browser.get(f"{ADDRESS}/photos/{photo}/481.jpg").status_code == 400


def test_a_photo_that_crashed_the_reader_is_kept_and_named(browser: Browser, ctx: service.Context) -> None:
    service.add_photo(ctx, SHIPMENT, "odd.jpg", picture("#333"), place=Place.DOCK, by="Ada")
    wait_until_read(ctx)
    text = read(browser.get(ADDRESS).text).text
    assert "The photo 'odd.jpg' made the reader crash. Take it again." in text


def test_of_several_uploads_one_that_is_no_photo_does_not_lose_the_others(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    reader.readings["pile.jpg"] = pile_reading()
    files = [(BytesIO(picture()), "pile.jpg"), (BytesIO(b"not a photo"), "notes.jpg")]
    response = browser.post(f"{ADDRESS}/photos", {"photos": files}, content_type="multipart/form-data")
    text = read(response.text).text
    assert response.status_code == 422
    assert "1 of 2 are kept and being read." in text
    assert "notes.jpg" in text
    assert [row.name for row in service.get_shipment(ctx, SHIPMENT).photos] == ["pile.jpg"]


def test_a_guided_read_says_so_and_can_be_undone_and_counted_again(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    photo = read_pile(ctx, reader)
    page = read(browser.get(ADDRESS).text)
    assert "Read with help: carton 05" in page.text
    read_id = page.all("input", name="read_id")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "read_rejected", "read_id": read_id, "reason": "no"})
    assert "05" in [f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.short]

    page = read(browser.get(f"{ADDRESS}/photos/{photo}").text)
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert "05" in [f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.received]


def test_the_codes_of_one_label_are_one_entry_and_are_left_out_together(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    reading = pile_reading()
    link = replace(
        reading.symbols[0], raw=f"https://id.gs1.org/00/{sscc(3)}", symbology="]Q1", quad_px=box(420, 120, 80, 80)
    )
    reader.readings["pile.jpg"] = replace(reading, symbols=(*reading.symbols, link))
    photo = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada").photo
    wait_until_read(ctx)
    address = f"{ADDRESS}/photos/{photo}"
    page = read(browser.get(address).text)
    assert "Labels on this photo 3" in page.text
    assert [e.text for e in page.all("text")] == ["03", "04", "05", "a"]
    form = next(
        e for e in page.all("form") if any(i.attributes.get("aria-label", "").endswith("label 1") for i in e.inside)
    )
    ids = [i.attributes["value"] for i in form.inside if i.attributes.get("name") == "read_id"]
    assert len(ids) == 2
    browser.post(f"{ADDRESS}/notes", {"kind": "read_rejected", "read_id": ids, "reason": "wrong"})
    assert "03" in [f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.short]
    page = read(browser.get(address).text)
    notes = [e.attributes["value"] for e in page.all("input", name="withdrawn")]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": notes})
    assert "03" in [f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.received]


def test_a_guided_read_that_a_person_confirmed_is_asked_no_more(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    read_pile(ctx, reader)
    page = read(browser.get(ADDRESS).text)
    read_id = page.all("input", name="read_id")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "read_assigned", "read_id": read_id, "carton": "05"})
    assert "Read with help: carton 05" not in read(browser.get(ADDRESS).text).text


def ask(browser: Browser) -> str:
    """A torn label that fits two cartons; gives the question's address."""
    response = browser.post(f"{ADDRESS}/scans", {"text": "COLUMN 2 ROW 1", "source": "typed"}, follow_redirects=True)
    links = [e.attributes["href"] for e in read(response.text).all("a") if "/questions/" in e.attributes["href"]]
    return links[0]


def test_a_question_offers_its_cartons_and_keeps_the_answer(browser: Browser, ctx: service.Context) -> None:
    address = ask(browser)
    page = read(browser.get(address).text)
    assert [e.attributes["value"] for e in page.all("button", name="carton")] == ["04", "10", "22", ""]
    response = browser.post(address, {"carton": "10"}, follow_redirects=True)
    assert "Here · 10" in read(response.text).text
    assert browser.get(address).status_code == 409


def test_none_of_these_is_an_answer_too(browser: Browser, ctx: service.Context) -> None:
    address = ask(browser)
    browser.post(address, {"carton": ""})
    found = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert (found.questions, found.received) == ((), ())


def test_the_section_is_drawn_with_words_for_every_place(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    page = read(browser.get(ADDRESS).text)
    assert [e.text.strip() for e in page.all("th", scope="colgroup")] == ["Bay B1", "Bay B2", "Bay B3"]
    cells = [" ".join(e.text.split()) for e in page.all("td") if "carton" in e.text]
    assert len(cells) == 18
    assert any("1 of 2 here" in cell and "carton 12 header missing" in cell for cell in cells)
    assert any(cell.endswith("carton 11 tray missing") and "missing" in cell.split(" carton")[0] for cell in cells)


def test_an_outer_box_is_opened_in_one_tap(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 20)
    assert "Inside, not seen 2" in read(browser.get(ADDRESS).text).text
    fields = {"kind": "outer_opened", "carton": "20", "all_inside": "true"}
    response = browser.post(f"{ADDRESS}/notes", {**fields, "back": f"{ADDRESS}/cartons/20"}, follow_redirects=True)
    assert "Opened; everything is inside." in read(response.text).text
    assert {"20", "21", "22"} <= {f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.received}


def test_damage_is_noted_shown_and_undone(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 12)
    fields = {"kind": "damage_noted", "carton": "12", "reason": "arrived_damaged", "usable": "false", "qty": "1"}
    browser.post(f"{ADDRESS}/notes", {**fields, "item": "HEADER-H", "remark": "corner crushed"})
    page = read(browser.get(f"{ADDRESS}/cartons/12").text)
    assert "Arrived damaged: 1 piece of HEADER-H, not usable (corner crushed)" in page.text
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert service.get_shipment(ctx, SHIPMENT).reconciliation.cartons[11].damage == ()


def test_a_photo_of_damage_is_shown_with_it_on_the_cartons_page(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 12)
    fields = {"kind": "damage_noted", "carton": "12", "reason": "arrived_damaged", "usable": "false", "qty": "1"}
    browser.post(f"{ADDRESS}/notes", {**fields, "photo_file": (BytesIO(picture()), "hurt.jpg")})
    photo = service.get_shipment(ctx, SHIPMENT).reconciliation.cartons[11].damage[0].photo
    damage = read(browser.get(f"{ADDRESS}/cartons/12").text).all("section", id="damage")[0]
    (image,) = (element for element in damage.inside if element.name == "img")
    assert image.attributes["alt"] == "Photo of the damage"
    assert f"/photos/{photo}/" in image.attributes["src"]


@pytest.mark.parametrize(("qty", "tone"), [("4", "missing"), ("6", "here"), ("7", "extra")])
def test_a_count_says_whether_it_is_less_as_many_or_more(
    browser: Browser, ctx: service.Context, qty: str, tone: str
) -> None:
    scan(ctx, 13)
    count = {"kind": "content_counted", "carton": "13", "item": "GRAPHIC-M", "qty": qty, "section": "Moss & Fern"}
    browser.post(f"{ADDRESS}/notes", count)
    contents = read(browser.get(f"{ADDRESS}/cartons/13").text).all("section", id="contents")[0]
    classes = [element.attributes.get("class", "") for element in contents.inside]
    assert [name for name in classes if name.startswith("badge")] == [f"badge {tone}"]


def test_contents_are_counted_by_number_and_all_at_once(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 13)
    count = {"kind": "content_counted", "carton": "13", "item": "GRAPHIC-M", "qty": "4", "section": "Moss & Fern"}
    browser.post(f"{ADDRESS}/notes", count)
    page = read(browser.get(f"{ADDRESS}/cartons/13").text)
    assert "4 found" in page.text
    browser.post(f"{ADDRESS}/notes", {"kind": "content_counted", "carton": "13"})
    assert "All there" in read(browser.get(f"{ADDRESS}/cartons/13").text).text


def test_a_carton_taken_to_its_bay_is_marked_in_the_plan(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    browser.post(f"{ADDRESS}/notes", {"kind": "carton_moved", "carton": "03", "bay": "B1"})
    page = read(browser.get(ADDRESS).text)
    assert "Taken to bay B1." in read(browser.get(f"{ADDRESS}/cartons/03").text).text
    assert page.all("h2")


def test_a_note_that_does_not_exist_is_refused(browser: Browser) -> None:
    response = browser.post(f"{ADDRESS}/notes", {"kind": "carton_eaten", "carton": "03"})
    assert response.status_code == 400
    assert "There is no note of the kind 'carton_eaten'." in read(response.text).text


@pytest.mark.parametrize("name", ["shipment", "ctx", "kind_of", "by_whom"])
def test_a_region_with_a_field_that_no_note_has_is_refused(browser: Browser, name: str) -> None:
    fields = {"kind": "region_settled", "photo": "ab" * 32, "region": "1", "as": "other", name: "x"}
    response = browser.post(f"{ADDRESS}/notes", fields)
    assert response.status_code == 400
    assert f"A region_settled note has no field '{name}'." in read(response.text).text


def test_a_revision_says_what_it_changed(browser: Browser, ctx: service.Context) -> None:
    from tests.web.scenario import MANIFEST

    service.import_manifest(ctx, "second.csv", MANIFEST.replace(",24.5,", ",25.5,").encode())
    text = read(browser.get(ADDRESS).text).text
    assert "Manifest revision 2" in text
    assert "25.5" in text


def test_an_unknown_shipment_and_an_unknown_carton_are_not_found(client: FlaskClient) -> None:
    for path in ("/s/S-9", f"{ADDRESS}/cartons/99", f"{ADDRESS}/photos/{'0' * 64}", "/nowhere"):
        response = client.get(path)
        assert response.status_code == 404, path
        assert read(response.text).all("a", href="/")


def test_a_blurred_label_between_two_cartons_is_asked_beside_their_photos(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    known, blurred = box(640, 180), box(240, 520)
    guess = Symbol(f"00{sscc(5)}", "]C1", blurred, "guided", 2, True, 0.55, (f"00{sscc(6)}",))
    reader.readings["known.jpg"] = PhotoReading(1200, 900, (Symbol(f"00{sscc(6)}", "]C1", known, "zxing", 1),))
    reader.readings["blurred.jpg"] = PhotoReading(1200, 900, (guess,))
    for name, colour in (("known.jpg", "grey"), ("blurred.jpg", "tan")):
        service.add_photo(ctx, SHIPMENT, name, picture(colour), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    link = next(e for e in read(browser.get(ADDRESS).text).all("a") if "/questions/" in e.attributes["href"])
    page = read(browser.get(link.attributes["href"]).text)
    assert [e.attributes["value"] for e in page.all("button", name="carton")] == ["05", "06", ""]
    outlines = [e.attributes["points"] for e in page.all("polygon")]
    assert outlines == [points_text(blurred), points_text(blurred), points_text(known)]
    assert f"00{sscc(5)}" not in page.text
    browser.post(link.attributes["href"], {"carton": ""})
    found = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert (found.questions, [f.carton.carton for f in found.received]) == ((), ["06"])


def test_print_around_an_unread_label_is_offered_and_taken_by_a_tap(
    browser: Browser, ctx: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ingest, "ocr_available", lambda: True)
    reader.readings["torn.png"] = PhotoReading(1200, 900, (), unread=(UnreadRegion(box(120, 120)),))
    reader.print = (f"(00) {sscc(3)}",)
    row = service.add_photo(ctx, SHIPMENT, "torn.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    with_link = browser.get(f"{ADDRESS}/photos/{row.photo}")
    assert "Read the printed text around them" in with_link.text
    page = browser.get(f"{ADDRESS}/photos/{row.photo}/print")
    assert f"The label says {sscc(3)}" in page.text
    browser.post(f"{ADDRESS}/scans", {"text": sscc(3), "source": "typed"})
    assert service.get_shipment(ctx, SHIPMENT).row.here == 1


def test_without_the_libraries_for_print_it_is_not_offered(
    browser: Browser, ctx: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ingest, "ocr_available", lambda: False)
    reader.readings["torn.png"] = PhotoReading(1200, 900, (), unread=(UnreadRegion(box(120, 120)),))
    row = service.add_photo(ctx, SHIPMENT, "torn.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    assert "Read the print" not in browser.get(f"{ADDRESS}/photos/{row.photo}").text


def test_a_label_whose_data_is_wrong_says_so_over_all_its_codes(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    content_without_count = Symbol("0200614141000012", "]C1", box(120, 120), "zxing", label=1)
    reader.readings["odd.png"] = PhotoReading(1200, 900, (content_without_count,))
    row = service.add_photo(ctx, SHIPMENT, "odd.png", picture(), place=Place.DOCK, by="Ada")
    wait_until_read(ctx)
    assert service.get_photo(ctx, SHIPMENT, row.photo).warnings
    warning = str(service.get_photo(ctx, SHIPMENT, row.photo).warnings[0][1])
    assert "37" in warning
    assert warning[1:] in read(browser.get(f"{ADDRESS}/photos/{row.photo}").text).text


@pytest.mark.parametrize("noted_at", ["2026-03-02T09:00:00", "9999-12-31T23:59:59-12:00", "0001-01-01T00:00:00+14:00"])
def test_nobody_may_say_when_a_note_was_made_and_no_page_breaks(browser: Browser, noted_at: str) -> None:
    fields = {"kind": "carton_seen", "carton": "01", "noted_at": noted_at}
    assert browser.post(f"{ADDRESS}/notes", fields).status_code == 400
    assert [browser.get(page).status_code for page in ("/", "/overview", ADDRESS)] == [200, 200, 200]


def test_an_unread_region_is_told_to_be_a_carton_or_no_label_and_that_is_undone(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    photo = read_pile(ctx, reader)
    address = f"{ADDRESS}/photos/{photo}"
    assert len(service.get_shipment(ctx, SHIPMENT).reconciliation.unreadable) == 1
    region = {"kind": "region_settled", "photo": photo, "region": "1", "back": address}
    assert browser.post(f"{ADDRESS}/notes", {**region, "as": "carton"}).status_code == 400
    browser.post(f"{ADDRESS}/notes", {**region, "as": "carton", "carton": "09"})
    found = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert found.unreadable == ()
    assert "09" in [f.carton.carton for f in found.received]
    page = read(browser.get(address).text)
    assert "The label of carton 09" in page.text
    withdrawn = [e.attributes["value"] for e in page.all("input", name="withdrawn")]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": withdrawn})
    found = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert len(found.unreadable) == 1
    assert "09" not in [f.carton.carton for f in found.received]
    browser.post(f"{ADDRESS}/notes", {**region, "as": "none"})
    assert service.get_shipment(ctx, SHIPMENT).reconciliation.unreadable == ()
    assert "No carton label" in read(browser.get(address).text).text


def test_a_shipment_is_found_by_any_of_its_cartons_and_the_last_one_is_on_top(browser: Browser) -> None:
    response = browser.get("/find", query_string={"code": f"]C100{sscc(103)}"})
    assert response.headers["Location"] == "/s/S-2055"
    assert "My last one" not in read(browser.get("/").text).text
    browser.get(ADDRESS)
    assert "My last one: store 0417, 0 of 16 here" in read(browser.get("/").text).text
    unknown = browser.get("/find", query_string={"code": sscc(999)})
    assert unknown.status_code == 404
    assert "Scan another carton" in read(unknown.text).text


def test_what_is_missing_is_asked_of_store_management_until_it_was_looked_for_overhead(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, 3)
    text = read(browser.get(ADDRESS).text).text
    assert "Nothing was seen yet in: dock, overhead, sales floor." in text
    assert "Request for store management: overhead storage" in text
    assert "Nobody else climbs or stands below." in text
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(4)}", place=Place.OVERHEAD, by="Ada", source=Source.SCANNER)
    text = read(browser.get(ADDRESS).text).text
    assert "Nothing was seen yet in: dock, sales floor." in text
    assert "Request for store management" in text  # one carton was there; the others were not looked for
    for finding in service.get_shipment(ctx, SHIPMENT).reconciliation.short:
        fields = {"carton": finding.carton.carton, "place": "overhead"}
        service.add_note(ctx, SHIPMENT, "place_searched", by="Ada", **fields)
    assert "Request for store management" not in read(browser.get(ADDRESS).text).text
