"""Real photos that ZBar and zxing-cpp do not read (ZXing black-box set, Apache-2.0), read by their expected code."""

import random
from pathlib import Path

import cv2
import pytest
import zxingcpp

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import candidate_regions, guided_symbols

PHOTOS = Path(__file__).resolve().parents[3].parent / "shared" / "photos"
SHOTS = (
    ("ean13-5/01.png", "9780679601050"),  # partly under a sticker and a finger
    ("ean13-5/08.png", "9780345460950"),  # glare across a part of the bars
    ("upca-6/12.png", "0605482330012"),  # seen from the side
)


def decoys(raw: str) -> tuple[ExpectedCode, ...]:
    """60 codes that begin with the same four digits."""
    chance = random.Random(raw)
    bodies = (raw[:4] + "".join(chance.choices("0123456789", k=8)) for _ in range(60))
    return tuple(ExpectedCode(body + mod10_check_digit(body), "]E0") for body in bodies)


@pytest.mark.skipif(not PHOTOS.exists(), reason="needs the photos in ../shared/photos beside the repository")
@pytest.mark.parametrize(("file", "raw"), SHOTS)
def test_a_blurred_photo_is_read_by_the_expected_code_and_by_no_other(file, raw):
    gray = cv2.imread(str(PHOTOS / file), cv2.IMREAD_GRAYSCALE)
    regions = candidate_regions(gray)
    assert zxingcpp.read_barcodes(gray) == []
    assert not any(guided_symbols(gray, regions, decoys(raw)))
    found = [s for s in guided_symbols(gray, regions, (*decoys(raw), ExpectedCode(raw, "]E0"))) if s]
    assert [(s.raw, s.alternatives) for s in found] == [(raw, ())]
    assert found[0].confidence > 0.999
