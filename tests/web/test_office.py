"""The office's lists: label patterns, store layouts, the kit; nothing typed is lost, nothing saved unseen."""

import io
from html import unescape

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.test import TestResponse

from receiving import service
from receiving.model import CartonKind
from receiving.model.contents import Part
from receiving.service import Settings, Units
from tests.web.conftest import Browser
from tests.web.page_text import Page, read
from tests.web.scenario import LAYOUT, SHIPMENT

PATTERN = """\
[[pattern]]
name = "bay sticker"
regex = 'PLACE (?P<column>\\d+)-(?P<row>\\d+)'
anywhere = true
"""
KIT = "item,section,column,row,description\nTRAY-H11,Harbor Lane,1,1,tray\nTRAY-H21,Harbor Lane,2,1,tray\n"


def text_in(response: TestResponse) -> str:
    """What stands in the editor."""
    (area,) = [element for element in read(response.text).all("textarea") if element.attributes["id"] == "text"]
    return area.text.removeprefix("\n")


def send(browser: Browser, path: str, do: str, text: str, follows: int = 0, **more: object) -> TestResponse:
    return browser.post(path, {"do": do, "text": text.replace("\n", "\r\n"), "follows": str(follows), **more})


def upload(browser: Browser, path: str, name: str, data: bytes, follows: int) -> TestResponse:
    fields = {"do": "upload", "follows": str(follows), "file": (io.BytesIO(data), name)}
    return browser.post(path, fields, content_type="multipart/form-data")


def faults(page: Page) -> list[str]:
    return [" ".join(element.text.split()) for element in page.all("li") if element.text.strip().startswith("Line ")]


def test_the_office_leads_to_every_list_and_to_stores_without_a_layout_first(browser: Browser) -> None:
    page = read(browser.get("/office").text)
    assert [b.text for b in page.all("a", class_="button small")] == ["Layout of Store 0422", "Layout of Store 0417"]
    assert "1 store without a layout" in page.text
    for link in {e.attributes["href"].split("#")[0] for e in page.all("a")} - {""}:
        assert browser.get(link).status_code == 200, link


def test_thousands_of_stores_are_paged_and_found(browser: Browser, ctx: service.Context) -> None:
    rows = [f"T-{n},9{n:03d},01,tray" for n in range(120)]
    service.import_manifest(ctx, "m.csv", "\n".join(["shipment,store,carton,kind", *rows]).encode())
    first = read(browser.get("/office").text)
    assert len(first.all("a", class_="button small")) == 50
    (following,) = [e.attributes["href"] for e in first.all("a") if e.attributes.get("rel") == "next"]
    assert "Store 9050" in read(browser.get(f"/office{following.partition('#')[0]}").text).text
    found = read(browser.get("/office?q=T-77").text)
    assert [e.text for e in found.all("a", class_="button small")] == ["Layout of Store 9077"]


def test_the_shipped_patterns_stand_in_the_editor_unchanged(browser: Browser, ctx: service.Context) -> None:
    response = browser.get("/office/patterns")
    assert unescape(text_in(response)) == service.get_text(ctx, service.PATTERNS).text
    assert "The built-in patterns are in use." in read(response.text).text


def test_a_pattern_is_tried_on_an_example_before_it_is_saved(browser: Browser, ctx: service.Context) -> None:
    two = PATTERN + PATTERN.replace("bay sticker", "shelf").replace("PLACE", "SHELF")
    page = read(send(browser, "/office/patterns", "try", two, example="PLACE 3-2\r\nkeep dry").text)
    facts = {term.text: value.text for term, value in zip(page.all("dt"), page.all("dd"), strict=True)}
    assert facts["Place"] == "column 3, row 2"
    assert "What each pattern took bay sticker column 3 row 2" in page.text
    assert "1 pattern did not match shelf" in page.text
    assert "Read by “bay sticker”." in page.text
    assert service.get_text(ctx, service.PATTERNS).shipped


def test_what_is_tried_comes_back_as_it_was_typed(browser: Browser) -> None:
    example = "PLACE 3-2\nkeep <dry> & cool"
    response = send(browser, "/office/patterns", "try", PATTERN, example=example.replace("\n", "\r\n"))
    (pasted,) = [e for e in read(response.text).all("textarea") if e.attributes["id"] == "example"]
    assert (text_in(response), pasted.text.removeprefix("\n")) == (PATTERN, example)


def test_a_gs1_label_is_understood_without_a_pattern(browser: Browser) -> None:
    page = read(send(browser, "/office/patterns", "try", PATTERN, example="]C100395200000000000012").text)
    assert "Understood without patterns" in page.text
    assert "395200000000000012" in {value.text for value in page.all("dd")}


def test_a_text_that_says_nothing_is_called_so(browser: Browser) -> None:
    page = read(send(browser, "/office/patterns", "try", PATTERN, example="").text)
    assert "Nothing on this label tells which carton it is." in page.text


def test_patterns_are_saved_and_reset(browser: Browser, ctx: service.Context) -> None:
    response = send(browser, "/office/patterns", "save", PATTERN)
    assert response.headers["Location"] == "/office/patterns?done=saved"
    assert service.get_text(ctx, service.PATTERNS).text == PATTERN
    assert "Saved. It is in use from now on." in read(browser.get(response.headers["Location"]).text).text
    send(browser, "/office/patterns", "reset", "", follows=1)
    assert service.get_text(ctx, service.PATTERNS).shipped


def test_faults_stand_beside_the_text_that_was_typed(browser: Browser, ctx: service.Context) -> None:
    wrong = PATTERN.replace("(?P<row>", "(?P<shelf>") + 'colour = "red"\n'
    response = send(browser, "/office/patterns", "save", wrong)
    page = read(response.text)
    assert response.status_code == 422
    assert text_in(response) == wrong
    assert "2 faults; nothing was saved." in page.text
    assert faults(page)[0].startswith("Line 5 'colour' is not known")
    assert faults(page)[1].startswith("Line 3 The group 'shelf' is not known")
    assert faults(page)[1].endswith("regex = 'PLACE (?P<column>\\d+)-(?P<shelf>\\d+)'")
    assert service.get_text(ctx, service.PATTERNS).shipped


def test_who_saves_second_keeps_the_typed_text_and_is_told(browser: Browser, ctx: service.Context) -> None:
    service.save_text(ctx, service.PATTERNS, "other", PATTERN, follows=0)
    mine = PATTERN.replace("PLACE", "SPOT")
    response = send(browser, "/office/patterns", "save", mine, follows=0)
    assert response.status_code == 409
    assert "Somebody else saved this while you were editing" in read(response.text).text
    assert text_in(response) == mine
    (follows, *_) = {e.attributes["value"] for e in read(response.text).all("input", name="follows")}
    send(browser, "/office/patterns", "save", mine, follows=int(follows))
    assert service.get_text(ctx, service.PATTERNS).text == mine


def test_the_patterns_in_use_are_downloaded_and_come_back_by_upload(browser: Browser, ctx: service.Context) -> None:
    service.save_text(ctx, service.PATTERNS, "mine", PATTERN, follows=0)
    response = browser.get("/office/patterns/label-patterns.toml")
    assert response.headers["Content-Disposition"] == 'attachment; filename="label-patterns.toml"'
    upload(browser, "/office/patterns", "back.toml", response.data.replace(b"PLACE", b"SPOT"), 1)
    assert service.get_text(ctx, service.PATTERNS).text == PATTERN.replace("PLACE", "SPOT")
    assert service.list_text_versions(ctx, service.PATTERNS)[-1].file_name == "back.toml"


def test_a_layout_is_drawn_bay_by_bay(browser: Browser) -> None:
    page = read(browser.get("/office/layouts/0417").text)
    assert [row.text for row in page.all("th", scope="row")] == ["B1", "B2", "B3"]
    assert [b.text for b in page.all("b") if b.text.isdigit()][:9] == [*"123456123"]
    assert "3 bays, 9 columns in 2 sections; 60 m from the back room." in page.text


def test_the_aisle_of_each_bay_is_shown_and_what_it_leaves_for_cartons(browser: Browser) -> None:
    assert "not measured" in read(browser.get("/office/layouts/0417").text).text
    stated = LAYOUT.replace("walk_m = 60", "walk_m = 60\nkeep_clear_cm = 112")
    stated = stated.replace("order = 1", "order = 1\naisle_width_cm = 150").replace(
        "order = 2", "order = 2\naisle_width_cm = 240\nkeep_clear_cm = 130"
    )
    words = read(send(browser, "/office/layouts/0417", "check", stated, follows=1).text).text
    assert "150 cm; 112 cm (44.1 in) stay free: cartons may take 38 cm of depth" in words
    assert "240 cm; 130 cm (51.2 in) stay free" in words


def test_what_a_layout_would_change_is_shown_before_it_is_saved(browser: Browser, ctx: service.Context) -> None:
    wider = LAYOUT.replace("[1, 2, 3]", "[1, 2]", 1)
    page = read(send(browser, "/office/layouts/0417", "check", wider, follows=1).text)
    assert [e.text for e in page.all("del")] == ["columns = [1, 2, 3]"]
    assert [e.text for e in page.all("ins")] == ["columns = [1, 2]"]
    assert "Bays of the text below, not saved yet" in page.text
    assert service.get_layout_text(ctx, "0417") == LAYOUT
    send(browser, "/office/layouts/0417", "save", wider, follows=1)
    assert service.get_layout_text(ctx, "0417") == wider


def test_an_earlier_version_of_a_layout_is_opened_and_saved_again(browser: Browser, ctx: service.Context) -> None:
    service.save_text(ctx, service.name_layout("0417"), "second", LAYOUT.replace("122", "91"), follows=1)
    response = browser.get("/office/layouts/0417?version=1")
    assert text_in(response) == LAYOUT
    assert "This is version 1. It is in use again only after you save it." in read(response.text).text
    send(browser, "/office/layouts/0417", "save", LAYOUT, follows=2)
    assert service.get_layout_text(ctx, "0417") == LAYOUT
    assert browser.get("/office/layouts/0417?version=9").status_code == 404


def test_a_store_without_a_layout_gets_a_proposal_to_correct(browser: Browser, ctx: service.Context) -> None:
    response = browser.get("/office/layouts/0422")
    page = read(response.text)
    assert "A proposal from the manifest" in page.text
    assert "This is not saved yet." in page.text
    assert [row.text for row in page.all("th", scope="row")] == ["B1", "B2"]
    assert service.get_value(ctx, service.name_layout("0422")) is None
    send(browser, "/office/layouts/0422", "save", text_in(response))
    assert [bay.columns for bay in service.get_value(ctx, service.name_layout("0422")).bays] == [(1, 2, 3), (4,)]


def test_a_store_that_nobody_ships_to_starts_with_an_empty_text(browser: Browser) -> None:
    assert browser.get("/office/layouts?store=0999").headers["Location"] == "/office/layouts/0999"
    assert text_in(browser.get("/office/layouts/0999")) == ""
    response = send(browser, "/office/layouts/0999", "save", "")
    assert response.status_code == 422
    assert browser.get("/office/layouts?store=+").status_code == 400


def test_a_faulty_layout_that_was_uploaded_stands_in_the_editor(browser: Browser, ctx: service.Context) -> None:
    broken = LAYOUT.replace("[4, 5, 6]", "[3, 4]").replace("walk_m", "walk_cm")
    response = upload(browser, "/office/layouts/0417", "new.toml", broken.encode(), 1)
    assert response.status_code == 422
    assert text_in(response) == broken
    assert [fault.split(" ")[1] for fault in faults(read(response.text))] == ["3", "20"]
    assert service.get_layout_text(ctx, "0417") == LAYOUT


def test_a_file_that_is_no_text_is_refused(browser: Browser) -> None:
    response = upload(browser, "/office/layouts/0417", "new.toml", b"id = \xff", 1)
    assert response.status_code == 400
    assert "Byte 6 of the file is not UTF-8; nothing was stored." in read(response.text).text


def test_the_layout_is_downloaded_as_it_was_stored(browser: Browser) -> None:
    assert browser.get("/office/layouts/0417/layout.toml").text == LAYOUT
    assert browser.get("/office/layouts/0422/layout.toml").status_code == 404


def test_a_kit_is_typed_shown_downloaded_and_taken_away(browser: Browser, ctx: service.Context) -> None:
    assert "No kit is loaded." in read(browser.get("/office/kit").text).text
    send(browser, "/office/kit", "save", KIT)
    page = read(browser.get("/office/kit").text)
    assert [row.text for row in page.all("th", scope="row")] == ["TRAY-H11", "TRAY-H21"]
    assert "2 items in 2 places of 1 section." in page.text
    assert browser.get("/office/kit/kit.csv").text == KIT
    assert send(browser, "/office/kit", "save", "", follows=1).headers["Location"] == "/office/kit?done=removed"
    assert service.get_value(ctx, service.KIT) is None


def test_a_kit_is_uploaded_and_its_faults_are_named(browser: Browser, ctx: service.Context) -> None:
    response = upload(browser, "/office/kit", "kit.csv", KIT.replace(",2,1,", ",2,,").encode(), 0)
    assert response.status_code == 422
    assert faults(read(response.text)) == [
        "Line 3 Column and row are given both or neither TRAY-H21,Harbor Lane,2,,tray"
    ]
    upload(browser, "/office/kit", "kit.csv", KIT.encode(), 0)
    assert len(service.get_value(ctx, service.KIT).places) == 2


def test_what_a_kit_would_change_is_shown_as_a_table_and_as_lines(browser: Browser, ctx: service.Context) -> None:
    service.save_text(ctx, service.KIT, "kit.csv", KIT, follows=0)
    page = read(send(browser, "/office/kit", "check", KIT.replace("TRAY-H21", "TRAY-H22"), follows=1).text)
    assert [row.text for row in page.all("th", scope="row")] == ["TRAY-H11", "TRAY-H22"]
    assert "Items of the text below, not saved yet" in page.text
    assert [e.text for e in page.all("del")] == ["TRAY-H21,Harbor Lane,2,1,tray"]
    assert len(service.list_text_versions(ctx, service.KIT)) == 1


@pytest.mark.parametrize("path", ["/office/patterns", "/office/layouts/0417", "/office/kit"])
@pytest.mark.parametrize("follows", ["", "-1", "x", "٣", "9" * 20])
def test_a_version_that_is_no_number_is_refused(browser: Browser, path: str, follows: str) -> None:
    texts = {"/office/patterns": PATTERN, "/office/layouts/0417": LAYOUT, "/office/kit": KIT}
    response = browser.post(path, {"do": "save", "text": texts[path], "follows": follows})
    assert response.status_code == 400
    assert "Reload the page and edit again." in read(response.text).text


def test_a_shipment_without_a_layout_leads_to_its_proposal(browser: Browser) -> None:
    page = read(browser.get("/s/S-2055/stage").text)
    assert "/office/layouts/0422" in {link.attributes["href"] for link in page.all("a")}
    assert SHIPMENT in read(browser.get("/office").text).text


SCRAPS = ("[[pattern]]", 'name = "a"', "regex = '(?P<column>A)(?P<row>B)'", "[store]", 'id = "0417"', "[[bay]]")
SCRAPS += ("columns = [1]", "item,section,column,row", "A,Harbor,1,1", "\r\n", "\x00", '"', "[", "\u2028", "9" * 400)
TEXTS = st.lists(st.sampled_from(SCRAPS) | st.text(st.characters(codec="utf-8"), max_size=30)).map("\n".join)


@given(
    text=TEXTS,
    example=st.text(st.characters(codec="utf-8"), max_size=60),
    do=st.sampled_from(["try", "check", "save"]),
)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_whatever_is_typed_is_answered_and_never_breaks_a_page(
    browser: Browser, ctx: service.Context, text: str, example: str, do: str
) -> None:
    versions = {
        "/office/patterns": service.list_text_versions(ctx, service.PATTERNS),
        "/office/layouts/0417": service.list_text_versions(ctx, service.name_layout("0417")),
        "/office/kit": service.list_text_versions(ctx, service.KIT),
    }
    for path, stored in versions.items():
        fields = {"do": do, "text": text, "example": example, "follows": str(len(stored))}
        response = browser.post(path, fields)
        assert response.status_code in {200, 303, 422}, (path, response.text)
        assert browser.get(path).status_code == 200, path


def test_the_kit_moves_cartons_of_the_ticked_shipments(browser: Browser, ctx: service.Context) -> None:
    moved = KIT.replace("Lane,1,1", "Lane,6,2").replace("TRAY-H21", "LIGHT-M2")
    service.save_text(ctx, service.KIT, "kit", moved, follows=0)
    page = read(browser.get("/office/kit/moves").text)
    assert [e.attributes["value"] for e in page.all("input", name="shipment")] == [SHIPMENT, "S-2055"]
    assert "now holds 1 ea of TRAY-H11 for Harbor Lane, column 6, row 2" in page.text
    (seen,) = [e.attributes["value"] for e in page.all("input", name="seen")]
    done = browser.post("/office/kit/moves", {"seen": seen, "shipment": [SHIPMENT]}, follow_redirects=True)
    assert "1 shipment changed; each has a new revision." in read(done.text).text
    assert (service.get_manifest(ctx, SHIPMENT)[1], service.get_manifest(ctx, "S-2055")[1]) == (2, 1)
    again = browser.post("/office/kit/moves", {"seen": seen, "shipment": ["S-2055"]})
    assert again.status_code == 409
    assert "Look at the changes again." in read(again.text).text


def test_a_kit_that_fits_moves_nothing(browser: Browser, ctx: service.Context) -> None:
    service.save_text(ctx, service.KIT, "kit", "item,section\nSOMETHING-ELSE,Moss\n", follows=0)
    page = read(browser.get("/office/kit/moves").text)
    assert "Every shipment has its items where the kit has them." in page.text
    assert page.all("form") == []


# --- the parts list: seen, edited row by row, refused with what was typed, and put back -----------------------------


PATH = "/office/parts"


def rows(*parts: tuple[str, str, str, str], follows: int = 0) -> dict[str, object]:
    kinds, names, quantities, uses = (list(column) for column in zip(*parts, strict=True))
    return {"kind": kinds, "part": names, "qty": quantities, "of_position": uses, "follows": follows, "do": "save"}


def typed(page: Page) -> list[str]:
    return [e.attributes["value"] for e in page.all("input", name="part")]


def test_the_usual_list_stands_there_with_its_origin_and_room_for_more(browser: Browser) -> None:
    page = read(browser.get(PATH).text)
    assert "The usual list is in use: common practice, no source." in page.text
    assert typed(page)[:4] == ["base", "pusher set", "price rail", "graphic"]
    assert typed(page)[-2:] == ["", ""]
    assert "Use the usual list again" not in page.text
    assert PATH in [e.attributes["href"] for e in read(browser.get("/office").text).all("a")]


def test_parts_are_saved_used_and_the_usual_ones_come_back(browser: Browser, ctx: service.Context) -> None:
    edit = rows(("tray", "base", "1", "no"), ("tray", "", "1", "no"), ("header", "lamp", "2", "yes"))
    page = read(browser.post(PATH, edit, follow_redirects=True).text)
    assert "Saved. It is in use from now on." in page.text
    assert "Your own list is in use: 2 parts of 2 kinds of carton." in page.text
    kept = service.get_parts_list(ctx)
    assert kept.parts_of(CartonKind.TRAY) == (Part("base"),)
    assert kept.parts_of(CartonKind.HEADER) == (Part("lamp", 2, of_position=True),)
    page = read(browser.post(PATH, {"do": "usual", "follows": 1}, follow_redirects=True).text)
    assert "The usual parts list is in use again." in page.text
    assert service.get_parts_table(ctx).usual


def test_a_fault_names_its_row_and_keeps_what_was_typed(browser: Browser, ctx: service.Context) -> None:
    response = browser.post(PATH, rows(("tray", "base", "1", "no"), ("tray", "hook", "none", "no")))
    assert response.status_code == 400
    page = read(response.text)
    assert "Row 2: quantity 'none' is not a whole number from 1 to 999,999" in page.text
    assert typed(page) == ["base", "hook", "", ""]
    assert service.get_parts_table(ctx).usual


def test_each_fault_leads_to_its_field_and_no_other_is_marked(browser: Browser) -> None:
    edit = rows(("tray", "base", "1", "no"), ("tray", "hook", "none", "no"), ("tray", "base", "1", "no"))
    page = read(browser.post(PATH, edit).text)
    assert "The parts list has 2 faults." in page.text
    links = [e.attributes["href"] for e in page.all("a") if e.attributes["href"].startswith("#") and "Row" in e.text]
    assert links == ["#qty-2", "#part-3"]
    marked = [e.attributes["id"] for e in page.elements if e.attributes.get("aria-invalid") == "true"]
    assert marked == ["qty-2", "part-3"]


def test_who_saves_second_is_told_and_keeps_what_was_typed(browser: Browser, ctx: service.Context) -> None:
    browser.post(PATH, rows(("tray", "base", "1", "no")))
    response = browser.post(PATH, rows(("tray", "hook", "1", "no")))
    assert response.status_code == 409
    assert typed(read(response.text)) == ["hook", "", ""]
    assert service.get_parts_list(ctx).parts_of(CartonKind.TRAY) == (Part("base"),)


def test_a_row_in_pieces_is_refused(browser: Browser) -> None:
    response = browser.post(PATH, {"kind": ["tray"], "part": ["base", "hook"], "follows": 0, "do": "save"})
    assert response.status_code == 400
    assert "A part came without kind, quantity or use." in read(response.text).text


# --- settings of the house: units on pages, labels with a sender and for a label printer, links that any phone opens


MANIFEST = (
    "shipment,store,carton,kind,sscc,section,column,row,weight_kg,length_cm,width_cm,height_cm\n"
    "S-7,0417,07,tray,395200007770000013,Harbor,3,2,30,60,40,20\n"
)
SENT = {
    "units": "us", "sender": "Harbor Fixtures\n12 Quay Street", "dpi": "203", "right_mm": "1.5", "down_mm": "-2",
    "link_host": "https://boxes.example/",
}  # fmt: skip


def test_settings_are_saved_and_shown(ctx: service.Context, browser: Browser) -> None:
    assert browser.post("/office/settings", SENT).status_code == 303
    assert service.get_settings(ctx) == Settings(
        Units.US, ("Harbor Fixtures", "12 Quay Street"), "https://boxes.example", 203, (1.5, -2.0)
    )
    page = read(browser.client.get("/office/settings").text)
    assert "Settings" in page.text


def test_the_address_of_links_is_taken_in_capitals_too(ctx: service.Context, browser: Browser) -> None:
    assert browser.post("/office/settings", {**SENT, "link_host": "HTTPS://BOXES.EXAMPLE/"}).status_code == 303
    assert service.get_settings(ctx).link_host == "HTTPS://BOXES.EXAMPLE"


def test_settings_that_cannot_be_are_refused_in_words(ctx: service.Context, browser: Browser) -> None:
    for change, words in (
        ({"link_host": "boxes"}, "'boxes' is not the start of a web address."),
        ({"dpi": "150"}, "There are no printers of 150 dots per inch here."),
        ({"right_mm": "40"}, "The labels cannot be moved by 40 and -2 mm."),
        ({"right_mm": "far"}, "'far' is not a number of millimetres."),
        ({"sender": "a\nb\nc\nd"}, "The sender is too long for a label."),
        ({"sender": "สม"}, "The label's fonts cannot print ส (U+0E2A), ม (U+0E21) of 'สม'."),
    ):
        answer = browser.post("/office/settings", {**SENT, **change})
        assert (answer.status_code, words in read(answer.text).text) == (422, True), words
    assert service.get_settings(ctx) == Settings()


def test_pages_show_the_units_that_are_set_and_cautions_both(ctx: service.Context, browser: Browser) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    metric = read(browser.client.get("/s/S-7/cartons/07").text).text
    assert "30 kg, 60 × 40 × 20 cm" in metric
    assert "30 kg (66.1 lb): not alone" in metric
    service.save_settings(ctx, Settings(Units.US))
    pounds = read(browser.client.get("/s/S-7/cartons/07").text).text
    assert "66.139 lb, 23.6 × 15.7 × 7.9 in" in pounds
    assert "66.1 lb (30 kg): not alone" in pounds


def test_labels_for_a_label_printer(ctx: service.Context, client: FlaskClient) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    file = client.get("/s/S-7/labels.pdf?which=all&as=printer&dpi=203")
    assert file.data.startswith(b"^XA^PW812^LL1218")
    assert "labels-S-7.zpl" in file.headers["Content-Disposition"]
    refused = client.get("/s/S-7/labels.pdf?which=all&as=printer&stock=a4-4up")
    assert "a label printer takes single labels" in refused.text
    assert "There is no printer of" in client.get("/s/S-7/labels.pdf?which=all&dpi=7").text


def test_a_printed_link_opens_its_carton(ctx: service.Context, client: FlaskClient) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    assert client.get("/00/395200007770000013").headers["Location"] == "/s/S-7/cartons/07"
    assert client.get("/00/395200007770000020").status_code == 404
    assert client.get("/00/395200007770000014").status_code == 400
    wrong = MANIFEST.replace("S-7", "S-8").replace("sscc", "barcode").replace("0000013", "0000014")
    service.import_manifest(ctx, "wrong.csv", wrong.encode())
    assert client.get("/00/395200007770000014").headers["Location"] == "/s/S-8/cartons/07"
