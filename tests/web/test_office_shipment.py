"""The office's papers of a shipment: revisions and the way back, the planogram, labels to print."""

import csv
import io
import re
import zipfile

import pytest
from PIL import Image

from receiving import service
from receiving.model import Address, Carton, CartonKind, ContentLine, Place, Source, Sscc
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import MANIFEST, SHIPMENT, sscc
from web.pages.office_labels import without_code

ADDRESS = "/s/S-2041~2FA"
EDIT = f"{ADDRESS}/planogram/03"


@pytest.fixture
def revised(ctx: service.Context) -> service.Context:
    service.import_manifest(ctx, "second.csv", MANIFEST.replace(",24.5,", ",25.5,").encode())
    return ctx


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def places(*typed: tuple[str, str, str], **more: object) -> dict[str, object]:
    section, column, row = ([place[n] for place in typed] for n in range(3))
    return {"do": "check", "kind": "tray", "section": section, "column": column, "row": row, **more}


def test_the_history_says_what_each_revision_changed(browser: Browser, revised: service.Context) -> None:
    page = read(browser.get(f"{ADDRESS}/manifest").text)
    assert page.text.index("Revision 2") < page.text.index(
        "Carton 12 changed: weight from 24.5 kg (54 lb) to 25.5 kg (56.2 lb)."
    )
    assert page.text.index("to 25.5 kg (56.2 lb).") < page.text.index("Revision 1 ")
    assert "16 cartons. Revision 2 is in use." in page.text


def test_each_revision_is_a_file_that_the_import_reads(browser: Browser, revised: service.Context) -> None:
    weights = []
    for path in (f"{ADDRESS}/manifest.csv?revision=1", f"{ADDRESS}/manifest.csv"):
        rows = list(csv.DictReader(io.StringIO(browser.get(path).text)))
        weights.append(next(row["weight_kg"] for row in rows if row["carton"] == "12"))
    assert weights == ["24.5", "25.5"]
    name = browser.get(f"{ADDRESS}/manifest.csv?revision=1").headers["Content-Disposition"]
    assert name == 'attachment; filename="manifest-S-2041-A-revision-1.csv"'
    for missing in ("manifest.csv?revision=7", f"manifest.csv?revision={10**20}", f"revisions/{10**20}/restore"):
        assert browser.get(f"{ADDRESS}/{missing}").status_code == 404, missing


def test_a_downloaded_manifest_that_was_changed_is_previewed(browser: Browser, revised: service.Context) -> None:
    form = next(e for e in read(browser.get(f"{ADDRESS}/manifest").text).all("form"))
    changed = browser.get(f"{ADDRESS}/manifest.csv").data.replace(b",25.5,", b",26.5,")
    fields = {"kind": "manifest", "file": (io.BytesIO(changed), "changed.csv")}
    page = read(browser.post(form.attributes["action"], fields, content_type="multipart/form-data").text)
    assert "Carton 12 changed: weight from 25.5 kg (56.2 lb) to 26.5 kg (58.4 lb)." in page.text
    assert service.get_manifest(revised, SHIPMENT)[1] == 2


def test_a_restore_shows_what_it_changes_and_then_does_it(browser: Browser, revised: service.Context) -> None:
    page = read(browser.get(f"{ADDRESS}/revisions/1/restore").text)
    assert "Carton 12 changed: weight from 25.5 kg (56.2 lb) to 24.5 kg (54 lb)." in page.text
    (form,) = page.all("form")
    (follows,) = page.all("input", name="follows")
    done = browser.post(form.attributes["action"], {"follows": follows.attributes["value"]}, follow_redirects=True)
    assert "Revision 3 is in use." in read(done.text).text
    assert service.get_manifest(revised, SHIPMENT)[0].find("12").weight_kg == 24.5


def test_a_restore_of_what_is_in_use_offers_nothing_to_do(browser: Browser, revised: service.Context) -> None:
    page = read(browser.get(f"{ADDRESS}/revisions/2/restore").text)
    assert "Nothing would change" in page.text
    assert page.all("form") == []


def test_a_restore_that_was_overtaken_is_refused(browser: Browser, revised: service.Context) -> None:
    response = browser.post(f"{ADDRESS}/revisions/1/restore", {"follows": "1"})
    assert response.status_code == 409
    assert "Look at the changes again." in read(response.text).text
    assert browser.post(f"{ADDRESS}/revisions/1/restore", {"follows": "one"}).status_code == 400


def test_the_planogram_has_each_carton_at_its_places(browser: Browser) -> None:
    page = read(browser.get(f"{ADDRESS}/planogram").text)
    cells = [" ".join(e.text.split()) for e in page.all("td") if e.text.strip().startswith("column ")]
    assert len(cells) == 6 * 2 + 3 * 2
    assert "column 1, row 1 03 tray 12 header" in cells
    assert [e.text for e in page.all("h2")] == ["Harbor Lane 12 places", "Moss & Fern 6 places"]
    assert {e.attributes["href"] for e in page.all("a")} >= {EDIT, f"{ADDRESS}/planogram/20"}


def test_a_carton_form_is_filled_from_the_manifest(browser: Browser) -> None:
    page = read(browser.get(EDIT).text)
    for name, values in {"section": ["Harbor Lane", "Harbor Lane", ""], "row": ["1", "2", ""]}.items():
        assert [e.attributes["value"] for e in page.all("input", name=name)] == values
    assert [e.attributes["value"] for e in page.all("option") if "selected" in e.attributes] == ["tray"]
    assert [e.attributes["value"] for e in page.all("option") if "selected" not in e.attributes][-1] == "Moss & Fern"


def test_an_edit_is_shown_in_words_before_it_is_stored(browser: Browser, ctx: service.Context) -> None:
    browser.post("/who", {"person": "Ada Ng"})
    typed = places(("Harbor Lane", "5", "1"), ("Harbor Lane", "1", "2"), ("", "", ""), open_first="yes")
    check = read(browser.post(EDIT, typed).text)
    assert "Carton 03 changed: open first now; no longer holds 1 ea of TRAY-H11" in check.text
    assert service.get_manifest(ctx, SHIPMENT)[1] == 1
    hidden = {"do": "save"}
    for field in check.all("input", type="hidden"):
        hidden.setdefault(field.attributes["name"], []).append(field.attributes["value"])
    done = browser.client.post(EDIT, data=hidden, follow_redirects=True)
    assert "Carton 03 is changed. Revision 2 is in use." in read(done.text).text
    carton = service.get_manifest(ctx, SHIPMENT)[0].find("03")
    assert carton.addresses == (Address("Harbor Lane", 1, 2), Address("Harbor Lane", 5, 1))
    assert carton.open_first
    newest = service.list_revisions(ctx, SHIPMENT)[-1]
    assert (newest.origin, newest.source, newest.by) == ("carton_edited", "03", "Ada Ng")


def test_an_edit_can_be_gone_on_with(browser: Browser) -> None:
    typed = places(("Harbor Lane", "5", "1"), ("Moss & Fern", "", ""), do="edit", kind="header")
    page = read(browser.post(EDIT, typed).text)
    assert [e.attributes["value"] for e in page.all("input", name="column")] == ["5", "", ""]
    assert [e.attributes["value"] for e in page.all("option") if "selected" in e.attributes] == ["header"]


def test_a_wrong_place_comes_back_with_what_was_typed(browser: Browser, ctx: service.Context) -> None:
    response = browser.post(EDIT, places(("Harbor <Lane>", "0", "1"), ("Harbor Lane", "1", "2")))
    page = read(response.text)
    assert response.status_code == 400
    assert "Place 1: column '0' is not a whole number from 1 to 9999." in page.text
    assert page.all("input", name="section")[0].attributes["value"] == "Harbor <Lane>"
    assert service.get_manifest(ctx, SHIPMENT)[1] == 1


def test_an_edit_that_was_overtaken_keeps_what_was_typed(browser: Browser, revised: service.Context) -> None:
    typed = places(("Harbor Lane", "5", "1"), do="save", follows="1")
    response = browser.post(EDIT, typed)
    assert response.status_code == 409
    assert read(response.text).all("input", name="column")[0].attributes["value"] == "5"


def test_an_edit_that_changes_nothing_offers_no_save(browser: Browser) -> None:
    page = read(browser.post(EDIT, places(("Harbor Lane", "1", "1"), ("Harbor Lane", "1", "2"))).text)
    assert "Nothing would change" in page.text
    assert page.all("button", value="save") == []


def test_a_form_that_lost_a_field_or_a_carton_is_refused(browser: Browser) -> None:
    assert browser.post(EDIT, {"do": "check", "kind": "tray", "section": ["A"], "column": []}).status_code == 400
    assert browser.get(f"{ADDRESS}/planogram/99").status_code == 404
    assert browser.post(f"{ADDRESS}/planogram/99", places()).status_code == 404


def test_labels_are_printed_for_all_the_missing_and_the_ticked(browser: Browser, ctx: service.Context) -> None:
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    page = read(browser.get(f"{ADDRESS}/labels").text)
    assert {e.text for e in page.all("button", name="which")} == {"The 15 missing", "All 16", "Print the ticked ones"}
    for query, labels in (("which=all", 16), ("which=missing", 15), ("which=chosen&carton=03&carton=12", 2)):
        response = browser.get(f"{ADDRESS}/labels.pdf?{query}&stock=4x6in&first=1")
        assert (response.mimetype, pages(response.data)) == ("application/pdf", labels), query


def test_labels_start_where_the_sheet_is_still_free_and_the_stock_is_remembered(browser: Browser) -> None:
    query = "which=chosen&carton=03&carton=04&stock=a4-4up"
    assert pages(browser.get(f"{ADDRESS}/labels.pdf?{query}&first=4").data) == 2
    page = read(browser.get(f"{ADDRESS}/labels").text)
    (stock,) = page.all("select", id="stock")
    assert [e.attributes["value"] for e in stock.inside if "selected" in e.attributes] == ["a4-4up"]
    saved = browser.get(f"{ADDRESS}/labels.pdf?{query}&first=1&save=yes")
    assert saved.headers["Content-Disposition"] == 'attachment; filename="labels-S-2041-A.pdf"'


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("which=chosen", "There is no carton to print a label for."),
        ("which=all&stock=a4-4up&first=5", "Label place 5 is not on a sheet of 4."),
        ("which=all&first=two", "The first place 'two' is not a number."),
        ("which=all&stock=stone", "There is no label stock 'stone'."),
        ("which=some", "There are no labels 'some'."),
        ("which=chosen&carton=99", "Carton '99' is not on the manifest"),
    ],
)
def test_a_choice_that_cannot_be_printed_says_why_on_the_page(browser: Browser, query: str, words: str) -> None:
    response = browser.get(f"{ADDRESS}/labels.pdf?{query}")
    page = read(response.text)
    assert response.status_code == 400
    assert words in page.text
    assert page.all("button", value="all")


def test_the_label_of_one_carton_is_shown_as_a_picture(browser: Browser) -> None:
    page = read(browser.get(f"{ADDRESS}/labels?carton=12").text)
    assert [e.attributes["value"] for e in page.all("input", name="carton") if "checked" in e.attributes] == ["12"]
    (image,) = page.all("img")
    response = browser.get(image.attributes["src"])
    assert Image.open(io.BytesIO(response.data)).size == (1200, 1800)
    assert browser.get(f"{ADDRESS}/cartons/99/label.png").status_code == 400


def test_what_is_printed_without_a_code_is_said() -> None:
    here = ContentLine("Harbor", Address("Harbor", 1, 2))
    there = ContentLine("Harbor", Address("Harbor", 2, 2))
    cartons = [
        Carton("01", CartonKind.TRAY, contents=(here,)),
        Carton("02", CartonKind.TRAY, contents=(here, there)),
        Carton("03", CartonKind.TAGS),
        Carton("04", CartonKind.TRAY, barcode="T-4"),
        Carton("05", CartonKind.TRAY, sscc=Sscc(sscc(5))),
    ]
    placed, others = map(str, without_code(cartons))
    assert placed.startswith("Carton 01: no code on the manifest: the label shows the place, with a symbol of it")
    assert others.startswith("Cartons 02 and 03: no code on the manifest and no single place")
    assert without_code(cartons[3:]) == ()


def test_a_carton_and_its_shipment_lead_to_their_papers(browser: Browser) -> None:
    links = {e.attributes["href"] for e in read(browser.get(f"{ADDRESS}/cartons/03").text).all("a")}
    links |= {e.attributes["href"] for e in read(browser.get(f"{ADDRESS}/hand-over").text).all("a")}
    papers = {f"{ADDRESS}/labels?carton=03", EDIT, *(f"{ADDRESS}/{n}" for n in ("labels", "manifest", "planogram"))}
    assert papers <= links
    assert all(browser.get(link).status_code == 200 for link in papers)


def test_papers_of_an_unknown_shipment_are_not_found(browser: Browser) -> None:
    for paper in ("manifest", "manifest.csv", "planogram", "labels", "labels.pdf", "revisions/1/restore"):
        assert browser.get(f"/s/S-9/{paper}").status_code == 404, paper


def test_every_office_page_can_be_followed_by_keyboard_and_screen_reader(
    browser: Browser, ctx: service.Context
) -> None:
    service.save_text(ctx, service.KIT, "kit", "item,section\nTRAY-H11,Moss\n", follows=0)
    papers = ("manifest", "planogram", "planogram/03", "labels?carton=03", "revisions/1/restore")
    lists = (
        "/office",
        "/office/patterns",
        "/office/kit",
        "/office/kit/moves",
        "/office/layouts/0417",
        "/office/layouts/0422",
    )
    shown = {path: browser.get(path).text for path in (*lists, *(f"{ADDRESS}/{paper}" for paper in papers))}
    shown["check"] = browser.post(EDIT, places(("Harbor Lane", "5", "1"))).text
    tried = {"do": "try", "text": "[[pattern]]\nname=1", "example": "x", "follows": "0"}
    shown["try"] = browser.post("/office/patterns", tried).text
    for path, html in shown.items():
        page = read(html)
        assert (page.faults, page.open_tags) == ([], []), path
        assert len(page.all("h1")) == 1, path
        ids = [e.attributes["id"] for e in page.elements if "id" in e.attributes]
        assert sorted(set(ids)) == sorted(ids), path
        assert len(page.all("form", method="post")) == len(page.all("input", name="token")), path
        labelled = {e.attributes.get("for") for e in page.all("label")}
        for field in page.all("input") + page.all("select") + page.all("textarea"):
            named = field.attributes.get("id") in labelled or "aria-label" in field.attributes
            assert named or field.attributes.get("type") == "hidden", (path, field)
        assert all(
            "style" not in e.attributes and not any(a.startswith("on") for a in e.attributes) for e in page.elements
        )


def test_place_stickers_are_printed_from_the_labels_page(browser: Browser) -> None:
    page = read(browser.get("/s/S-2041~2FA/labels").text)
    button = next(e for e in page.all("button") if "Print place stickers" in e.text)
    printed = browser.get(button.attributes["formaction"], query_string={"carton": "03", "stickers": "a4-10up"})
    assert printed.data.startswith(b"%PDF")
    refused = browser.get(button.attributes["formaction"], query_string={"carton": "01"})
    assert refused.status_code == 400
    assert "None of these cartons is for a place with column and row." in read(refused.text).text


# --- one shipment's result as files from the page -------------------------------------------------------------------


def test_the_page_gives_the_same_files(browser: Browser, ctx: service.Context) -> None:
    address = "/s/S-2041~2FA"
    links = browser.get(f"{address}/manifest").text
    for kind, make in (("csv", service.make_result_csv), ("json", service.make_result_json)):
        response = browser.get(f"{address}/result.{kind}")
        assert response.get_data(as_text=True) == make(ctx, SHIPMENT)
        assert f"{address}/result.{kind}" in links
    with zipfile.ZipFile(io.BytesIO(browser.get(f"{address}/result.xlsx").data)) as book:
        assert "xl/workbook.xml" in book.namelist()


# --- the office voids a shipment that was imported by mistake, after a question, and brings it back -----------------


def test_a_shipment_is_voided_after_a_question_and_restored_from_the_office(browser: Browser) -> None:
    assert f"{ADDRESS}/void" in browser.get(f"{ADDRESS}/manifest").text
    assert "Why" in read(browser.get(f"{ADDRESS}/void").text).text
    done = browser.post(f"{ADDRESS}/void", {"reason": "imported twice"}, follow_redirects=True)
    assert "imported twice" in read(done.text).text
    assert "S-2041/A" not in browser.get("/").text
    assert "S-2041/A" not in browser.get("/overview").text
    assert "This shipment is voided" in read(browser.get(ADDRESS).text).text
    assert "imported twice" in read(browser.get("/office").text).text
    assert browser.post(f"{ADDRESS}/void").status_code == 409
    browser.post(f"{ADDRESS}/void/undo")
    assert "S-2041/A" in browser.get("/").text
    assert "voided" not in read(browser.get(ADDRESS).text).text
