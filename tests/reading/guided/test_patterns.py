"""Rendered patterns are read by zxing-cpp, an encoder and decoder of its own: the bars are those of the standards."""

import numpy as np
import pytest
import zxingcpp

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import patterns as code128
from receiving.reading.guided.patterns import patterns, render_patterns

CODES = (
    ExpectedCode("00095212345000000127", "]C1"),
    ExpectedCode("10AB123\x1d21x77", "]C1"),
    ExpectedCode("Code 128", "]C0"),
    ExpectedCode("12345", "]C0"),
    ExpectedCode("ab123456c7", "]C0"),
    ExpectedCode("005-3379497200006", "]C0"),
    ExpectedCode("9780679601050", "]E0"),
    ExpectedCode("12345670", "]E4"),
    ExpectedCode("19521234500015", "]I1"),
    ExpectedCode("CARTON 17-A", "]A0"),
)


@pytest.mark.parametrize("code", CODES, ids=lambda code: f"{code.symbology} {code.raw!r}")
def test_every_printed_form_of_a_code_is_read_as_that_code_by_another_library(code):
    forms = patterns(code)
    assert forms
    for form in forms:
        row = (255 * (1 - render_patterns([form], 6, 12.0)[0])).astype(np.uint8)
        (seen,) = zxingcpp.read_barcodes(np.repeat(row[None], 80, 0))
        assert (seen.bytes.decode(), seen.symbology_identifier) == (code.raw, code.symbology)


def test_a_upc_a_of_twelve_digits_has_the_bars_of_its_ean_13():
    (upc,), (ean,) = patterns(ExpectedCode("071831007995", "]E0")), patterns(ExpectedCode("0071831007995", "]E0"))
    assert upc.edges == ean.edges


ZERO_SUPPRESSED = ("06510000432", "01230000045", "01234000005", *(f"0{n}00007" for n in range(12340, 12350)))
"""Numbers of all four ways in which zeros are left out, and of all ten check digits, which the sets of digits tell."""


@pytest.mark.parametrize("number", ZERO_SUPPRESSED)
def test_a_upc_a_with_a_run_of_zeros_may_be_printed_as_a_upc_e(number):
    raw = number + mod10_check_digit(number)
    _, short = patterns(ExpectedCode(raw, "]E0"))
    row = (255 * (1 - render_patterns([short], 6, 12.0)[0])).astype(np.uint8)
    (seen,) = zxingcpp.read_barcodes(np.repeat(row[None], 80, 0))
    assert (seen.format, seen.bytes.decode()[-12:]) == (zxingcpp.BarcodeFormat.UPCE, raw)
    assert patterns(ExpectedCode(raw.zfill(13), "]E0"))[1].edges == short.edges


def test_an_odd_run_of_digits_is_printed_in_more_than_one_way():
    assert len({form.edges for form in patterns(ExpectedCode("12345", "]C0"))}) > 1


def test_encoders_that_take_each_run_of_digits_for_itself_and_plain_ones_are_known():
    # Labels photographed for the ZXing black-box set (code128-2/01 to 04) are printed like the first of these.
    b, c, to_b, to_c = code128.START_B, code128.START_C, code128.CODE_B, code128.CODE_C
    forms = code128.encodings("005-3379497200006", gs1=False)
    assert (c, 0, to_b, 21, 13, to_c, 33, 79, 49, 72, 0, 0, to_b, 22) in forms
    assert (b, 16, 16, 21, 13, to_c, 33, 79, 49, 72, 0, 0, to_b, 22) in forms
    assert (c, 12, 34, to_b, 21) in code128.encodings("12345", gs1=False)
    assert (b, *(ord(digit) - 32 for digit in "12345")) in code128.encodings("12345", gs1=False)


@pytest.mark.parametrize(
    "code",
    (
        ExpectedCode("9780679601051", "]E0"),
        ExpectedCode("123", "]I1"),
        ExpectedCode("lower", "]A0"),
        ExpectedCode("", "]C0"),
        ExpectedCode("é", "]C0"),
        ExpectedCode("12345", "]Q3"),
    ),
    ids=lambda code: f"{code.symbology} {code.raw!r}",
)
def test_what_a_symbology_cannot_carry_has_no_pattern(code):
    assert patterns(code) == ()


def test_the_check_character_of_a_worked_example():
    # ISO/IEC 15417 algorithm, worked example "Wikipedia" in code set B: check character 88 (Wikipedia, Code 128).
    characters = (code128.START_B, *(ord(c) - 32 for c in "Wikipedia"))
    assert code128.check_character(characters) == 88
