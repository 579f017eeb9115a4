"""Codes of few pixels a module, turned upright before they are read."""

import math

import cv2
import numpy as np
import pytest

from receiving.reading.photo import read_gray
from receiving.reading.upright import grid_turns_deg, upright_attempts, upright_places
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


def direction_off(angle: float, expected: float) -> float:
    """How far two directions of a grid are apart, which looks the same after a quarter turn, degrees."""
    return (angle - expected + 45) % 90 - 45


@pytest.mark.parametrize("angle", [-40, -17, 0, 8, 33])
def test_the_turn_of_long_rows_of_one_pixel_a_module_is_found_to_half_a_degree(angle: int) -> None:
    gray = turned(code(TEXT, "PDF417", scale=1), angle)
    (place,) = upright_places(gray)
    _, rows = grid_turns_deg(gray, place)
    assert direction_off(place.angle_deg + rows, -angle) == pytest.approx(0, abs=0.6)


@pytest.mark.parametrize("slant", [-6, 4, 6])
def test_columns_that_lean_against_the_rows_get_a_turn_of_their_own(slant: int) -> None:
    drawn = code(TEXT, "PDF417", scale=3)
    lean = math.tan(math.radians(slant))
    shear = np.array([[1, lean, max(0, -lean) * drawn.shape[0] + 40], [0, 1, 40]])
    gray = cv2.warpAffine(drawn, shear, (drawn.shape[1] + 120, drawn.shape[0] + 80), borderValue=255)
    (place,) = upright_places(gray)
    columns, rows = grid_turns_deg(gray, place)
    assert columns - rows == pytest.approx(-slant, abs=0.75)
    assert {a.raw for attempt in upright_attempts(gray, place) for a in attempt.matrix(invert=False)} == {TEXT}


def test_a_code_of_large_modules_is_one_place() -> None:
    gray = turned(code(TEXT, "PDF417", scale=11), 20)
    (symbol,) = read_gray(gray).symbols
    assert symbol.raw == TEXT


def test_a_small_picture_of_one_turned_matrix_code_is_read() -> None:
    gray = turned(code("CARTON 07", "DataMatrix", scale=2), 45)
    assert max(gray.shape) < 100
    assert [s.raw for s in read_gray(gray).symbols] == ["CARTON 07"]


def test_plain_paper_has_no_place_to_look_at() -> None:
    gray = np.full((300, 400), 200, np.uint8)
    assert upright_places(gray) == () and read_gray(gray).symbols == ()
