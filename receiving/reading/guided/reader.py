"""Guided reading: compare a region with the codes that are expected, and read only what no neighbour explains."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from receiving.model import ExpectedCode, Quad, Symbol
from receiving.reading.guided import decision
from receiving.reading.guided.decision import Evidence, Verdict
from receiving.reading.guided.fit import closest, fit, warp_of
from receiving.reading.guided.patterns import Pattern, patterns
from receiving.reading.guided.profile import Profile, alternations, mean_profile
from receiving.reading.guided.rectify import Patch, bar_patch
from receiving.reading.guided.rivals import rivals
from receiving.reading.guided.search import Bank

LEADS, FITTED = 8, 12
LEAST_ALTERNATIONS = 12
"""Fewer light/dark changes than the shortest symbol shows even under the strongest blur that can be read."""


@dataclass(frozen=True)
class Fitted:
    """A pattern laid over a profile: its unexplained share and where it lies."""

    pattern: Pattern
    unexplained: float
    warp: NDArray[np.float64]
    reversed: bool


def guided_symbols(
    gray: NDArray[np.uint8], regions: Sequence[Quad], expected: Sequence[ExpectedCode]
) -> tuple[Symbol | None, ...]:
    """One answer a region: the expected code that it shows, or None where that is not sure.

    ``gray`` is (height, width); the quads are rough and in its pixels. A symbol with ``alternatives`` is a question
    for a person. A code that is not in ``expected`` is never given.
    """
    if not regions:
        return ()
    banks = _banks(tuple(sorted(set(expected), key=lambda code: (code.symbology, code.raw))))
    grey = np.asarray(gray, np.float32)
    return tuple(_look(grey, quad, banks) for quad in regions)


@lru_cache(maxsize=8)
def _banks(expected: tuple[ExpectedCode, ...]) -> tuple[Bank, ...]:
    groups: dict[tuple[int, float], list[Pattern]] = {}
    for code in expected:
        for pattern in patterns(code):
            groups.setdefault((len(pattern.edges), pattern.modules), []).append(pattern)
    return tuple(Bank(group) for group in groups.values())


def _look(grey: NDArray[np.float32], quad: Quad, banks: tuple[Bank, ...]) -> Symbol | None:
    seen = bar_patch(grey, quad)
    if seen is None:
        return None
    patch, band = seen
    profile = mean_profile(patch.grey, band)
    if profile is None or alternations(profile) < LEAST_ALTERNATIONS:
        return None
    fits = _fits(profile, banks)
    return _answer(patch, profile, fits) if fits else None


def _fits(profile: Profile, banks: tuple[Bank, ...]) -> list[Fitted]:
    """The expected patterns that explain the profile best, best first."""
    posed = [(pose, bank, i) for bank in banks for i, pose in enumerate(bank.search(profile)) if pose]
    posed.sort(key=lambda found: -found[0].score)
    fits: list[Fitted] = []
    for bank in dict.fromkeys(bank for _, bank, _ in posed[:LEADS]):
        leads = [(pose, bank.patterns[i]) for pose, of, i in posed[:LEADS] if of is bank]
        starts = np.array([warp_of(pose, bank.modules) for pose, _ in leads])
        first = _fitted(profile, [pattern for _, pattern in leads], starts, [pose.reversed for pose, _ in leads])
        lead = min(first, key=lambda f: f.unexplained)
        fits += [*first, *_near(profile, lead, bank.patterns)]
    return sorted(fits, key=lambda f: f.unexplained)


def _near(profile: Profile, lead: Fitted, shapes: Sequence[Pattern]) -> list[Fitted]:
    """The patterns that come closest to the profile where ``lead`` lies, fitted from there."""
    near = closest(profile, lead.pattern, lead.warp, lead.reversed, shapes, FITTED)
    return _fitted(profile, near, np.repeat(lead.warp[None], len(near), 0), [lead.reversed] * len(near))


def _fitted(
    profile: Profile, shapes: Sequence[Pattern], warps: NDArray[np.float64], reversed_: Sequence[bool], rounds: int = 8
) -> list[Fitted]:
    result = fit(profile, shapes, warps, np.array(reversed_), rounds)
    return [
        Fitted(s, float(u), w, r) for s, u, w, r in zip(shapes, result.unexplained, result.warp, reversed_, strict=True)
    ]


def _nearest_rival(profile: Profile, best: Fitted, expected: set[str]) -> float:
    """The unexplained share of the best-fitting code that is near to the best one and not expected."""
    shapes = [
        pattern
        for code in rivals(ExpectedCode(best.pattern.raw, best.pattern.symbology))
        if code.raw not in expected
        for pattern in patterns(code)
        if (len(pattern.edges), pattern.modules) == (len(best.pattern.edges), best.pattern.modules)
    ]
    if not shapes:
        return 1.0
    return min(f.unexplained for f in _near(profile, best, shapes))


def _answer(patch: Patch, profile: Profile, fits: list[Fitted]) -> Symbol | None:
    best = fits[0]
    if best.unexplained > decision.WORST_FIT:
        return None
    others = {f.pattern.raw: f for f in reversed(fits) if f.pattern.raw != best.pattern.raw}
    second = min((f.unexplained for f in others.values()), default=1.0)
    evidence = Evidence(best.unexplained, second, _nearest_rival(profile, best, {f.pattern.raw for f in fits}))
    found = decision.verdict(evidence)
    if found is Verdict.NOTHING:
        return None
    near = tuple(
        sorted(raw for raw, f in others.items() if f.unexplained < best.unexplained * np.exp(decision.LEAST_MARGIN))
    )
    left, right = sorted(
        (best.warp[0] - best.warp[1] + best.warp[2] - best.warp[3], best.warp[0] + best.warp.sum() - best.warp[0])
    )
    quad = patch.quad(float(left), float(right), profile.band.top, profile.band.bottom)
    return Symbol(
        best.pattern.raw,
        best.pattern.symbology,
        quad,
        "guided",
        guided=True,
        confidence=decision.confidence(evidence),
        alternatives=near if found is Verdict.ASK else (),
    )
