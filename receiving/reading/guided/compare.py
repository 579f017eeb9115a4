"""The expected codes held against one profile: which fits best, and whether neighbours that are not expected fit worse.

A symbol is first taken to be seen whole; where that says nothing, also to have an end that is hidden.
"""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from receiving.reading.guided import decision
from receiving.reading.guided.decision import (
    Evidence,
    Verdict,
    seen_share,
    shows_bars,
    stripes_alone,
    without_faded,
    without_spots,
)
from receiving.reading.guided.fit import Fitted, evenness, explain_profile, fit_patterns, fits_from, leads_of, near_fits
from receiving.reading.guided.layouts import is_sscc
from receiving.reading.guided.patterns import Pattern
from receiving.reading.guided.profile import Profile, alternations
from receiving.reading.guided.search import Bank
from receiving.reading.guided.unexpected import consecutive_patterns, likeliest_patterns

REFITTED, NEXT_NUMBERS = 4, 6
UNLISTED_STEPS, UNLISTED = 3, 4
"""Steps from code to code towards the one that is printed, and codes that are fitted at each step: a wrong code is laid
over the bars a little askew, and so is what it leads to first."""

PARTIAL_ALTERNATIONS = 24
"""Light/dark changes from which a second search, for a symbol with a hidden end, is worth its time."""

SPOT_ROUNDS, WORST_START = 2, 0.35
"""How often spots are looked for, and the residual variance above which the best fit is taken to be no lead."""

WHOLE = 0.97
"""Share of a symbol that is seen when no part of it is hidden: what is missing is less than half a character."""

LEAST_EVEN = 0.45
"""Narrowest module as a share of the widest that a label may show: print was taken for codes that were folded over.

The ends of bars tell perspective before (see `ends`); what is left of it, and a bottle's curve, is less.
"""


@dataclass(frozen=True)
class Comparison:
    """The profile as it was trusted, the expected patterns that fit it, best first, and what speaks for the best.

    ``evidence`` is None where nothing fits well enough to be a lead.
    """

    profile: Profile
    fits: tuple[Fitted, ...]
    evidence: Evidence | None

    @property
    def conclusive(self) -> bool:
        """True where it is read or asked, and where a code that is not expected fits well, and as well as the best.

        Then no second attempt with less in view may choose between the two: one in 7,000 negatives was read so.
        """
        if self.verdict is not Verdict.NOTHING:
            return True
        if self.evidence is None:
            return False
        as_good = self.evidence.best * np.exp(decision.LEAST_LOG_RATIO)
        return bool(self.evidence.rival < min(as_good, decision.SURE_FIT))

    @property
    def verdict(self) -> Verdict:
        """What the comparison came to."""
        return decision.verdict(self.evidence) if self.evidence else Verdict.NOTHING

    def alternatives(self) -> tuple[str, ...]:
        """Other expected codes that the profile does not tell from the best one."""
        best = self.fits[0]
        # The same ratio by which a read is decided: whatever was too near for that is a possible answer.
        limit = best.residual_variance * np.exp(decision.LEAST_LOG_RATIO)
        near = {f.pattern.raw for f in takewhile(lambda f: f.residual_variance < limit, self.fits)}
        return tuple(sorted(near - {best.pattern.raw}))


def compare_codes(profile: Profile, banks: tuple[Bank, ...], expected: Container[str]) -> Comparison:
    """The expected codes of the banks held against a profile, likeliest bank first; what is read there settles it."""
    whole = _held(profile, banks, expected)
    # The second search is a second chance to be wrong, too: it is not made where the first has an answer.
    if whole.conclusive or alternations(profile) < PARTIAL_ALTERNATIONS:
        return whole
    part = _held(stripes_alone(profile), banks, expected, partly=True)
    # What was seen as a whole says more about why nothing is read: how near the best came, and what it was.
    return whole if part.verdict is Verdict.NOTHING else part


def _held(profile: Profile, banks: tuple[Bank, ...], expected: Container[str], *, partly: bool = False) -> Comparison:
    shapes, leads = [pattern for bank in banks for pattern in bank.patterns], []
    for bank in banks:
        here = leads_of(profile, bank, partly)
        leads += here
        fits = fits_from(profile, here) if len(banks) > 1 else []
        # The likeliest shape alone often settles it; the others are searched only where it does not.
        if fits and fits[0].residual_variance <= decision.WORST_FIT:
            found = compare_closely(profile, fits, shapes, expected)
            if found.verdict is Verdict.READ:
                return found
    return compare_closely(profile, fits_from(profile, leads), shapes, expected)


def compare_closely(
    profile: Profile, fits: Sequence[Fitted], shapes: Sequence[Pattern], expected: Container[str]
) -> Comparison:
    """What these fits, best first, come to; where that is nothing, but not by far, once more without spots."""
    found = judge_fits(profile, fits, shapes, expected)
    for _ in range(SPOT_ROUNDS):
        if found.conclusive or found.evidence is None or found.evidence.seen < decision.LEAST_SEEN:
            break
        best = found.fits[0]
        # Trust only ever falls from round to round, so that a second round cannot bring back what the first ruled out.
        profile = without_spots(found.profile, best.pattern, best.warp, best.reversed)
        found = judge_fits(profile, _refitted(profile, best, shapes), shapes, expected)
    return found


def judge_fits(
    profile: Profile, fits: Sequence[Fitted], shapes: Sequence[Pattern], expected: Container[str]
) -> Comparison:
    """What these fits of expected codes, best first, come to."""
    if not fits or fits[0].residual_variance > WORST_START or evenness(fits[0].warp) < LEAST_EVEN:
        return Comparison(profile, tuple(fits), None)
    best = fits[0]
    if best.residual_variance <= decision.WORST_FIT:
        # Before anything is weighed: a fit that lets its bars vanish where the label is covered explains that part for
        # nothing.
        clear = without_faded(profile, best.pattern, best.warp, best.reversed)
        if clear is not None:
            profile, fits = clear, _refitted(clear, best, shapes)
            if evenness(fits[0].warp) < LEAST_EVEN:
                return Comparison(profile, tuple(fits), None)
        if not shows_bars(profile, fits[0].pattern, fits[0].warp):
            return Comparison(profile, tuple(fits), None)
    return Comparison(profile, tuple(fits), weigh(profile, fits, expected))


def _refitted(profile: Profile, best: Fitted, shapes: Sequence[Pattern]) -> list[Fitted]:
    """The fits of all patterns like the best one, from where that lies, best first."""
    alike = [p for p in shapes if (len(p.edges), p.modules) == (len(best.pattern.edges), best.pattern.modules)]
    return sorted(near_fits(profile, best, alike, REFITTED), key=lambda f: f.residual_variance)


def weigh(profile: Profile, fits: Sequence[Fitted], expected: Container[str]) -> Evidence:
    """The best fit (the first) against the other expected codes and against all that are not expected.

    Those are the numbers next to it, and what the bars spell when nothing is expected: that leads to the code that is
    printed, however far it is from all expected ones, and else to the codes that come nearest to it. One that fits
    better than the best expected code settles it.
    """
    best, seen = fits[0], seen_share(profile, fits[0].warp)
    short = best.pattern.family == "upce"
    # Other printed forms of the same code are not rivals: they say the same carton.
    second = min((f.residual_variance for f in fits if f.pattern.raw != best.pattern.raw), default=1.0)
    if seen < WHOLE and not is_sscc(best.pattern):
        # What is hidden of a Code 128 may switch code sets, so that another text has the same bars where they are
        # seen; of an EAN-13 too little is left: covered ones had 11 of the 13 largest log ratios in 7,100 attempts
        # at negatives.
        return Evidence(best.residual_variance, second, best.residual_variance, seen, short)
    rival, here = _next_number(profile, best, expected), best
    # From each code to the ones that would explain more, as in a steepest descent over texts.
    for _ in range(UNLISTED_STEPS):
        if rival < best.residual_variance:
            break
        unlisted = _unlisted(profile, here, expected)
        if not unlisted:
            break
        here = min(unlisted, key=lambda f: f.residual_variance)
        rival = min(rival, here.residual_variance)
    return Evidence(best.residual_variance, second, rival, seen, short)


def _next_number(profile: Profile, best: Fitted, expected: Container[str]) -> float:
    """The least residual variance of a number next to the best code's, not expected.

    They are tried by themselves: a wrong number may be laid over the bars so askew that these spell something else.
    """
    if best.residual_variance > decision.WORST_FIT:
        return 1.0
    # An expected neighbour is not unknown: it stands among the fits, as the second, and asks.
    near = [pattern for pattern in consecutive_patterns(best.pattern) if pattern.raw not in expected]
    return min((f.residual_variance for f in near_fits(profile, best, near, NEXT_NUMBERS)), default=1.0)


def _unlisted(profile: Profile, best: Fitted, expected: Container[str]) -> list[Fitted]:
    """What the label may be when it is none of the expected ones, fitted."""
    free = likeliest_patterns(explain_profile(profile, best.pattern, best.warp, best.reversed))
    shapes = [pattern for pattern in free if pattern.raw not in expected]
    # First as they lie, which ranks them for next to nothing, then the best few fitted.
    for rounds in (0, 8):
        warps = np.repeat(best.warp[None], len(shapes), 0)
        found = fit_patterns(profile, shapes, warps, [best.reversed] * len(shapes), rounds) if shapes else []
        found = sorted(found, key=lambda f: f.residual_variance)
        shapes = [f.pattern for f in found[:UNLISTED]]
    return found
