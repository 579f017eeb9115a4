"""The optional edge to printed text; with the extra installed, on a made label."""

import numpy as np
import pytest
from PIL import Image, ImageDraw

from receiving.errors import MissingLibrary
from receiving.reading import printed
from receiving.reading.printed import printed_lines
from receiving.reading.printed_text import ocr_available
from tests.reading.photo_made import as_file


def label() -> bytes:
    page = Image.new("L", (800, 500), 235)
    for line, text in enumerate(("COLUMN 3 ROW 2", "CARTON 7 OF 24", "(00) 095200000000000110")):
        ImageDraw.Draw(page).text((60, 60 + 110 * line), text, fill=20, font_size=44)
    return as_file(np.asarray(page))


def test_without_the_extra_the_message_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printed, "ocr_available", lambda: False)
    with pytest.raises(MissingLibrary, match=r'pip install "shipment-receiving\[ocr\]", or type'):
        printed_lines("a.png", label())


@pytest.mark.skipif(not ocr_available(), reason="the optional extra for printed text (rapidocr) is not installed")
@pytest.mark.filterwarnings("default")
def test_the_lines_of_a_label_are_read_with_their_places() -> None:
    lines = printed_lines("a.png", label())
    assert [line.text for line in lines] == ["COLUMN 3 ROW 2", "CARTON 7 OF 24", "(00) 095200000000000110"]
    assert lines[0].quad_px[0] == pytest.approx((60, 65), abs=20)
