"""Advice on photos with one known fault each."""

import cv2
import numpy as np

from receiving.reading.photo import photo_advice, read_gray, region_fault
from receiving.reading.region import BarRegion
from tests.reading.photo_made import code, on_board

BARS = code("CARTON-0123456789", "Code128", height=120)
LABEL = on_board((BARS, (600, 450), 0), noise=0)
PLACE = BarRegion(600, 450, 0.0, BARS.shape[1] - 60, 110, alternations=110)


def test_a_sharp_label_has_no_fault() -> None:
    assert region_fault(LABEL, PLACE) == ""


def test_a_blurred_label_is_called_blurred() -> None:
    assert region_fault(cv2.GaussianBlur(LABEL, (0, 0), 5), PLACE) == "blurred"


def test_a_dark_label_is_called_dark() -> None:
    assert region_fault((LABEL // 8).astype(np.uint8), PLACE) == "dark"


def test_a_label_under_a_lamp_is_called_glaring() -> None:
    lit = LABEL.copy()
    lit[:, 480:680] = 255
    assert region_fault(lit, PLACE) == "glare"


def test_a_far_label_is_called_small() -> None:
    far = BarRegion(300, 225, 0.0, 200, 40, alternations=110)
    assert region_fault(cv2.resize(LABEL, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), far) == "small"


def test_the_commonest_fault_is_the_one_sentence() -> None:
    blurred = cv2.GaussianBlur(LABEL, (0, 0), 5)
    assert photo_advice(blurred, [PLACE, PLACE], 3).startswith("A label is blurred")


def test_a_photo_on_which_all_was_read_needs_no_advice() -> None:
    assert read_gray(LABEL).advice == ""


def test_a_black_photo_asks_for_light() -> None:
    assert "too dark" in read_gray(np.full((300, 400), 8, np.uint8)).advice
