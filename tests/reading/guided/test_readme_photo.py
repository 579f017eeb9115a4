"""The photo that the README shows: no decoder reads it, guided reading does, and only with the right code expected."""

from pathlib import Path

import cv2
import zxingcpp

from receiving.model import ExpectedCode
from receiving.reading.decoders import zbar_symbols
from receiving.reading.image import gray_photo
from receiving.reading.photo import read_photo

PHOTO = Path(__file__).parent / "photos" / "blurred_label.jpg"
SHOWN = "00195200041700000199"
SERIALS = tuple(
    ExpectedCode(f"00{sscc}", "]C1")
    for sscc in (
        "195200041700000168",
        "195200041700000175",
        "195200041700000182",
        "195200041700000199",
        "195200041700000205",
        "195200041700000212",
    )
)


def test_no_decoder_reads_the_photo() -> None:
    data = PHOTO.read_bytes()
    gray = gray_photo(PHOTO.name, data)
    assert zxingcpp.read_barcodes(gray) == []
    assert zbar_symbols(gray) == ()
    assert cv2.barcode.BarcodeDetector().detectAndDecode(gray)[0] == ""
    assert read_photo(PHOTO.name, data).symbols == ()


def test_guided_reading_reads_it_among_neighbouring_serials() -> None:
    (symbol,) = read_photo(PHOTO.name, PHOTO.read_bytes(), expected=SERIALS).symbols
    assert (symbol.raw, symbol.guided, symbol.alternatives) == (SHOWN, True, ())


def test_without_the_right_code_nothing_is_read() -> None:
    others = tuple(code for code in SERIALS if code.raw != SHOWN)
    assert read_photo(PHOTO.name, PHOTO.read_bytes(), expected=others).symbols == ()
