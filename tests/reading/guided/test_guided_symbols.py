import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import candidate_regions, decision, guided_symbols
from receiving.reading.guided.decision import Evidence, Verdict, confidence, verdict
from receiving.reading.guided.patterns import patterns, render_patterns
from receiving.reading.guided.profile import Profile
from receiving.reading.guided.search import Bank, Pose


def label(code: ExpectedCode, module_px: int = 4, blur_px: float = 2.0) -> tuple[np.ndarray, tuple]:
    """A photo of one printed code on a white label, and the rough quad around its bars."""
    bars = 1 - render_patterns(patterns(code)[:1], module_px, 10.0)[0]
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


@pytest.mark.parametrize("symbology", ("]E0", "]A0"))
def test_a_plain_number_is_read_in_each_symbology_that_holds_it_and_looked_for_in_the_likeliest_first(
    symbology: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    numbers = [checked(f"9520000{n:05d}") for n in range(41, 51)]
    expected = [ExpectedCode(number, kind) for number in numbers for kind in ("]A0", "]E0", "]C0")]
    looked_for: list[str] = []
    search = Bank.search

    def noted(bank: Bank, profile: Profile, hidden: float = 0.0) -> list[Pose | None]:
        looked_for.append(bank.patterns[0].symbology)
        return search(bank, profile, hidden)

    monkeypatch.setattr(Bank, "search", noted)
    photo, quad = label(ExpectedCode(numbers[3], symbology))
    (symbol,) = guided_symbols(photo, [quad], expected)
    assert symbol is not None
    assert (symbol.raw, symbol.symbology) == (numbers[3], symbology)
    assert looked_for[0] == "]E0"
    assert (set(looked_for) == {"]E0"}) == (symbology == "]E0")


def test_a_carton_that_is_not_expected_is_not_taken_for_its_neighbour():
    photo, quad = label(sscc(1040))
    assert guided_symbols(photo, [quad], SHIPMENT) == (None,)


@given(st.integers(0, 2**32 - 1), st.sampled_from((0.0, 1.5, 4.0)))
@settings(max_examples=6, deadline=None)
def test_noise_is_never_read(seed, blur_px):
    noise = np.random.default_rng(seed).normal(128, 60, (160, 480))
    noise = cv2.GaussianBlur(noise, (0, 0), blur_px) if blur_px else noise
    noise = (noise - noise.mean()) / noise.std() * 50 + 128
    photo = np.clip(noise, 0, 255).astype(np.uint8)
    whole = ((10.0, 10.0), (470.0, 10.0), (470.0, 150.0), (10.0, 150.0))
    assert not any(guided_symbols(photo, [whole, *candidate_regions(photo)[:2]], SHIPMENT[:5]))


@given(st.permutations(range(6)))
@settings(max_examples=2, deadline=None)
def test_the_answer_does_not_depend_on_the_order_of_the_expected_codes(order):
    photo, quad = label(SHIPMENT[3], blur_px=4.0)
    answers = guided_symbols(photo, [quad], SHIPMENT[:6])
    assert answers == guided_symbols(photo, [quad], [SHIPMENT[i] for i in order])
    assert answers[0] is not None and answers[0].raw == SHIPMENT[3].raw


@pytest.mark.parametrize("degrees", (0, 90, 180, 35))
def test_a_turned_label_is_found_and_read(degrees):
    code = ONE_OF_EACH[1]
    art, _ = label(code)
    photo = np.full((620, 620), 120, np.uint8)
    top, left = (620 - art.shape[0]) // 2, (620 - art.shape[1]) // 2
    photo[top : top + art.shape[0], left : left + art.shape[1]] = art
    turn = cv2.getRotationMatrix2D((310, 310), degrees, 1.0)
    photo = cv2.warpAffine(photo, turn, (620, 620), borderValue=120)
    found = [s for s in guided_symbols(photo, candidate_regions(photo), ONE_OF_EACH[:2]) if s]
    assert {s.raw for s in found} == {code.raw}
    middle = np.mean(found[0].quad_px, axis=0)
    assert np.hypot(*(middle - (310, 310))) < 30


def test_half_a_quad_is_enough_to_find_the_whole_symbol():
    photo, ((left, top), (right, _), (_, bottom), _) = label(SHIPMENT[5])
    half = ((left, top), ((left + right) / 2, top), ((left + right) / 2, bottom), (left, bottom))
    (symbol,) = guided_symbols(photo, [half], SHIPMENT)
    assert symbol is not None and symbol.raw == SHIPMENT[5].raw


def test_nothing_is_asked_and_nothing_answered_without_regions_or_codes():
    photo, quad = label(SHIPMENT[0])
    assert guided_symbols(photo, [], SHIPMENT) == ()
    assert guided_symbols(photo, [quad], []) == (None,)
    assert guided_symbols(photo, [quad], [ExpectedCode("a 2-D code", "]Q3")]) == (None,)


@pytest.mark.parametrize("quad", (((5.0, 5.0),) * 4, ((-90.0, -90.0), (-50.0, -90.0), (-50.0, -60.0), (-90.0, -60.0))))
def test_a_degenerate_or_outlying_region_is_nothing(quad):
    photo, _ = label(SHIPMENT[0])
    assert guided_symbols(photo, [quad], SHIPMENT) == (None,)


def test_between_two_expected_codes_a_person_is_asked():
    # Twelve digits of a UPC-A are the same bars as its EAN-13: both expected, no photo can tell them apart.
    upc, ean = ExpectedCode("071831007995", "]E0"), ExpectedCode("0071831007995", "]E0")
    photo, quad = label(upc)
    (symbol,) = guided_symbols(photo, [quad], [upc, ean])
    assert symbol is not None
    assert {symbol.raw, *symbol.alternatives} == {upc.raw, ean.raw}


def test_margins_decide_between_read_ask_and_nothing():
    wide = 2 * decision.LEAST_LOG_RATIO
    sure = Evidence(0.02, 0.02 * np.exp(wide), 0.02 * np.exp(wide))
    assert verdict(sure) is Verdict.READ
    assert verdict(Evidence(0.02, 0.021, sure.rival)) is Verdict.ASK
    assert verdict(Evidence(0.02, sure.second, 0.021)) is Verdict.NOTHING
    assert verdict(Evidence(0.3, 1.0, 1.0)) is Verdict.NOTHING
    assert 1 - confidence(sure) < decision.FALSE_ACCEPTS < 1 - confidence(Evidence(0.02, sure.second, 0.022))


def test_one_label_in_two_regions_is_one_symbol():
    photo, quad = label(SHIPMENT[5])
    (left, top), (right, _), (_, bottom), _ = quad
    part = ((left, top), (0.6 * right, top), (0.6 * right, bottom), (left, bottom))
    found = guided_symbols(photo, [part, quad, part], SHIPMENT)
    assert [symbol is not None for symbol in found] == [True, False, False]
