"""Labels of which a part is covered, washed out by glare or outside the picture."""

import cv2
import numpy as np
import pytest

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import guided_symbols
from receiving.reading.guided.decision import shows_bars
from receiving.reading.guided.patterns import blur_rows, patterns, render_patterns
from receiving.reading.guided.profile import Band, Profile

PX, QUIET, INK, PAPER = 4, 10, 40, 220


def sscc(serial: int) -> ExpectedCode:
    body = f"0952123450{serial:07d}"
    return ExpectedCode("00" + body + mod10_check_digit(body), "]C1")


SHIPMENT = tuple(sscc(serial) for serial in range(4100, 4140))


def photo(code: ExpectedCode) -> np.ndarray:
    """A blurred photo of a label, (height, width), grey levels."""
    bars = render_patterns(patterns(code)[:1], PX, QUIET)[0]
    shot = np.full((200, len(bars)), float(PAPER))
    shot[40:160] = PAPER - (PAPER - INK) * bars
    return cv2.GaussianBlur(shot, (0, 0), 2.5)


def covered(shot: np.ndarray, left: float, right: float, grey: float = 60.0) -> np.ndarray:
    """The photo with the columns between two shares of the symbol's length under something plain."""
    spoiled, modules = shot.copy(), shot.shape[1] / PX - 2 * QUIET
    spoiled[:, round(PX * (QUIET + left * modules)) : round(PX * (QUIET + right * modules))] = grey
    return spoiled


def read(shot: np.ndarray, expected: tuple[ExpectedCode, ...], left: float = 0.0, right: float = 1.0):
    wide = shot.shape[1]
    quad = ((left * wide, 35.0), (right * wide, 35.0), (right * wide, 165.0), (left * wide, 165.0))
    (symbol,) = guided_symbols(np.clip(shot, 0, 255).astype(np.uint8), [quad], expected)
    return symbol


@pytest.mark.parametrize("grey", (25.0, 120.0, 220.0))
def test_a_label_with_a_covered_beginning_is_read_by_what_is_seen(grey):
    symbol = read(covered(photo(SHIPMENT[7]), -1, 0.17, grey), SHIPMENT, left=0.22)
    assert symbol is not None
    assert (symbol.raw, symbol.alternatives) == (SHIPMENT[7].raw, ())


def test_the_corners_of_a_partly_covered_symbol_include_what_is_hidden():
    symbol = read(covered(photo(SHIPMENT[7]), -1, 0.17), SHIPMENT, left=0.22)
    assert abs(symbol.quad_px[0][0] - PX * QUIET) < 3 * PX


def test_a_label_that_reaches_out_of_the_picture_is_read_by_what_is_seen():
    shot = photo(SHIPMENT[7])
    symbol = read(shot[:, round(PX * (QUIET + 20)) :], SHIPMENT)
    assert symbol is not None and symbol.raw == SHIPMENT[7].raw


def test_a_hole_in_the_middle_is_left_out():
    symbol = read(covered(photo(SHIPMENT[7]), 0.3, 0.38, 235.0), SHIPMENT)
    assert symbol is not None and symbol.raw == SHIPMENT[7].raw


@pytest.mark.parametrize("hidden", (0.2, 0.25, 0.3, 0.5))
def test_a_label_whose_serial_is_hidden_is_not_read_as_any(hidden):
    symbol = read(covered(photo(SHIPMENT[7]), 1 - hidden, 2), SHIPMENT, right=1 - hidden)
    assert symbol is None or symbol.alternatives


@pytest.mark.parametrize("hidden", (0.0, 0.1, 0.17))
@pytest.mark.parametrize("away", (1, 13, 460))
def test_a_covered_label_that_is_not_expected_is_not_read(hidden, away):
    shot = covered(photo(sscc(4139 + away)), -1, hidden)
    assert read(shot, SHIPMENT, left=hidden) is None


@pytest.mark.parametrize(("code", "blur_modules"), ((SHIPMENT[7], 1.2), (ExpectedCode("9780679601050", "]E0"), 1.7)))
def test_bars_show_through_any_blur_that_is_read_and_a_few_strokes_of_print_do_not(code, blur_modules):
    pattern = patterns(code)[0]
    dark = blur_rows(render_patterns([pattern], PX, QUIET), blur_modules * PX)[0]
    strokes = 0.5 - 0.5 * np.cos(np.linspace(0, 6 * np.pi, len(dark)))
    warp = np.array([len(dark) / 2 - 0.5, pattern.modules * PX / 2, 0.0, 0.0])

    def profile(darkness: np.ndarray) -> Profile:
        values = (PAPER - (PAPER - INK) * darkness).astype(np.float32)
        return Profile(values, Band(PX * QUIET, len(values) - PX * QUIET, 0, 1), np.ones_like(values))

    assert shows_bars(profile(dark), pattern, warp)
    assert not shows_bars(profile(strokes), pattern, warp)
