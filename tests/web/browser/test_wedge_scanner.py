"""Wedge scanners of several settings, in Chromium: what they send in keys, with and without the test page's set-up."""

import re

import cv2
import numpy as np
import pytest
import zxingcpp

from receiving import service
from receiving.reading import TEST_ENVELOPE
from tests.web.browser.test_phone import SCANNER_CLOCK, counts, eventually
from tests.web.scenario import SHIPMENT, sscc

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
CONTROL_KEYS = {"\x1d": "Control+]", "\x1e": "Control+6", "\x04": "Control+d", "\t": "Tab", "\r": "Enter"}
"""Keys for control characters: those of a US keyboard with Ctrl (ASCII less 64; common practice, no source)."""
MANIFEST = (
    "shipment,store,carton,kind,barcode,section\nS-88,0417,1,tray,1JUN123456789A1,Run\nS-88,0417,2,tray,KX-0147,Run\n"
)


def keys(page, text: str) -> None:
    """Types what a scanner types: letters and control keys, 10 ms apart."""
    page.evaluate(SCANNER_CLOCK)
    for part in re.split(r"([\x04\t\r\x1d\x1e])", text):
        if part in CONTROL_KEYS:
            page.keyboard.press(CONTROL_KEYS[part])
        elif part:
            page.keyboard.type(part)
    page.evaluate("window.removeEventListener('keydown', window.scannerClock, true)")


def raws(ctx: service.Context, shipment: str = SHIPMENT) -> list[str]:
    return [read.raw.raw for read in service.get_shipment(ctx, shipment).reads]


def set_up(page, address: str, gs1: str, matrix: str = "") -> None:
    """Scans the test symbols of the scanner's page with such a scanner, and saves."""
    page.goto(f"{address}/scanner")
    keys(page, gs1)
    if matrix:
        page.focus("#matrix")
        keys(page, matrix)
    page.click("text=Show what it sends")
    page.locator("[role=status]", has_text="Set up in this browser").wait_for()


@pytest.mark.parametrize("suffix", ["\r", "\t", "\r\t", ""], ids=["Enter", "Tab", "Enter and Tab", "nothing"])
def test_a_scan_is_taken_however_the_scanner_ends_it(phone, served, suffix: str) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    keys(phone, f"]C100{sscc(3)}{suffix}")
    counts(phone, 1)
    keys(phone, f"]C100{sscc(4)}{suffix}")
    counts(phone, 2)
    assert phone.evaluate("document.activeElement.id") == "text"
    eventually(phone, lambda: len(raws(ctx)) == 2)


def test_an_envelope_comes_with_its_rs_gs_and_eot(phone, served) -> None:
    address, ctx = served
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    phone.goto(f"{address}/s/S-88")
    keys(phone, "[)>\x1e06\x1d1JUN123456789A1\x1dQ5\x1e\x04\r")
    counts(phone, 1)
    eventually(phone, lambda: raws(ctx, "S-88") == ["[)>\x1e06\x1d1JUN123456789A1\x1dQ5\x1e\x04"])


def test_a_control_key_does_not_do_what_the_browser_means_by_it(phone, served) -> None:
    """Ctrl+D is a bookmark and Ctrl+6 a tab in Chromium: within a scan they are signs of it."""
    address, ctx = served
    phone.goto(address + ADDRESS)
    keys(phone, f"]C110LOT7\x1d00{sscc(3)}\r")
    counts(phone, 1)
    eventually(phone, lambda: raws(ctx) == [f"10LOT7\x1d00{sscc(3)}"])


@pytest.mark.parametrize(
    ("gs1", "matrix", "scan"),
    [
        ("10TEST7~21A5\r", "", "10LOT7~00{}\r"),
        ("*10TEST7|21A5\t", "*[)>^06|1JUN999999999TEST7|Q5^!\t", "*10LOT7|00{}\t"),
        ("]C110TEST7\x1d21A5\r", "]d1" + TEST_ENVELOPE, "]C110LOT7\x1d00{}\r"),
        ("k10TEST7~21A5", "w[)>#06~1JUN999999999TEST7~Q5#%", "k10LOT7~00{}"),
    ],
    ids=[
        "stand-in and Enter",
        "prefix, stand-ins and Tab",
        "control keys and AIM identifiers",
        "code letters, no suffix",
    ],
)
def test_a_scanner_is_set_up_on_its_page_and_understood_from_then_on(
    phone, served, gs1: str, matrix: str, scan: str
) -> None:
    address, ctx = served
    set_up(phone, address, gs1, matrix)
    phone.goto(address + ADDRESS)
    keys(phone, scan.format(sscc(3)))
    counts(phone, 1)
    eventually(phone, lambda: raws(ctx)[0].endswith(f"10LOT7\x1d00{sscc(3)}"))


def test_a_set_up_scanner_is_understood_without_a_signal(phone, served) -> None:
    address, _ = served
    set_up(phone, address, "*10TEST7~21A5\r")
    phone.goto(address + ADDRESS)
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.wait_for_function("document.getElementById('text')")
    phone.wait_for_timeout(500)  # the sheet comes behind the page
    phone.context.set_offline(True)
    keys(phone, f"*10LOT7~00{sscc(3)}\r")
    phone.locator("#answer", has_text="Here · 03").wait_for()
    phone.context.set_offline(False)
    counts(phone, 1)


def test_a_scanner_that_drops_gs_is_named_with_the_remedy(phone, served) -> None:
    address, _ = served
    phone.goto(f"{address}/scanner")
    keys(phone, "10TEST721A5\r")
    phone.click("text=Show what it sends")
    phone.locator(".notice.question", has_text="It sends nothing for GS").wait_for()


def test_another_symbol_on_the_test_page_sets_nothing_up(phone, served) -> None:
    address, _ = served
    phone.goto(f"{address}/scanner")
    keys(phone, "KX-0147\r")
    phone.click("text=Show what it sends")
    phone.locator(".notice.question", has_text="not what the test symbols hold").wait_for()
    assert "Set up in this browser" not in phone.inner_text("main")


@pytest.mark.parametrize(("width", "height", "dots"), [(1280, 900, 1), (1920, 1080, 1), (768, 1024, 1), (390, 844, 3)])
def test_the_test_symbols_can_be_read_off_the_screen(chromium, served, width: int, height: int, dots: int) -> None:
    """Bars of two widths in one symbol, 1 and 2 dots where one module is meant, are what no scanner reads."""
    context = chromium.new_context(viewport={"width": width, "height": height}, device_scale_factor=dots)
    page = context.new_page()
    page.goto(f"{served[0]}/scanner")
    shown = cv2.imdecode(np.frombuffer(page.screenshot(full_page=True), np.uint8), cv2.IMREAD_GRAYSCALE)
    context.close()
    read = {code.symbology_identifier: code.bytes for code in zxingcpp.read_barcodes(shown)}
    assert read == {"]C1": b"10TEST7\x1d21A5", "]d1": TEST_ENVELOPE.encode()}


@pytest.mark.parametrize("focused", ["#shoot", "#album", "#place summary", "#scan button"])
def test_a_scan_is_taken_whatever_has_the_focus(phone, served, focused: str) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.focus(focused)
    keys(phone, f"]C100{sscc(3)}\r")
    counts(phone, 1)
    eventually(phone, lambda: raws(ctx) == [f"00{sscc(3)}"])
    assert not phone.evaluate("document.getElementById('place').open")


@pytest.mark.parametrize("suffix", ["\r", ""], ids=["Enter", "nothing"])
def test_a_scan_behind_the_open_camera_is_taken(phone, served, suffix: str) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.evaluate("document.getElementById('viewfinder').showModal()")
    keys(phone, f"]C100{sscc(3)}{suffix}")
    eventually(phone, lambda: raws(ctx) == [f"00{sscc(3)}"])
    assert phone.evaluate("document.getElementById('viewfinder').open"), "its Enter pressed no button"


def test_a_scan_on_a_page_without_the_field_is_taken_and_answered_there(phone, served) -> None:
    address, ctx = served
    phone.goto(f"{address}{ADDRESS}/cartons/07")
    phone.focus("main a")
    page = phone.url
    keys(phone, f"]C100{sscc(3)}\r")
    phone.locator("#scanned", has_text="03").wait_for()
    assert phone.url == page
    eventually(phone, lambda: raws(ctx) == [f"00{sscc(3)}"])


def test_a_scan_while_a_list_has_the_focus_chooses_nothing_from_it(phone, served) -> None:
    address, _ = served
    phone.goto(f"{address}{ADDRESS}/cartons/07")
    lists = phone.locator("main select")
    assert lists.count(), "the page of a carton has a list to choose from"
    for details in phone.locator("main details").all():
        details.evaluate("each => { each.open = true; }")
    lists.first.focus()
    before = lists.first.input_value()
    keys(phone, f"]C100{sscc(3)}\r")
    phone.locator("#scanned", has_text="03").wait_for()
    assert lists.first.input_value() == before


def test_a_scan_before_anybody_said_who_receives_is_asked_for_again(chromium, served) -> None:
    context = chromium.new_context(viewport={"width": 360, "height": 740})
    nobody = context.new_page()
    nobody.goto(served[0] + ADDRESS)
    keys(nobody, f"]C100{sscc(3)}\r")
    nobody.locator("#answer", has_text="Say who is receiving first").wait_for()
    assert raws(served[1]) == []
    context.close()
