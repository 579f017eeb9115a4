"""Labels seen from the side: the ends of their bars tell by how much."""

import cv2
import numpy as np
import pytest

from receiving.model import ExpectedCode
from receiving.reading.guided import guided_symbols
from receiving.reading.guided.ends import bar_ends
from receiving.reading.guided.fit import evenness
from receiving.reading.guided.patterns import patterns, render_patterns
from receiving.reading.guided.profile import striped_band
from receiving.reading.guided.rectify import bar_patch

CODE = ExpectedCode("CARTON-17", "]A0")


def from_the_side(far: float) -> tuple[np.ndarray, tuple]:
    """A label of which the right end looks ``far`` times as high as the left one, and the rough quad of its bars."""
    bars = 1 - render_patterns(patterns(CODE)[:1], 4, 10.0)[0]
    label = np.full((240, len(bars)), 225.0)
    label[40:200] = 30 + 195 * bars
    wide, high = len(bars), 240
    # A plane that recedes to the right: lengths shrink by `far`, modules by its square (pinhole camera).
    recede = np.array([[1, 0, 0], [0, 1, 0], [(1 / far - 1) / wide, 0, 1]], np.float64)
    level = np.array([[1, 0, 20], [0, 1, 20], [0, 0, 1]], np.float64)
    move = level @ recede
    photo = cv2.warpPerspective(label, move, (wide + 40, high + 40), flags=cv2.INTER_AREA, borderValue=225.0)
    corners = np.array([[[40, 40], [wide - 40, 40], [wide - 40, 200], [40, 200]]], np.float64)
    quad = tuple((float(x), float(y)) for x, y in cv2.perspectiveTransform(corners, move)[0])
    return cv2.GaussianBlur(photo, (0, 0), 0.8).astype(np.uint8), quad


@pytest.mark.parametrize("far", (1.0, 0.8, 0.65))
def test_the_bars_of_a_label_seen_from_the_side_become_equally_long(far):
    photo, quad = from_the_side(far)
    found = bar_patch(photo.astype(np.float32), quad)
    assert found is not None
    ends = bar_ends(found[0].grey, found[1])
    assert ends is not None and ends.is_square()


def test_the_ends_of_bars_show_how_much_shorter_the_far_ones_look():
    photo, _ = from_the_side(0.7)
    band = striped_band(photo.astype(np.float32))
    assert band is not None
    ends = bar_ends(photo.astype(np.float32), band)
    assert ends is not None and not ends.is_square()
    near, far = ends.lengths()
    # From the first bar to the last: 10 modules of quiet zone at each end of 195 do not count.
    assert far / near == pytest.approx(0.7, abs=0.06)


def test_bars_that_run_out_of_the_picture_have_no_ends():
    photo, _ = from_the_side(0.8)
    grey = photo.astype(np.float32)[110:150]
    band = striped_band(grey)
    assert band is not None
    assert bar_ends(grey, band) is None


def test_a_label_seen_so_much_from_the_side_that_modules_shrink_to_half_is_read():
    photo, quad = from_the_side(0.7)
    (symbol,) = guided_symbols(photo, [quad], [CODE, ExpectedCode("CARTON-71", "]A0")])
    assert symbol is not None and (symbol.raw, symbol.alternatives) == (CODE.raw, ())


def test_a_warp_that_folds_over_shows_no_label():
    # Fitted to the print beside a label (ZXing black-box photo upca-2/34): its modules shrink to less than nothing.
    assert evenness(np.array([119.8, 89.4, -30.0, -10.6])) < 0
    assert evenness(np.array([350.2, 104.1, -0.9, -0.4])) == pytest.approx(0.95, abs=0.03)
    assert evenness(np.array([0.0, 100.0, 0.0, 0.0])) == 1.0
