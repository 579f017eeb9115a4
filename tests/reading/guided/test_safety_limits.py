"""The limits that keep guided reading from a wrong carton, each from both sides.

They were chosen by counting (docstring of `receiving.reading.guided.decision`): whoever moves one counts again, with
``tests/bench/guided_negatives.py`` and ``guided_print.py``, and changes the numbers here with the table there.
"""

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.reading.guided import compare, decision, unexpected
from receiving.reading.guided import fit as fits
from receiving.reading.guided.compare import Comparison
from receiving.reading.guided.decision import Evidence, Verdict, confidence, verdict
from receiving.reading.guided.fit import Fitted
from receiving.reading.guided.patterns import patterns
from receiving.reading.guided.profile import Band, Profile
from tests.reading.guided.test_unexpected import PAIRS, PX, laid_over, seen

CLEAR = Evidence(best=0.02, second=1.0, rival=1.0)
"""A fit that nothing comes near to."""


def rival_at(log_ratio: float, best: float = 0.02) -> Evidence:
    return Evidence(best, second=1.0, rival=best * exp(log_ratio))


def second_at(log_ratio: float, best: float = 0.02) -> Evidence:
    return Evidence(best, second=best * exp(log_ratio), rival=1.0)


def test_the_limits_are_those_that_were_counted() -> None:
    limits = {
        "FALSE_ACCEPTS": 1e-4,
        "LEAST_LOG_RATIO": 0.65,
        "PER_HIDDEN": 1.5,
        "FOR_SHORT": 0.6,
        "WORST_FIT": 0.08,
        "SURE_FIT": 0.04,
        "LEAST_SEEN": 0.7,
        "ABOVE_NEIGHBOURS": 0.001,
        "NEGATIVE_SLOPE": 3.1,
    }
    assert {name: getattr(decision, name) for name in limits} == limits
    assert (compare.WHOLE, compare.LEAST_EVEN, compare.WORST_START) == (0.97, 0.45, 0.35)
    assert (compare.REFITTED, compare.NEXT_NUMBERS, compare.UNLISTED_STEPS, compare.UNLISTED) == (4, 6, 3, 4)
    assert (compare.PARTIAL_ALTERNATIONS, compare.SPOT_ROUNDS) == (24, 2)
    assert (decision.INSET, decision.SPOT, decision.OUTLYING, decision.TRUSTED) == (0.03, 5.0, 4.0, 0.5)
    assert (decision.FADED, decision.FADED_LENGTH) == (0.25, 0.02)
    assert (decision.LEAST_CHANGES, decision.LEAST_CHANGES_SHARE) == (10, 0.15)
    assert (unexpected.REACH, unexpected.OPTIONS, unexpected.ANSWERS, unexpected.CONSECUTIVE) == (6, 24, 16, 40)
    assert (fits.LEADS, fits.FITTED, fits.SSCC_HIDDEN, fits.END_HIDDEN) == (8, 12, 0.3, 0.1)


@pytest.mark.parametrize(
    ("log_ratio", "come_to"), [(0.66, Verdict.READ), (0.64, Verdict.NOTHING), (0.0, Verdict.NOTHING)]
)
def test_a_code_that_is_not_expected_must_leave_nearly_twice_as_much_unexplained(
    log_ratio: float, come_to: Verdict
) -> None:
    assert verdict(rival_at(log_ratio)) is come_to


@pytest.mark.parametrize(("log_ratio", "come_to"), [(0.66, Verdict.READ), (0.64, Verdict.ASK), (0.0, Verdict.ASK)])
def test_between_expected_codes_that_are_nearer_a_person_is_asked(log_ratio: float, come_to: Verdict) -> None:
    assert verdict(second_at(log_ratio)) is come_to


@pytest.mark.parametrize(
    ("best", "come_to"), [(0.08, Verdict.READ), (0.0801, Verdict.NOTHING), (0.32, Verdict.NOTHING)]
)
def test_a_fit_that_leaves_more_than_eight_percent_is_no_read(best: float, come_to: Verdict) -> None:
    assert verdict(replace(CLEAR, best=best)) is come_to


@pytest.mark.parametrize(("share", "come_to"), [(0.7, Verdict.READ), (0.69, Verdict.NOTHING), (0.1, Verdict.NOTHING)])
def test_seven_tenths_of_a_symbol_must_be_seen(share: float, come_to: Verdict) -> None:
    assert verdict(replace(CLEAR, seen=share)) is come_to


@pytest.mark.parametrize(("hidden", "asked_for"), [(0.0, 0.65), (0.1, 0.8), (0.2, 0.95), (0.3, 1.1)])
def test_what_is_hidden_must_be_made_up_for_by_a_larger_margin(hidden: float, asked_for: float) -> None:
    for nearest, else_ in ((rival_at, Verdict.NOTHING), (second_at, Verdict.ASK)):
        assert verdict(replace(nearest(asked_for + 0.01), seen=1 - hidden)) is Verdict.READ
        assert verdict(replace(nearest(asked_for - 0.01), seen=1 - hidden)) is else_


@pytest.mark.parametrize(("log_ratio", "come_to"), [(1.26, Verdict.READ), (1.24, Verdict.NOTHING)])
def test_a_short_symbol_needs_a_larger_log_ratio(log_ratio: float, come_to: Verdict) -> None:
    assert verdict(replace(rival_at(log_ratio), short=True)) is come_to


@given(st.floats(0.65, 6), st.floats(0.65, 6))
def test_the_surer_a_read_is_the_more_it_is_relied_on_and_never_less_than_was_aimed_at(
    one: float, other: float
) -> None:
    low, high = sorted((one, other))
    assert confidence(rival_at(low)) <= confidence(rival_at(high)) <= 1.0
    assert 1 - confidence(rival_at(low + 1e-9)) <= 1.34e-4, "0.001 at log ratio 0, falling off with the power 3.1"
    assert confidence(replace(rival_at(low), second=0.02 * exp(high))) == confidence(rival_at(low))


def test_how_sure_a_read_is_is_the_tail_that_was_counted() -> None:
    assert confidence(rival_at(0.7)) == pytest.approx(1 - 0.001 * exp(-3.1 * 0.7), abs=1e-6)
    assert confidence(rival_at(1.7)) == pytest.approx(1 - 0.001 * exp(-3.1 * 1.7), abs=1e-6)
    assert confidence(second_at(0.64)) == 0.5, "a question"
    assert confidence(second_at(0.66)) > 0.999


# --- what a comparison does with them ------------------------------------------------------------------------------


def comparison(evidence: Evidence | None, *residual_variance: float) -> Comparison:
    profile = seen(patterns(PAIRS[0][0])[0])
    shapes = [patterns(pair[0])[0] for pair in PAIRS]
    made = tuple(Fitted(shapes[n], share, np.zeros(4), False) for n, share in enumerate(residual_variance))
    return Comparison(profile, made, evidence)


@pytest.mark.parametrize(
    ("rival", "conclusive"),
    [
        (0.03, True),  # a code that is not expected fits as well
        (0.0395, False),  # it leaves 1.97 times as much: not as well
        (0.0201, True),
    ],
)
def test_a_code_that_is_not_expected_and_fits_as_well_settles_it(rival: float, conclusive: bool) -> None:
    found = comparison(Evidence(best=0.02, second=0.5, rival=rival, seen=0.6))
    assert found.verdict is Verdict.NOTHING
    assert found.conclusive is conclusive


@pytest.mark.parametrize(("rival", "conclusive"), [(0.039, True), (0.041, False)])
def test_a_bad_fit_of_a_code_that_is_not_expected_settles_nothing(rival: float, conclusive: bool) -> None:
    assert comparison(Evidence(best=0.07, second=0.5, rival=rival)).conclusive is conclusive


def test_what_is_read_or_asked_is_settled_and_no_lead_is_not() -> None:
    assert comparison(CLEAR).conclusive and comparison(second_at(0.1)).conclusive
    assert not comparison(None).conclusive
    assert comparison(None).verdict is Verdict.NOTHING


def test_the_codes_that_a_question_names_are_those_within_the_margin() -> None:
    near, far = 0.02 * exp(0.64), 0.02 * exp(0.66)
    found = comparison(second_at(0.1), 0.02, near, far)
    assert found.alternatives() == (patterns(PAIRS[1][0])[0].raw,)


def test_at_the_very_log_ratio_a_code_is_read_and_just_below_it_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decision, "LEAST_LOG_RATIO", log(2))
    assert verdict(Evidence(best=0.02, second=0.04, rival=0.04)) is Verdict.READ
    assert confidence(Evidence(best=0.02, second=0.04, rival=0.04)) > 0.5
    assert verdict(Evidence(best=0.02, second=0.0399, rival=0.04)) is Verdict.ASK
    assert confidence(Evidence(best=0.02, second=0.0399, rival=0.04)) == 0.5
    assert verdict(Evidence(best=0.02, second=0.04, rival=0.0399)) is Verdict.NOTHING


def test_bars_are_looked_for_where_the_best_fit_lies_and_nowhere_else() -> None:
    pattern, other = patterns(PAIRS[0][0])[0], patterns(PAIRS[0][1])[0]
    profile, best = laid_over(pattern, pattern)
    aside = replace(best, warp=best.warp * np.array([0.05, 0.02, 1, 1]))
    assert not decision.shows_bars(profile, other, aside.warp)
    beside = Fitted(other, 0.5, aside.warp, False)
    shapes = [pattern, other]
    for fits_of_both in ([best], [best, beside]):
        assert compare.judge_fits(profile, fits_of_both, shapes, {pattern.raw, other.raw}).evidence is not None
    assert compare.judge_fits(profile, [aside, best], shapes, {pattern.raw, other.raw}).evidence is None


@pytest.mark.parametrize(("share", "lead"), [(0.34, True), (0.36, False)])
def test_a_fit_that_explains_too_little_is_no_lead(share: float, lead: bool) -> None:
    profile, best = laid_over(patterns(PAIRS[0][0])[0], patterns(PAIRS[0][0])[0])
    found = compare.judge_fits(profile, [replace(best, residual_variance=share)], [best.pattern], {best.pattern.raw})
    assert (found.evidence is not None) == lead
    assert compare.judge_fits(profile, [], [], ()).evidence is None


@pytest.mark.parametrize(("narrow", "lead"), [(0.50, True), (0.40, False)])
def test_modules_that_are_too_uneven_are_no_label(narrow: float, lead: bool) -> None:
    """Of a warp t -> m + h·t + s·t² the narrowest module is (h - 2s) / (h + 2s) of the widest."""
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    half = best.warp[1]
    skewed = best.warp + np.array([0, 0, half / 2 * (1 - narrow) / (1 + narrow), 0])
    found = compare.judge_fits(profile, [replace(best, residual_variance=0.2, warp=skewed)], [pattern], {pattern.raw})
    assert (found.evidence is not None) == lead


def covered(profile: Profile, share: float) -> Profile:
    """The profile with so much of it, from the left, not to be trusted."""
    weights, band = profile.weights.copy(), profile.band
    weights[: round(band.left + share * (band.right - band.left))] = 0
    return replace(profile, weights=weights)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5])
def test_the_share_of_a_symbol_that_is_seen_is_measured(share: float) -> None:
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    assert decision.seen_share(covered(profile, share), best.warp) == pytest.approx(1 - share, abs=0.01)


@pytest.mark.parametrize(("trust", "share"), [(1.0, 1.0), (0.5, 1.0), (0.49, 0.0), (0.2, 0.0)])
def test_what_is_trusted_by_half_is_seen_and_what_is_trusted_less_is_not(trust: float, share: float) -> None:
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    weights = np.full_like(profile.weights, trust)
    assert decision.seen_share(replace(profile, weights=weights), best.warp) == share


@pytest.mark.parametrize(("changes", "searches"), [(23, 1), (24, 2), (60, 2)])
def test_a_hidden_end_is_looked_for_where_enough_of_the_symbol_shows(
    changes: int, searches: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []
    nothing = comparison(None)
    monkeypatch.setattr(compare, "alternations", lambda profile: changes)
    monkeypatch.setattr(compare, "_held", lambda *given, partly=False: made.append(partly) or nothing)
    assert compare.compare_codes(nothing.profile, (), ()) is nothing
    assert made == [False, True][:searches]


@pytest.mark.parametrize(
    ("share", "looks"), [(0.7, 1 + compare.SPOT_ROUNDS), (0.6975, 1), (1.0, 1 + compare.SPOT_ROUNDS)]
)
def test_spots_are_looked_for_where_enough_of_the_symbol_is_seen_to_be_read(
    share: float, looks: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The share is counted at 400 points, so that it may be the very limit."""
    found = comparison(Evidence(best=0.05, second=0.5, rival=0.06, seen=share), 0.05)
    made = []
    monkeypatch.setattr(compare, "judge_fits", lambda *given: made.append(given) or found)
    monkeypatch.setattr(compare, "without_spots", lambda profile, *_: profile)
    monkeypatch.setattr(compare, "_refitted", lambda *_: [])
    assert compare.compare_closely(found.profile, found.fits, (), ()) is found
    assert len(made) == looks


def test_a_covered_symbol_without_an_sscc_is_never_read() -> None:
    """Another text may have the same bars where they are seen: it is held to be as good as the best."""
    for pair, read in ((PAIRS[0], True), (PAIRS[1], False), (PAIRS[8], False)):
        pattern = patterns(pair[0])[0]
        profile, best = laid_over(pattern, pattern)
        evidence = compare.weigh(covered(profile, 0.05), [best], {pattern.raw})
        assert (evidence.rival > 2 * evidence.best) == read
        whole = compare.weigh(profile, [best], {pattern.raw})
        assert whole.rival > 2 * whole.best


def test_the_second_of_the_expected_codes_is_another_code() -> None:
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    other = Fitted(patterns(PAIRS[0][1])[0], 0.4, best.warp, False)
    assert compare.weigh(profile, [best, best, other], {pattern.raw}).second == 0.4
    assert compare.weigh(profile, [best, best], {pattern.raw}).second == 1.0
    short = patterns(PAIRS[4][0])[-1]
    profile, best = laid_over(short, short)
    assert compare.weigh(profile, [best], {short.raw}).short
    assert not compare.weigh(*_whole(PAIRS[1][0])).short


def test_without_a_number_beside_it_that_is_unknown_nothing_is_left_unexplained_by_less_than_all() -> None:
    """A neighbour is tried up to a fit that could be read, and none that is expected itself."""
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    neighbours = {near.raw for near in unexpected.consecutive_patterns(pattern)}
    assert compare._next_number(profile, best, {pattern.raw}) < 0.9
    assert compare._next_number(profile, best, {pattern.raw, *neighbours}) == 1.0
    assert compare._next_number(profile, replace(best, residual_variance=0.08), {pattern.raw}) < 0.9
    assert compare._next_number(profile, replace(best, residual_variance=0.0801), {pattern.raw}) == 1.0


@pytest.mark.parametrize(("narrow", "lead"), [(0.50, True), (0.40, False)])
def test_a_label_is_even_also_where_it_is_fitted_again_without_what_has_faded(
    monkeypatch: pytest.MonkeyPatch, narrow: float, lead: bool
) -> None:
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    skewed = best.warp + np.array([0, 0, best.warp[1] / 2 * (1 - narrow) / (1 + narrow), 0])
    monkeypatch.setattr(compare, "_refitted", lambda *_: [replace(best, warp=skewed)])
    found = compare.judge_fits(washed_out(profile, 0.15)[0], [best], [pattern], {pattern.raw})
    assert (found.evidence is not None) == lead
    assert found.verdict is (Verdict.READ if lead else Verdict.NOTHING)


def _whole(code):  # type: ignore[no-untyped-def]
    pattern = patterns(code)[0]
    profile, best = laid_over(pattern, pattern)
    return profile, [best], {pattern.raw}


# --- what is not trusted -------------------------------------------------------------------------------------------


def test_stripes_alone_are_trusted_but_for_their_ends() -> None:
    profile = seen(patterns(PAIRS[0][0])[0])
    band = Band(100, 300, 0, 1)
    trusted = np.flatnonzero(decision.stripes_alone(replace(profile, band=band)).weights)
    assert (trusted[0], trusted[-1]) == (107, 293), "3 % of 200 columns are left out at each end"


@pytest.mark.parametrize(("changes", "shown"), [(9, False), (14, False), (40, True)])
def test_a_few_strokes_of_print_are_no_bars(changes: int, shown: bool) -> None:
    pattern = patterns(PAIRS[0][0])[0]  # a Code 128 of some seventy edges: eleven at least must show
    wide = (pattern.modules + 20) * PX
    strokes = 120 + 80 * np.cos(np.linspace(0, changes * np.pi, round(wide)))
    profile = Profile(strokes.astype(np.float32), Band(0, len(strokes), 0, 1), np.ones(len(strokes), np.float32))
    warp = np.array([len(strokes) / 2 - 0.5, pattern.modules * PX / 2, 0.0, 0.0])
    assert decision.shows_bars(profile, pattern, warp) is shown


def washed_out(profile: Profile, share: float) -> tuple[Profile, slice]:
    """The profile with this share of its bars, from the left, all but gone, and where that is."""
    values, band = profile.values.copy(), profile.band
    washed = slice(band.left, round(band.left + share * (band.right - band.left)))
    values[washed] = 200 - (200 - values[washed]) * 0.02
    return replace(profile, values=values), washed


@pytest.mark.parametrize(("share", "faded"), [(0.0, False), (0.15, True)])
def test_bars_that_fade_away_are_not_seen(share: float, faded: bool) -> None:
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    faint, washed, band = *washed_out(profile, share), profile.band
    found = decision.without_faded(faint, pattern, best.warp, False)
    assert (found is not None) == faded
    if found is not None:
        assert found.weights[washed].mean() < 0.5 < found.weights[washed.stop + 40 : band.right].mean()


@pytest.mark.parametrize(("share", "whole"), [(0.0, True), (0.15, False)])
def test_what_has_faded_away_counts_as_hidden_when_a_fit_is_judged(share: float, whole: bool) -> None:
    """So a code that is not an SSCC is not read then: another text may have the same bars where they are seen."""
    pattern = patterns(PAIRS[1][0])[0]
    profile, best = laid_over(pattern, pattern)
    found = compare.judge_fits(washed_out(profile, share)[0], [best], [pattern], {pattern.raw})
    assert found.evidence is not None
    assert (found.evidence.seen >= compare.WHOLE) is whole
    assert (found.verdict is Verdict.READ) is whole


def test_glare_on_a_few_bars_is_not_trusted_and_the_rest_is() -> None:
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    noise = np.random.default_rng(7).normal(0, 2, len(profile.values)).astype(np.float32)
    values = profile.values + noise
    values[300:340] = 255
    found = decision.without_spots(replace(profile, values=values), pattern, best.warp, False)
    assert found.weights[310:330].max() < 0.2
    assert np.median(found.weights[450:]) > 0.9


@pytest.mark.parametrize("least", [0.0, 0.4])
def test_what_is_less_trusted_is_nowhere_trusted_more_than_before(least: float) -> None:
    """Also beyond the ends of the pattern, where nothing of it lies."""
    pattern = patterns(PAIRS[0][0])[0]
    profile, best = laid_over(pattern, pattern)
    values, band = profile.values.copy(), profile.band
    washed = slice(band.left, round(band.left + 0.15 * (band.right - band.left)))
    values[washed] = 200 - (200 - values[washed]) * 0.02
    weights = np.linspace(1.0, least, len(values), dtype=np.float32)
    before = replace(profile, values=values, weights=weights)
    faded = decision.without_faded(before, pattern, best.warp, False)
    assert faded is not None
    for after in (decision.without_spots(before, pattern, best.warp, False), faded, decision.stripes_alone(before)):
        assert (after.weights <= before.weights + 1e-6).all()
        assert (after.weights >= 0).all()


def test_what_is_read_in_the_likeliest_bank_is_held_against_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    code, other = PAIRS[0][0], PAIRS[1][0]
    banks = fits.banks_of((code, other))
    looked_at = []
    leads_of = fits.leads_of
    monkeypatch.setattr(
        compare, "leads_of", lambda p, bank, partly: looked_at.append(bank) or leads_of(p, bank, partly)
    )
    found = compare.compare_codes(seen(patterns(code)[0]), banks, {code.raw, other.raw})
    assert (found.verdict, found.fits[0].pattern.raw) == (Verdict.READ, code.raw)
    assert looked_at == [banks[0]]
    looked_at.clear()
    found = compare.compare_codes(seen(patterns(other)[0]), banks, {code.raw, other.raw})
    assert (found.verdict, found.fits[0].pattern.raw) == (Verdict.READ, other.raw)
    assert looked_at == list(banks)
