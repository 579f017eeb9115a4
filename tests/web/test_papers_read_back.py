"""Every paper that a page gives out, fetched as a browser does and read back: all that it is for stands on it."""

import io
import zipfile
from collections.abc import Callable
from datetime import date

import pytest
from flask import Flask

from receiving import service
from receiving.closing.paper import find_unprintable
from receiving.model.replacement import Delivery
from tests.closing.printed import in_order, pages, words
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, sscc
from tests.web.test_manager import PERSON, digest, scan

ADDRESS = "/s/S-2041~2FA"


@pytest.fixture(autouse=True)
def confirmed(ctx: service.Context, browser: Browser) -> None:
    """Two of the sixteen cartons are here; that was confirmed, and what is missing was asked for."""
    scan(ctx, 3, 12)
    service.get_staging_plan(ctx, SHIPMENT)
    shown = digest(read(browser.get(f"{ADDRESS}/receipt").text))
    browser.post(f"{ADDRESS}/receipt", {**PERSON, "digest": shown, "how": "exceptions", "short": "searched"})
    service.issue_request(ctx, "0417", Delivery("Back door", "Mia", needed_by=date(2026, 3, 9)), by="Ada")


def check_receipt(pdf: bytes, ctx: service.Context) -> None:
    (receipt,) = service.get_shipment(ctx, SHIPMENT).receipts
    text = words(pdf)
    assert len(receipt.shown.lines) == 16
    for line in receipt.shown.lines:
        assert text.count(f"Carton {line.carton}, ") == 1, line
    assert in_order(pdf, "Receipt 1", "16 2 14 0 0", "Bo Lind, Store manager", "Remarks: Pallet was wet.")
    assert in_order(
        pdf, "Exceptions (14)", "Carton 01, instructions", "Carton 22, ", "Here (2)", "Carton 03", "Carton 12"
    )
    assert f"SHA-256 {receipt.shown.digest}" in text


def check_plan(pdf: bytes, ctx: service.Context) -> None:
    (trip,) = service.get_staging_plan(ctx, SHIPMENT).trips
    assert trip.cartons == ("03", "12")
    arrow = ">" if find_unprintable("→") else "→"  # the fonts of this machine decide
    assert in_order(
        pdf,
        "Shipment S-2041/A: 2 of 16 cartons here",
        "OPEN FIRST: 01 (instructions, MISSING), 02 (tags, MISSING)",
        "Trip 1 31.5 kg to bay B1",
        *(f"{carton}{arrow}B1" for carton in trip.cartons),
        "Bay B1 Harbor Lane",
        "Section Harbor Lane, seen from the front",
        "Order of work",
    )
    missing = {carton.carton for carton in service.get_shipment(ctx, SHIPMENT).manifest} - set(trip.cartons)
    named = words(pdf).rpartition("Missing ")[2].partition(".")[0].replace(",", " ").split()
    assert set(named) >= missing


def check_bay_sheets(pdf: bytes, ctx: service.Context) -> None:
    sheets = service.list_bay_sheets(ctx, SHIPMENT).sheets
    printed = [page.text for page in pages(pdf)]
    assert [sheet.bay for sheet in sheets] == ["B1", "B2", "B3"]
    for sheet in sheets:
        own = " ".join(text for text in printed if f"Bay {sheet.bay}:" in text)
        assert f"{len(sheet.rows)} positions can be set now" in own
        items = [item.item for row in sheet.rows for item in row.trays]
        assert items and all(own.count(f"{item} tray") == items.count(item) for item in items)
    assert "HEADER-H header h 03, 12 ready" in printed[0]
    assert "24 × TAG-RUN tag run (carton 02)" in " ".join(printed)


def check_labels(pdf: bytes, ctx: service.Context) -> None:
    found = pages(pdf)
    cartons = service.get_shipment(ctx, SHIPMENT).manifest.cartons
    assert len(found) == len(cartons) == 16
    for page, carton in zip(found, cartons, strict=True):
        assert f"(00){carton.sscc}" in page.text.replace(" ", "")
        assert f"CARTON {carton.carton}" in page.text and "TO STORE 0417" in page.text
        assert all(f"COL {each.column} ROW {each.row}" in page.text for each in carton.addresses)


def check_stickers(pdf: bytes, ctx: service.Context) -> None:
    carton = next(each for each in service.get_shipment(ctx, SHIPMENT).manifest if each.carton == "04")
    wanted = [f"{each.section} COL {each.column} ROW {each.row}" for each in carton.addresses]
    assert [page.text for page in pages(pdf)] == wanted == ["Harbor Lane COL 2 ROW 1", "Harbor Lane COL 2 ROW 2"]


def check_request(pdf: bytes, ctx: service.Context) -> None:
    request = service.get_request(ctx, "0417", 1)
    assert in_order(pdf, "Replacement request R-0417-001", "Deliver to Back door", "Contact Mia", "Needed by Mon 9 Mar")
    asked = sum(line.qty for line in request.lines)
    assert f"{asked} pieces for store 0417" in words(pdf)
    lines = [
        f"{line.item} {line.description} {line.qty} carton did not arrive (carton {line.carton})"
        for line in request.lines
    ]
    assert len(lines) > 15 and ("TAG-RUN tag run 24 carton did not arrive (carton 02)" in lines)
    assert in_order(pdf, *lines)


PAPERS: dict[str, tuple[str, Callable[[bytes, service.Context], None]]] = {
    "/s/<id:shipment>/receipts/<int:number>.pdf": (f"{ADDRESS}/receipts/1.pdf", check_receipt),
    "/s/<id:shipment>/plan.pdf": (f"{ADDRESS}/plan.pdf", check_plan),
    "/s/<id:shipment>/bay-sheets.pdf": (f"{ADDRESS}/bay-sheets.pdf", check_bay_sheets),
    "/s/<id:shipment>/labels.pdf": (f"{ADDRESS}/labels.pdf?which=all", check_labels),
    "/s/<id:shipment>/place-stickers.pdf": (f"{ADDRESS}/place-stickers.pdf?carton=04", check_stickers),
    "/stores/<id:store>/requests/<int:number>.<any(pdf, csv, json):kind>": (
        "/stores/0417/requests/1.pdf",
        check_request,
    ),
}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("rule", PAPERS)
def test_a_paper_says_what_it_is_for(rule: str, paper: str, browser: Browser, ctx: service.Context) -> None:
    address, check = PAPERS[rule]
    answer = browser.get(f"{address}{'&' if '?' in address else '?'}paper={paper}")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf"), answer.text
    check(answer.data, ctx)


def test_every_address_that_gives_out_a_paper_is_read_back(app: Flask) -> None:
    assert {rule.rule for rule in app.url_map.iter_rules() if "pdf" in rule.rule} == set(PAPERS)


def test_the_receipt_in_the_archive_says_the_same(browser: Browser, ctx: service.Context) -> None:
    answer = browser.get(f"{ADDRESS}/receipts/1.zip")
    with zipfile.ZipFile(io.BytesIO(answer.data)) as members:
        check_receipt(members.read("receipt.pdf"), ctx)


def test_a_label_names_the_code_that_a_scan_of_it_gives(browser: Browser) -> None:
    (page,) = pages(browser.get(f"{ADDRESS}/labels.pdf?which=chosen&carton=12").data)
    assert f"(00){sscc(12)}" in page.text.replace(" ", "")
