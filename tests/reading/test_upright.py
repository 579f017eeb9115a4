"""Codes of few pixels a module, turned upright before they are read."""

import math

import cv2
import numpy as np
import pytest

from receiving.reading.photo import read_gray
from receiving.reading.upright import grid_turn_deg, whole_photo
from tests.reading.photo_made import code

TEXT = "CARTON 07 OF 40 SECTION NORTH"


def turned(image: np.ndarray, angle: float) -> np.ndarray:
    """The picture turned anticlockwise on white paper that holds all of it."""
    height, width = image.shape
    c, s = abs(math.cos(math.radians(angle))), abs(math.sin(math.radians(angle)))
    size = (round(width * c + height * s), round(height * c + width * s))
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), angle, 1.0)
    turn[:, 2] += ((size[0] - width) / 2, (size[1] - height) / 2)
    return cv2.warpAffine(image, turn, size, flags=cv2.INTER_CUBIC, borderValue=255)


@pytest.mark.parametrize("angle", [10, 30, 45, 60])
def test_a_pdf417_of_one_pixel_a_module_is_read_at_any_angle(angle: int) -> None:
    gray = turned(code(TEXT, "PDF417", scale=1), angle)
    (symbol,) = read_gray(gray).symbols
    assert symbol.raw == TEXT
    assert np.mean(symbol.quad_px, axis=0) == pytest.approx((gray.shape[1] / 2, gray.shape[0] / 2), abs=8)


@pytest.mark.parametrize("angle", [-40, -17, 0, 8, 33])
def test_the_turn_of_a_code_of_one_pixel_a_module_is_found_to_half_a_degree(angle: int) -> None:
    gray = turned(code(TEXT, "PDF417", scale=1), angle)
    assert grid_turn_deg(gray, whole_photo(gray)) == pytest.approx(-angle, abs=0.6)


def test_plain_paper_has_no_turn_to_look_at() -> None:
    assert read_gray(np.full((300, 400), 200, np.uint8)).symbols == ()
