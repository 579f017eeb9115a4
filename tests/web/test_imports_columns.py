"""A shipper's own headings are mapped on the page once; lost zeros are offered back; a hostile file is refused."""

import io
import re
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

from receiving import service
from receiving.service.pools import ReadAway
from receiving.workers import Limits
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, x12
from tests.expected.test_shippers_tables import sheet
from tests.web.conftest import Browser
from tests.web.page_text import read
from web.pages.imports_columns import guess_columns

TABLE = (
    "Delivery;Ship To;Box No;Weight;Set Date\n"
    + "".join(f"D7;0417;{n:02d};{n},5;9.3.2026\n" for n in range(1, 13))
)  # fmt: skip


def send(browser: Browser, text: str, **fields: str) -> TestResponse:
    file = (io.BytesIO(text.encode()), "kestrel.csv")
    return browser.post("/import", {"kind": "manifest", "file": file, **fields}, content_type="multipart/form-data")


def ticket_of(answer: TestResponse) -> str:
    found = re.search(r"/import/([\w-]+)", answer.text)
    assert found
    return found[1]


CHOSEN = {
    "shipper": "Kestrel Crates", "column-0": "shipment", "column-1": "store", "column-2": "carton",
    "column-3": "weight_kg", "column-4": "visit_date", "date_form": "dmy", "decimal": "comma", "constant-kind": "tray",
}  # fmt: skip


@pytest.mark.parametrize("notice", [x12(STANDARD)[:150].decode(), edifact(DESPATCH).replace("DESADV", "ORDERS")])
def test_a_notice_that_cannot_be_read_is_refused_and_not_taken_for_a_table(browser: Browser, notice: str) -> None:
    answer = send(browser, notice)
    assert answer.status_code == 422
    words = read(answer.text).text
    assert "This file cannot be loaded" in words
    assert "Whose columns are these?" not in words


def test_headings_are_mapped_once_and_known_at_the_next_import(ctx: service.Context, browser: Browser) -> None:
    asked = send(browser, TABLE)
    assert asked.status_code == 422
    assert "Whose columns are these?" in asked.text
    assert asked.text.count("<tr>") == 11  # the headings and ten rows
    for guess in ("store", "dmy", "comma"):  # Ship To, 9.3.2026, 1,5
        assert f'<option value="{guess}" selected>' in asked.text
    shown = browser.post(f"/import/{ticket_of(asked)}/columns", CHOSEN)
    assert "12 cartons" in read(shown.text).text
    assert "Imported" in browser.post(f"/import/{ticket_of(shown)}", {}).text
    with ctx.store() as store:
        manifest = store.revision("D7").manifest
    assert (manifest.cartons[3].weight_kg, str(manifest.dispatch_date)) == (4.5, "2026-03-09")
    again = send(browser, TABLE.replace("D7", "D8"))
    assert "its columns were read as those of shipper 'Kestrel Crates'" in read(again.text).text
    assert (
        service.import_stream(ctx, "k.csv", io.BytesIO(TABLE.replace("D7", "D9").encode())).manifests[0].status == "new"
    )


def test_faults_of_a_table_whose_columns_are_kept_are_all_said_beside_what_is_kept(browser: Browser) -> None:
    browser.post(f"/import/{ticket_of(send(browser, TABLE))}/columns", CHOSEN)
    answer = send(browser, TABLE.replace("9.3.2026", "soon"))
    text = read(answer.text).text
    assert "The columns of shipper Kestrel Crates are known; 12 cells or lines of this file cannot be read." in text
    assert text.count("'soon' is not a date") == 12
    assert set(led_to(answer.text)[0]) == {"column-4"}
    assert '<option value="weight_kg" selected>' in answer.text
    assert 'value="Kestrel Crates"' in answer.text


GERMAN = {
    "Lieferschein-Nr.": "shipment", "Filiale": "store", "Packstück": "carton", "NVE": "sscc", "Gewicht kg": "weight_kg",
    "Länge cm": "length_cm", "Breite (cm)": "width_cm", "Höhe": "height_cm", "Aufbautag": "visit_date",
    "Artikelnr.": "item", "Bezeichnung": "description", "Menge": "qty", "Art": "kind",
}  # fmt: skip


def test_german_headings_are_guessed() -> None:
    columns, _ = service.list_manifest_columns()
    assert guess_columns(tuple(GERMAN), columns) == GERMAN


def led_to(html: str) -> tuple[list[str], list[str]]:
    """The fields that the summary of faults leads to, and those that are marked."""
    page = read(html)
    (fault,) = page.all("div", id="fault")
    links = [e.attributes["href"].removeprefix("#") for e in fault.inside if e.name == "a"]
    return links, [e.attributes["id"] for e in page.elements if e.attributes.get("aria-invalid") == "true"]


def test_a_choice_that_cannot_be_is_said_and_kept_on_the_page(browser: Browser) -> None:
    asked = send(browser, TABLE)
    lacking = browser.post(f"/import/{ticket_of(asked)}/columns", {**CHOSEN, "constant-kind": ""})
    assert (lacking.status_code, "Nothing is chosen for kind." in lacking.text) == (422, True)
    assert 'value="Kestrel Crates"' in lacking.text
    twice = browser.post(f"/import/{ticket_of(asked)}/columns", {**CHOSEN, "column-4": "store"})
    assert "Column &#39;store&#39; is chosen for two headings." in twice.text
    assert led_to(lacking.text) == (["constant-kind"], ["constant-kind"])
    assert led_to(twice.text) == (["column-1", "column-4"], ["column-1", "column-4"])
    nameless = browser.post(f"/import/{ticket_of(asked)}/columns", {**CHOSEN, "shipper": " "})
    assert led_to(nameless.text)[0] == ["shipper"]


def test_a_shipper_s_headings_can_be_forgotten(ctx: service.Context, browser: Browser) -> None:
    asked = send(browser, TABLE)
    browser.post(f"/import/{ticket_of(asked)}/columns", CHOSEN)
    file = (io.BytesIO(b"x"), "x")
    browser.post(
        "/import", {"kind": "forget", "shipper": "Kestrel Crates", "file": file}, content_type="multipart/form-data"
    )
    assert service.list_column_mappings(ctx) == ()
    assert send(browser, TABLE).status_code == 422


PADDED = "shipment,store,carton,kind,barcode\nS9,0512,01,tray,B1\nS9,0512,02,tray,B2\n"


def test_zeros_that_a_spreadsheet_took_are_said_and_offered_back(ctx: service.Context, browser: Browser) -> None:
    service.import_manifest(ctx, "m.csv", PADDED.encode())
    bare = PADDED.replace("0512", "512").replace(",01,", ",1,").replace(",02,", ",2,")
    shown = send(browser, bare)
    text = read(shown.text).text
    assert (
        "store '512' is known as '0512', carton '1' as '01', '2' as '02'; a spreadsheet may have taken the zeros"
        in text
    )
    assert "3 numbers may have lost leading zeros." in text
    restored = browser.post(f"/import/{ticket_of(shown)}/again", {"zeros": "restore"})
    assert "everything in this file is stored already" in restored.text
    assert service.import_manifest(ctx, "m.csv", bare.encode(), restore_zeros=True)[0].status == "unchanged"


def test_a_file_that_asks_too_much_is_refused_in_words(tmp_path: Path, ctx: service.Context, browser: Browser) -> None:
    away = ReadAway(1, limits=Limits(wall_s=60, memory_mb=8))
    object.__setattr__(ctx, "manifests", away)
    cells = "".join(f'<c t="inlineStr"><is><t>{text}</t></is></c>' for text in ("S", "1", "%d", "tray"))
    book = sheet("".join(f'<row r="{n}">{cells % n}</row>' for n in range(2, 40_000)))
    file = (io.BytesIO(book), "long.xlsx")
    answer = browser.post("/import", {"kind": "manifest", "file": file}, content_type="multipart/form-data")
    away.close()
    assert len(book) < 500_000
    assert "reading this file needs more" in read(answer.text).text
