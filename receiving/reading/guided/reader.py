"""Guided reading: compare a region with the codes that are expected, and read only what no neighbour explains."""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp

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
RIVAL_STEPS = 6
"""Most steps from neighbour to neighbour towards the code that is printed; few labels need more than two."""

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
    for a person. A code that is not in ``expected`` is never given. A symbol that two regions show is given once, for
    the first of them: one label is not two.
    """
    if not regions:
        return ()
    codes = tuple(sorted(set(expected), key=lambda code: (code.symbology, code.raw)))
    banks, names = _banks(codes), frozenset(code.raw for code in codes)
    grey = np.asarray(gray, np.float32)
    found: list[Symbol | None] = []
    for quad in regions:
        symbol = None if _shown(quad, found) else _look(grey, quad, banks, names)
        found.append(None if symbol and _shown(symbol.quad_px, found) else symbol)
    return tuple(found)


def _shown(quad: Quad, found: Sequence[Symbol | None]) -> bool:
    """True when the middle of the quad lies on a symbol that was found."""
    x, y = np.mean(quad, axis=0)
    return any(_holds(symbol.quad_px, x, y) for symbol in found if symbol)


def _holds(quad: Quad, x: float, y: float) -> bool:
    """True when the point lies within the convex quad."""
    corners = np.array(quad)
    sides = np.roll(corners, -1, axis=0) - corners
    turns = sides[:, 0] * (y - corners[:, 1]) - sides[:, 1] * (x - corners[:, 0])
    return bool((turns >= 0).all() or (turns <= 0).all())


@lru_cache(maxsize=8)
def _banks(expected: tuple[ExpectedCode, ...]) -> tuple[Bank, ...]:
    groups: dict[tuple[int, float], list[Pattern]] = {}
    for code in expected:
        for pattern in patterns(code):
            groups.setdefault((len(pattern.edges), pattern.modules), []).append(pattern)
    return tuple(Bank(group) for group in groups.values())


def _look(grey: NDArray[np.float32], quad: Quad, banks: tuple[Bank, ...], expected: Container[str]) -> Symbol | None:
    seen = bar_patch(grey, quad)
    if seen is None:
        return None
    patch, band = seen
    profile = mean_profile(patch.grey, band)
    if profile is None or alternations(profile) < LEAST_ALTERNATIONS:
        return None
    fits = best_fits(profile, banks)
    return _answer(patch, profile, fits, expected) if fits else None


def best_fits(profile: Profile, banks: tuple[Bank, ...]) -> list[Fitted]:
    """The expected patterns that explain the profile best, best first."""
    posed = [(pose, bank, i) for bank in banks for i, pose in enumerate(bank.search(profile)) if pose]
    posed.sort(key=lambda found: -found[0].score)
    fits: list[Fitted] = []
    for bank in dict.fromkeys(bank for _, bank, _ in posed[:LEADS]):
        leads = [(pose, bank.patterns[i]) for pose, of, i in posed[:LEADS] if of is bank]
        starts = np.array([warp_of(pose, bank.modules) for pose, _ in leads])
        first = _fitted(profile, [pattern for _, pattern in leads], starts, [pose.reversed for pose, _ in leads])
        lead = min(first, key=lambda f: f.unexplained)
        fits += [*first, *near_fits(profile, lead, bank.patterns)]
    return sorted(fits, key=lambda f: f.unexplained)


def near_fits(profile: Profile, lead: Fitted, shapes: Sequence[Pattern]) -> list[Fitted]:
    """The patterns that come closest to the profile where ``lead`` lies, fitted from there."""
    if not shapes:
        return []
    near = closest(profile, lead.pattern, lead.warp, lead.reversed, shapes, FITTED)
    return _fitted(profile, near, np.repeat(lead.warp[None], len(near), 0), [lead.reversed] * len(near))


def _fitted(
    profile: Profile, shapes: Sequence[Pattern], warps: NDArray[np.float64], reversed_: Sequence[bool], rounds: int = 8
) -> list[Fitted]:
    result = fit(profile, shapes, warps, np.array(reversed_), rounds)
    return [
        Fitted(s, float(u), w, r) for s, u, w, r in zip(shapes, result.unexplained, result.warp, reversed_, strict=True)
    ]


def weigh(profile: Profile, fits: Sequence[Fitted], expected: Container[str]) -> Evidence:
    """The best fit (the first) against the other expected codes and against its neighbours that are not expected.

    From the neighbour that fits most its own neighbours are tried, and so on while they fit better: that leads to the
    code that is printed, also where it is far from all expected ones. A neighbour that fits better than the best
    expected code settles it.
    """
    best = fits[0]
    second = min((f.unexplained for f in fits if f.pattern.raw != best.pattern.raw), default=1.0)
    rival, here = 1.0, best
    for _ in range(RIVAL_STEPS):
        near = near_fits(profile, best, _neighbours(here.pattern, expected))
        if not near or (here := min(near, key=lambda f: f.unexplained)).unexplained >= rival:
            break
        rival = here.unexplained
        if rival < best.unexplained:
            break
    return Evidence(best.unexplained, second, rival)


def _neighbours(pattern: Pattern, expected: Container[str]) -> list[Pattern]:
    """Patterns of the same length of the nearest codes that are not expected."""
    near = (code for code in rivals(ExpectedCode(pattern.raw, pattern.symbology)) if code.raw not in expected)
    shape = (len(pattern.edges), pattern.modules)
    return [form for code in near for form in patterns(code) if (len(form.edges), form.modules) == shape]


def _answer(patch: Patch, profile: Profile, fits: list[Fitted], expected: Container[str]) -> Symbol | None:
    best = fits[0]
    if best.unexplained > decision.WORST_FIT:
        return None
    evidence = weigh(profile, fits, expected)
    found = decision.verdict(evidence)
    if found is Verdict.NOTHING:
        return None
    limit = best.unexplained * exp(decision.LEAST_MARGIN)
    near = sorted({f.pattern.raw for f in fits if f.unexplained < limit} - {best.pattern.raw})
    return Symbol(
        best.pattern.raw,
        best.pattern.symbology,
        _symbol_quad(patch, profile, best),
        "guided",
        guided=True,
        confidence=decision.confidence(evidence),
        alternatives=tuple(near) if found is Verdict.ASK else (),
    )


def _symbol_quad(patch: Patch, profile: Profile, best: Fitted) -> Quad:
    """The corners of the symbol itself, in pixels of the photo."""
    middle, half, bend, cubic = best.warp
    return patch.quad(
        float(middle - half + bend - cubic), float(middle + half + bend + cubic), profile.band.top, profile.band.bottom
    )
