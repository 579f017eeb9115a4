import cv2
import numpy as np
import pytest

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import guided_symbols
from receiving.reading.guided.patterns import patterns
from receiving.reading.guided.templates import rendered


def label(code: ExpectedCode, module_px: int = 4, blur_px: float = 2.0) -> tuple[np.ndarray, tuple]:
    """A photo of one printed code on a white label, and the rough quad around its bars."""
    bars = 1 - rendered(patterns(code)[:1], module_px, 10.0)[0]
    photo = np.full((220, len(bars)), 225.0)
    photo[50:170] = 30 + 195 * bars
    photo = cv2.GaussianBlur(photo, (0, 0), blur_px).astype(np.uint8)
    inset = 8 * module_px
    quad = ((inset, 45.0), (len(bars) - inset, 45.0), (len(bars) - inset, 175.0), (inset, 175.0))
    return photo, quad


def checked(digits: str) -> str:
    return digits + mod10_check_digit(digits)


def sscc(serial: int) -> ExpectedCode:
    return ExpectedCode("00" + checked(f"0952123450{serial:07d}"), "]C1")


SHIPMENT = tuple(sscc(serial) for serial in range(1000, 1040))
ONE_OF_EACH = (
    sscc(1007),
    ExpectedCode(checked("952000012345"), "]E0"),
    ExpectedCode(checked("1952000001234"), "]I1"),
    ExpectedCode("CARTON-17", "]A0"),
    ExpectedCode("BOX 0417-3", "]C0"),
)


@pytest.mark.parametrize("code", ONE_OF_EACH, ids=lambda code: code.symbology)
def test_a_printed_code_is_read_among_the_codes_of_its_shipment(code):
    photo, quad = label(code)
    (symbol,) = guided_symbols(photo, [quad], (*SHIPMENT, *ONE_OF_EACH))
    assert symbol is not None
    assert (symbol.raw, symbol.symbology, symbol.guided, symbol.alternatives) == (code.raw, code.symbology, True, ())


def test_a_carton_that_is_not_expected_is_not_taken_for_its_neighbour():
    photo, quad = label(sscc(1040))
    assert guided_symbols(photo, [quad], SHIPMENT) == (None,)
