import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.model import ExpectedCode, has_valid_check_digit, mod10_check_digit
from receiving.reading.guided.rivals import rivals


def differing(a: str, b: str) -> int:
    return sum(x != y for x, y in zip(a, b, strict=True))


@given(st.text("0123456789", min_size=12, max_size=12))
def test_the_rivals_of_an_ean_are_all_valid_codes_that_differ_in_two_digits(body):
    raw = body + mod10_check_digit(body)
    found = rivals(ExpectedCode(raw, "]E0"))
    # Any change of one digit is undone for the check digit by exactly one change of any other: 13 * 12 / 2 * 9.
    assert len(found) == 702
    assert all(has_valid_check_digit(r.raw) and differing(r.raw, raw) == 2 for r in found)


@given(st.text("0123456789", min_size=17, max_size=17))
def test_the_rivals_of_an_sscc_are_valid_and_hold_the_serials_next_to_it(body):
    raw = "00" + body + mod10_check_digit(body)
    found = {rival.raw for rival in rivals(ExpectedCode(raw, "]C1"))}
    assert raw not in found
    assert all(has_valid_check_digit(rival[2:]) and rival.startswith("00") for rival in found)
    after = str(int(body) + 1).zfill(17)
    assert len(after) > 17 or "00" + after + mod10_check_digit(after) in found


@pytest.mark.parametrize(
    ("code", "rival"),
    (
        (ExpectedCode("CARTON-17", "]A0"), "CARTON-71"),
        (ExpectedCode("CARTON-17", "]A0"), "CARTON-18"),
        (ExpectedCode("BOX 0417", "]C0"), "BOX 0427"),
        (ExpectedCode("070429", "]I0"), "070428"),
    ),
)
def test_a_code_without_check_digit_has_rivals_one_character_or_one_transposition_away(code, rival):
    assert rival in {r.raw for r in rivals(code)}


@pytest.mark.parametrize("away", (-100, -41, 60, 100))
def test_the_serials_that_a_printer_gives_just_before_and_after_are_rivals(away):
    body = "0952123450001000"
    serials = (str(int("1" + body) + by) for by in (0, away))
    here, there = (ExpectedCode("00" + serial + mod10_check_digit(serial), "]C1") for serial in serials)
    assert there in rivals(here)
