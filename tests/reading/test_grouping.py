"""Which symbols stand on one label, and which unread bars need no closer photo."""

import cv2
import numpy as np

from receiving.model import ExpectedCode, Symbol
from receiving.reading.acceptance import as_decoded, label_numbers, names_carton
from receiving.reading.decoders import Decoded
from receiving.reading.photo import read_gray
from tests.reading.photo_made import Gray, code, on_board

# Demo SSCCs: GS1 prefix 952 is kept for demonstrations (GS1 General Specifications, 1.4.3).
FIRST, SECOND = "095200000000000110", "095200000000000127"
LINK = "https://id.gs1.org/00/"


def blurred_bars(sscc: str) -> Gray:
    """Bars that no decoder reads any more; the symbol beside them is printed larger and stays sharp."""
    return cv2.GaussianBlur(code(f"(00){sscc}", "Code128", gs1=True, scale=2, height=110), (0, 0), 2.6)


def square(x: float, y: float, side: float = 60) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def test_an_sscc_is_named_by_an_element_string_and_by_a_digital_link() -> None:
    """GS1 Digital Link Standard, URI Syntax: the primary key's AI and value in the path."""
    assert (
        names_carton(f"00{FIRST}") == names_carton(f"{LINK}{FIRST}") == names_carton(f"{LINK}{FIRST}?4000=1") == FIRST
    )
    for wrong in (
        f"{LINK}{FIRST[:-1]}1",
        f"{LINK}{FIRST}7",
        "https://id.gs1.org/01/09520123456788",
        "SECTION North",
        "",
    ):
        assert names_carton(wrong) == "", wrong


def test_bars_read_by_comparison_share_the_label_of_the_link_beside_them() -> None:
    bars = Symbol(f"00{FIRST}", "]C1", ((100, 180), (360, 180), (360, 260), (100, 260)), "guided", guided=True)
    link = Decoded(LINK + FIRST, "]Q1", "QRCode", square(280, 100), "zxing-cpp")
    other = Decoded(LINK + SECOND, "]Q1", "QRCode", square(100, 100), "zxing-cpp")
    assert label_numbers([link, other, as_decoded(bars)]) == (1, 2, 1)


def test_blurred_bars_of_a_label_whose_link_was_read_are_neither_unread_nor_compared() -> None:
    gray = on_board((blurred_bars(FIRST), (400, 500), 8), (code(LINK + FIRST, "QRCode", scale=5), (420, 345), 8))
    for expected in ((), [ExpectedCode(f"00{FIRST}", "]C1")]):
        reading = read_gray(gray, expected)
        assert [s.raw for s in reading.symbols] == [LINK + FIRST]
        assert (reading.unread, reading.advice) == ((), "")


def test_a_label_beside_a_read_one_stays_unread() -> None:
    gray = on_board(
        (blurred_bars(FIRST), (400, 300), 0),
        (code(LINK + FIRST, "QRCode", scale=4), (400, 160), 0),
        (blurred_bars(SECOND), (400, 480), 0),
    )
    (region,) = read_gray(gray).unread
    assert np.mean(region.quad_px, axis=0)[1] > 420


def test_bars_beside_a_matrix_code_that_names_no_carton_stay_unread() -> None:
    gray = on_board((blurred_bars(FIRST), (400, 500), 0), (code("SECTION North", "QRCode", scale=5), (400, 370), 0))
    assert len(read_gray(gray).unread) == 1


def test_when_the_time_is_over_what_was_read_is_kept_and_the_rest_is_unread() -> None:
    gray = on_board(
        (code(f"(00){FIRST}", "Code128", gs1=True, scale=3, height=110), (600, 200), 0),
        (blurred_bars(SECOND), (600, 600), 0),
    )
    expected = [ExpectedCode(f"00{SECOND}", "]C1")]
    assert [s.guided for s in read_gray(gray, expected).symbols] == [False, True]
    hasty = read_gray(gray, expected, budget_s=0.0)
    assert [s.raw for s in hasty.symbols] == [f"00{FIRST}"]
    assert len(hasty.unread) == 1
