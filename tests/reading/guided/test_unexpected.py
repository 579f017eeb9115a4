"""What bars spell when nothing is expected, found from a wrong code that was laid over them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import ExpectedCode, has_valid_check_digit, mod10_check_digit
from receiving.reading.guided import patterns as code128
from receiving.reading.guided.compare import weigh
from receiving.reading.guided.fit import Fitted, explain_profile, fit_patterns, warp_of
from receiving.reading.guided.patterns import Pattern, blur_rows, patterns, render_patterns
from receiving.reading.guided.profile import Band, Profile
from receiving.reading.guided.search import Pose
from receiving.reading.guided.unexpected import CONSECUTIVE, consecutive_patterns, likeliest_patterns

PX, QUIET = 4, 10


def checked(body: str, symbology: str) -> ExpectedCode:
    return ExpectedCode(body + mod10_check_digit(body), symbology)


def sscc(serial: int) -> ExpectedCode:
    body = f"0952123450{serial:07d}"
    return ExpectedCode("00" + body + mod10_check_digit(body), "]C1")


def seen(pattern: Pattern, blur_modules: float = 0.6) -> Profile:
    """A clean profile of printed bars."""
    light = 200 - 150 * blur_rows(render_patterns([pattern], PX, QUIET), blur_modules * PX)[0]
    band = Band(PX * QUIET, len(light) - PX * QUIET, 0, 1)
    return Profile(light.astype(np.float32), band, np.ones(len(light), np.float32))


def laid_over(printed: Pattern, wrong: Pattern, turned: bool = False) -> tuple[Profile, Fitted]:
    """A profile of the printed bars, and the wrong pattern fitted to it."""
    profile = seen(printed)
    values = profile.values[::-1].copy() if turned else profile.values
    profile = Profile(values, profile.band, profile.weights)
    warp = warp_of(Pose(len(values) / 2 - 0.5, PX, 0.0, turned, 1.0), printed.modules)
    return profile, fit_patterns(profile, [wrong], warp[None], [turned])[0]


def spelled(printed: Pattern, wrong: Pattern) -> list[str]:
    profile, lead = laid_over(printed, wrong)
    return [p.raw for p in likeliest_patterns(explain_profile(profile, wrong, lead.warp, False))]


PAIRS = (
    (sscc(1234567), sscc(1234540)),
    (checked("952000012345", "]E0"), checked("952000012388", "]E0")),
    (ExpectedCode("071831007995", "]E0"), ExpectedCode("071831007698", "]E0")),
    (ExpectedCode("012345000072", "]E0"), ExpectedCode("011355000072", "]E0")),
    (checked("06510000432", "]E0"), checked("06520000439", "]E0")),
    (checked("9521234", "]E4"), checked("9521264", "]E4")),
    (checked("1952000001234", "]I1"), checked("1952000001274", "]I1")),
    (ExpectedCode("CARTON-17", "]A0"), ExpectedCode("CARTEN-19", "]A0")),
    (ExpectedCode("BOX 0417-3", "]C0"), ExpectedCode("BOX 0427-4", "]C0")),
    (ExpectedCode("10AB123\x1d21x77", "]C1"), ExpectedCode("10AC123\x1d21y77", "]C1")),
)


@pytest.mark.parametrize("turned", (False, True))
@pytest.mark.parametrize(("printed", "wrong"), PAIRS, ids=lambda code: f"{code.symbology} {code.raw!r}")
def test_a_label_that_is_not_expected_is_known_by_what_its_bars_spell(printed, wrong, turned):
    forms = zip(patterns(printed), patterns(wrong), strict=True)
    alike = [(a, b) for a, b in forms if a.modules == b.modules]
    for shape, other in {alike[0], alike[-1]}:  # a UPC-A that may be printed as a UPC-E has that form last
        profile, lead = laid_over(shape, other, turned)
        evidence = weigh(profile, [lead], {wrong.raw})
        assert evidence.rival < 0.005 < evidence.best
        assert weigh(profile, fit_patterns(profile, [shape], lead.warp[None], [turned]), {printed.raw}).over_rival > 1


def test_a_profile_of_which_nothing_is_trusted_tells_nothing():
    printed, wrong = (patterns(code)[0] for code in PAIRS[0])
    profile, lead = laid_over(printed, wrong)
    blind = Profile(profile.values, profile.band, np.zeros_like(profile.weights))
    assert weigh(blind, [lead], {wrong.raw}).seen == 0


@given(st.integers(0, 9_999_999), st.integers(0, 9_999_999))
@settings(max_examples=5, deadline=None)
def test_all_that_is_spelled_has_right_check_digits_and_the_shape_of_the_symbol(serial, other):
    found = spelled(patterns(sscc(serial))[0], patterns(sscc(other))[0])
    assert all(text.startswith("00") and has_valid_check_digit(text[2:]) for text in found)
    assert all(len(text) == 20 for text in found)


def test_a_misread_with_the_same_check_character_is_led_back_to_the_print():
    # "8" is 24 and "(" is 8 in set B: 16 less at the third place; at the sixth place 8 more make up for it.
    printed, wrong = "AB8DEFGH", "AB(DENGH"
    checks = {code128.add_check_and_stop(code128.encodings(text, gs1=False)[0])[-2] for text in (printed, wrong)}
    assert len(checks) == 1
    forms = [patterns(ExpectedCode(text, "]C0"))[0] for text in (printed, wrong)]
    assert printed in spelled(*forms)


@pytest.mark.parametrize("hidden", [1, 2, 5, 6])
def test_where_a_character_is_hidden_the_check_character_says_which_it_is(hidden: int) -> None:
    """Of a Code 128 "TRAY 12" one character is covered; any other in its place would have another check character."""
    printed, wrong = (patterns(ExpectedCode(text, "]C0"))[0] for text in ("TRAY 12", "TRAY 17"))
    profile, lead = laid_over(printed, wrong)
    weights = profile.weights.copy()
    weights[round((QUIET + 11 * hidden) * PX) : round((QUIET + 11 * (hidden + 1)) * PX)] = 0
    covered = Profile(profile.values, profile.band, weights)
    assert likeliest_patterns(explain_profile(covered, wrong, lead.warp, False))[0].raw == printed.raw


def test_the_numbers_next_to_a_code_are_its_nearest_neighbours_with_right_check_digits() -> None:
    (form, *_) = patterns(ExpectedCode("4006381333931", "]E0"))
    near = {p.raw for p in consecutive_patterns(form)}
    assert {"4006381333924", "4006381333948"} <= near
    assert "4006381333931" not in near
    assert len(near) == 2 * CONSECUTIVE
    sscc = patterns(ExpectedCode("00106141411234567897", "]C1"))[0]
    assert "00106141411234567903" in {p.raw for p in consecutive_patterns(sscc)}


def test_the_next_six_digits_of_a_upc_e_are_neighbours_too() -> None:
    *_, short = patterns(checked("06510000432", "]E0"))
    near = {pattern.raw[:-1] for pattern in consecutive_patterns(short)}
    assert {"06520000432", "06540000032", "06543000002"} <= near  # 654322, 654323, 654324 beside 654321
    assert all(pattern.family == "upce" for pattern in consecutive_patterns(short))


@pytest.mark.parametrize("number", ["000000000000", "999999999999"])
def test_the_first_and_the_last_number_have_neighbours_on_one_side_alone(number: str) -> None:
    (form, *_) = patterns(checked(number, "]E0"))
    assert len({pattern.raw for pattern in consecutive_patterns(form)}) == CONSECUTIVE


def test_the_last_six_digits_of_a_upc_e_have_neighbours_before_them_alone() -> None:
    """UPC-E 999999 stands for 0 99999 00009: a last digit of 9 puts four zeros before it (from memory)."""
    *_, short = patterns(checked("09999900009", "]E0"))
    assert short.family == "upce"
    assert len({pattern.raw for pattern in consecutive_patterns(short)}) == CONSECUTIVE


def test_a_text_that_is_no_number_with_a_check_digit_has_no_next_number() -> None:
    assert consecutive_patterns(patterns(ExpectedCode("BOX-7", "]C0"))[0]) == ()
    assert consecutive_patterns(patterns(ExpectedCode("4006381333930", "]C0"))[0]) == ()
