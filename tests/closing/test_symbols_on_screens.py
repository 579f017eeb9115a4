"""Symbols for pages and terminals, drawn again from what was written and read by a decoder of another house."""

import re
from itertools import pairwise

import numpy as np
import pytest
import zxingcpp

from receiving.closing import modules_svg, qr_svg, qr_terminal, scanner_test_symbols
from receiving.closing.label_printing import _counted, _expanded, _shortened, _times
from receiving.closing.label_symbols import Modules

TEXT = "https://192.0.2.7:8418/ca"
RUN = re.compile(r"M(\d+) (\d+)h(\d+)v(\d+)h-(\d+)[zZ]")


def drawn(svg: str) -> np.ndarray:
    """The picture that the last path of an SVG makes, in its own units, 0 for black."""
    size = re.search(r'viewBox="0 0 (\d+) (\d+)"', svg) or re.search(r'width="(\d+)" height="(\d+)"', svg)
    assert size
    image = np.full((int(size[2]), int(size[1])), 255, np.uint8)
    for x, y, wide, high, back in (map(int, run) for run in RUN.findall(svg.rpartition("<path d=")[2])):
        assert wide == back
        image[y : y + high, x : x + wide] = 0
    return image


def quiet(image: np.ndarray) -> set[int]:
    """The widths of the white margins on the four sides."""
    rows, columns = (np.flatnonzero((image == 0).any(axis=axis)) for axis in (1, 0))
    return {rows[0], columns[0], len(image) - 1 - rows[-1], len(image[0]) - 1 - columns[-1]}


def read(image: np.ndarray, scale: int = 4) -> tuple[str, str]:
    found = zxingcpp.read_barcode(np.kron(image, np.ones((scale, scale), np.uint8)))
    assert found is not None
    return found.symbology_identifier, found.text


@pytest.mark.parametrize("scale", [1, 4, 6])
def test_a_qr_code_on_a_page_is_read_and_has_its_quiet_zone(scale: int) -> None:
    svg = qr_svg(TEXT, scale=scale)
    assert svg.startswith("<svg")
    image = drawn(svg)
    assert read(image) == ("]Q1", TEXT)
    assert quiet(image) == {4 * scale}, "4 modules (ISO/IEC 18004)"
    assert qr_svg(TEXT) == qr_svg(TEXT, scale=4)


def test_a_qr_code_on_a_terminal_is_half_blocks_with_its_quiet_zone() -> None:
    lines = qr_terminal(TEXT).rstrip("\n").split("\n")
    assert {len(line) for line in lines} == {len(lines[0])}
    light = {" ": (0, 0), "▀": (255, 0), "▄": (0, 255), "█": (255, 255)}  # shown light on dark
    image = np.array([[light[sign][half] for sign in line] for line in lines for half in (0, 1)], np.uint8)
    image = image[: len(image[0])]  # the lower half of the last line is below the symbol
    assert read(image) == ("]Q1", TEXT)
    assert quiet(image) == {4}


def test_the_symbols_that_try_a_scanner_are_read_as_they_were_meant() -> None:
    envelope = "[)>\x1e06\x1dS1\x1e\x04"
    bars, matrix = scanner_test_symbols((("00", "395200000000000012"), ("10", "AB")), envelope)
    linear = drawn(modules_svg(bars, row_modules=40))
    assert read(linear, 2) == ("]C1", "(00)395200000000000012(10)AB")
    assert linear.shape == (60, bars.width + 20) and quiet(linear) == {10}
    square = drawn(modules_svg(matrix))
    assert zxingcpp.read_barcode(np.kron(square, np.ones((4, 4), np.uint8))).bytes == envelope.encode()
    assert (quiet(square), len({*square.shape})) == ({1}, 1)


def test_a_symbol_for_a_page_names_itself_and_stands_on_white() -> None:
    svg = modules_svg(Modules("Bars", "x", ((True, False, True, True),), 2), row_modules=3)
    assert 'viewBox="0 0 8 7"' in svg and 'aria-label="Bars"' in svg
    assert '<path fill="#fff" d="M0 0h8v7H0z"/>' in svg
    assert RUN.findall(svg.rpartition("<path d=")[2]) == [("2", "2", "1", "3", "1"), ("4", "2", "2", "3", "2")]


# --- the compression of a label printer's pictures -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "written"),
    [(1, ""), (2, "H"), (19, "Y"), (20, "g"), (21, "gG"), (39, "gY"), (40, "h"), (399, "yY"), (400, "z"), (401, "zG"),
     (820, "zzg")],
)  # fmt: skip
def test_a_count_is_written_in_letters(count: int, written: str) -> None:
    assert _times(count) == written
    assert _counted("A" * count) == f"{written}A"
    assert _expanded(f"{written}A", count // 2 or 1)[:1] == (["A" * count] if count % 2 == 0 else [])


@pytest.mark.parametrize(
    ("row", "written"),
    [
        ("00000000", ","),
        ("FFFFFFFF", "!"),
        ("A0000000", "A,"),
        ("AAAAA000", "KA,"),
        ("AAAAAA00", "LA,"),
        ("AAAAAAA0", "MA0"),
        ("AAAAAAAA", "NA"),
        ("00FFFFFF", "H0!"),
        ("0000000F", "M0F"),
    ],
)
def test_the_end_of_a_row_is_cut_where_that_is_shorter(row: str, written: str) -> None:
    assert _shortened(row, 4) == written
    assert _expanded(written, 4) == [row]


def test_rows_that_repeat_are_a_sign_each() -> None:
    from receiving.closing.label_printing import _compressed

    rows = ["AA00", "AA00", "0000", "0000", "FFFF"]
    written = list(_compressed(rows, 2))
    assert [sign == ":" for sign in written] == [False, *(one == two for one, two in pairwise(rows))]
    assert _expanded("".join(written), 2) == rows
