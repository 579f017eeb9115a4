"""A scanner is tried and set up on a page, and its scans arrive as the label has them."""

import zxingcpp
from flask.testing import FlaskClient
from PIL import Image, ImageDraw

from receiving import service
from receiving.closing import scanner_test_symbols
from receiving.reading import TEST_ENVELOPE, TEST_GS1
from tests.web.conftest import Browser
from tests.web.page_text import read

SSCC = "395200007770000013"
MANIFEST = f"shipment,store,carton,kind,sscc\nS-8,0417,07,tray,{SSCC}\n"
ODD = {"gs1": "T10TEST7~21A5$", "matrix": "w[)>^06~1JUN999999999TEST7~Q5^|$"}


def test_what_a_scanner_sends_is_shown_and_undone_for_its_scans(ctx: service.Context, browser: Browser) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    shown = read(browser.post("/scanner", ODD).text).text
    assert "Set up in this browser." in shown
    assert "It sends ~ for GS. It sends ^ for RS. It sends | for EOT." in shown.replace("  ", " ")
    browser.post("/s/S-8/scans", {"text": f"T00{SSCC}10L1~21S9$", "source": "scanner"})
    with ctx.store() as store:
        (raw,) = store.reads("S-8")
    assert (raw.raw, raw.symbology) == (f"00{SSCC}10L1\x1d21S9", "]C1")
    browser.post("/scanner", {"do": "forget"})
    assert "Forget the set-up" not in browser.client.get("/scanner").text


def test_what_is_typed_by_hand_is_not_changed(ctx: service.Context, browser: Browser) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    browser.post("/scanner", ODD)
    browser.post("/s/S-8/scans", {"text": "T7~", "source": "typed"})
    with ctx.store() as store:
        assert [raw.raw for raw in store.reads("S-8")] == ["T7~"]


def test_a_scanner_that_drops_gs_is_told_what_to_do(browser: Browser) -> None:
    answer = browser.post("/scanner", {"gs1": "10TEST721A5", "matrix": ""})
    assert "It sends nothing for GS" in read(answer.text).text


def test_a_line_of_something_else_is_refused_and_nothing_is_kept(browser: Browser, client: FlaskClient) -> None:
    answer = browser.post("/scanner", {"gs1": "hello", "matrix": ""})
    assert (answer.status_code, "Set up in this browser" in answer.text) == (422, False)


def test_the_test_symbols_hold_what_is_expected_of_them() -> None:
    for modules, text in zip(
        scanner_test_symbols(TEST_GS1, TEST_ENVELOPE), ("(10)TEST7(21)A5", TEST_ENVELOPE), strict=True
    ):
        tall = 60 if modules.height == 1 else 4
        image = Image.new("L", ((modules.width + 24) * 4, modules.height * tall + 80), 255)
        pen = ImageDraw.Draw(image)
        for y, x, length in modules.runs():
            left, top = (x + 12) * 4, 40 + y * tall
            pen.rectangle((left, top, left + length * 4 - 1, top + tall - 1), fill=0)
        (found,) = zxingcpp.read_barcodes(image)
        assert (found.bytes.decode() if "[)>" in text else found.text) == text
