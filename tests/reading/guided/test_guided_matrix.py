"""GS1 Data Matrix symbols that no decoder reads, among expected SSCCs of neighbouring serials."""

import cv2
import numpy as np
import pytest

from receiving.closing.label_symbols import sscc_data_matrix
from receiving.model import ExpectedCode, Sscc, mod10_check_digit
from receiving.reading.decoders import MATRIX, zxing_symbols
from receiving.reading.guided import guided_matrix
from receiving.reading.guided.matrix import symbol_modules
from receiving.reading.photo import read_gray
from receiving.reading.upright import upright_places
from tests.reading.photo_made import Gray, code, on_board


def sscc(serial: int) -> str:
    """A demo SSCC: GS1 prefix 952 is kept for demonstrations (GS1 General Specifications, 1.4.3)."""
    digits = f"0952000{serial:010d}"
    return digits + mod10_check_digit(digits)


EXPECTED = tuple(ExpectedCode(f"00{sscc(serial)}", "]C1") for serial in range(100, 140))


def blurred(text: str, angle: float) -> Gray:
    drawn = code(f"(00){text}", "DataMatrix", gs1=True, scale=4)
    return cv2.GaussianBlur(on_board((drawn, (200, 180), angle), size=(360, 400)), (0, 0), 2.4)


def test_the_modules_that_are_expected_are_those_of_the_labels_printed_here() -> None:
    printed = sscc_data_matrix(Sscc(sscc(117)))
    assert (symbol_modules(f"00{sscc(117)}") == ~np.array(printed.rows)).all()


@pytest.mark.parametrize("angle", [0, 20, 130, 270])
def test_a_symbol_that_is_expected_is_read_though_no_decoder_can(angle: float) -> None:
    gray = blurred(sscc(117), angle)
    assert zxing_symbols(gray, MATRIX) == ()
    (symbol,) = read_gray(gray, EXPECTED).symbols
    assert (symbol.raw, symbol.symbology, symbol.guided) == (f"00{sscc(117)}", "]d2", True)
    assert np.mean(symbol.quad_px, axis=0) == pytest.approx((200, 180), abs=5)
    across = np.subtract(symbol.quad_px[1], symbol.quad_px[0])
    assert np.hypot(*across) == pytest.approx(64, abs=6)
    turned = np.degrees(np.arctan2(across[1], across[0])) + angle
    assert (turned + 180) % 360 - 180 == pytest.approx(0, abs=8)


@pytest.mark.parametrize("serial", [99, 5_000])
def test_a_symbol_that_is_not_expected_is_not_taken_for_its_neighbour(serial: int) -> None:
    assert read_gray(blurred(sscc(serial), 20), EXPECTED).symbols == ()


def test_print_and_bars_are_not_read_as_a_matrix() -> None:
    bars = code(f"(00){sscc(117)}", "Code128", gs1=True, scale=2, height=60)
    gray = on_board((bars, (300, 200), 15), size=(400, 600))
    for place in upright_places(gray):
        assert guided_matrix(gray, place, EXPECTED) is None


def test_without_an_expected_sscc_nothing_is_compared() -> None:
    gray = blurred(sscc(117), 0)
    (place, *_) = upright_places(gray)
    assert guided_matrix(gray, place, (ExpectedCode("CARTON 07", "]C0"),)) is None
