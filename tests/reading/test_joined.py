"""Equal labels above each other, which a decoder gives as one answer."""

import cv2
import numpy as np
import pytest

from receiving.reading.photo import read_gray
from tests.reading.photo_made import code, on_board

# A demo SSCC: GS1 prefix 952 is kept for demonstrations (GS1 General Specifications, 1.4.3).
TEXT = "00095200000000000110"
BARS = code(f"(00){TEXT[2:]}", "Code128", gs1=True, scale=2, height=80)


@pytest.mark.parametrize("apart", [96, 110, 160, 200])
def test_two_equal_labels_above_each_other_are_two(apart: int) -> None:
    symbols = read_gray(on_board((BARS, (600, 300), 0), (BARS, (600, 300 + apart), 0))).symbols
    assert [s.raw for s in symbols] == [TEXT] * 2
    assert len({s.label for s in symbols}) == 2
    middles = sorted(float(np.mean(s.quad_px, axis=0)[1]) for s in symbols)
    assert middles == pytest.approx([300, 300 + apart], abs=4)


def test_three_equal_labels_above_each_other_are_three() -> None:
    symbols = read_gray(on_board(*((BARS, (600, 200 + 110 * k), 0) for k in range(3)))).symbols
    assert [s.raw for s in symbols] == [TEXT] * 3


@pytest.mark.parametrize(("top", "bottom"), [(298, 303), (275, 290), (310, 335)])
@pytest.mark.parametrize("level", [130, 250])
def test_tape_or_glare_across_one_symbol_leaves_it_one(top: int, bottom: int, level: int) -> None:
    gray = on_board((code(f"(00){TEXT[2:]}", "Code128", gs1=True, scale=2, height=110), (600, 300), 0))
    cv2.rectangle(gray, (380, top), (820, bottom), level, -1)
    assert [s.raw for s in read_gray(gray).symbols] == [TEXT]
