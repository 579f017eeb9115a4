"""The edge to zxing-cpp and ZBar. Symbology identifiers after ISO/IEC 15424."""

import numpy as np
import pytest

from receiving.reading import decoders
from receiving.reading.decoders import zbar_available, zbar_symbols, zxing_symbols
from tests.reading.photo_made import code, on_board

needs_zbar = pytest.mark.skipif(not zbar_available(), reason="ZBar's shared library (libzbar0) is not installed")


@pytest.mark.parametrize(
    ("text", "kind", "symbology"),
    [
        ("CARTON 07", "Code128", "]C0"),
        ("ABC-1234", "Code39", "]A0"),
        ("00012345678905", "ITF", "]I1"),
        ("4006381333931", "EAN13", "]E0"),
        ("CARTON 07", "QRCode", "]Q1"),
        ("CARTON 07", "DataMatrix", "]d1"),
        ("CARTON 07", "PDF417", "]L2"),
    ],
)
def test_zxing_gives_plain_text_and_the_symbology_identifier(text: str, kind: str, symbology: str) -> None:
    (found,) = zxing_symbols(on_board((code(text, kind, height=90 if kind in decoders.LINEAR else 0), (600, 450), 0)))
    assert (found.raw, found.symbology[:2]) == (text, symbology[:2])
    assert found.linear == (kind in decoders.LINEAR)


def test_zxing_keeps_the_separator_of_a_gs1_code() -> None:
    (found,) = zxing_symbols(on_board((code("(10)AB1(21)77", "Code128", gs1=True, height=90), (600, 450), 0)))
    assert (found.raw, found.symbology) == ("10AB1\x1d2177", "]C1")


@needs_zbar
def test_zbar_drops_fnc1_and_says_plain_code_128() -> None:
    (found,) = zbar_symbols(on_board((code("(00)095200000000000011", "Code128", gs1=True, height=90), (600, 450), 0)))
    assert (found.raw, found.symbology, found.reader) == ("00095200000000000011", "]C0", "zbar")


def test_corners_run_clockwise_around_the_symbol() -> None:
    for angle in (0.0, 90.0, 180.0):
        (found,) = zxing_symbols(on_board((code("CARTON 07", "QRCode", scale=6), (500, 400), angle)))
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = found.quad_px
        assert (cx - ax) * (dy - by) - (dx - bx) * (cy - ay) > 0
        assert decoders.middle(found.quad_px) == pytest.approx((500, 400), abs=12)


def test_nothing_is_read_on_an_empty_or_a_tiny_picture() -> None:
    for shape in ((0, 0), (1, 1), (2, 50), (50, 2)):
        blank = np.zeros(shape, np.uint8)
        assert zxing_symbols(blank) == zbar_symbols(blank) == ()


def test_without_the_library_of_zbar_reading_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decoders, "zbar_available", lambda: False)
    assert zbar_symbols(on_board((code("CARTON 07", "Code128", height=90), (600, 450), 0))) == ()
