"""Guided reading: compare a region with the codes that are expected, and read only what no neighbour explains."""

from collections.abc import Container, Sequence

import numpy as np
from numpy.typing import NDArray

from receiving.model import ExpectedCode, Quad, Symbol
from receiving.reading.guided import decision
from receiving.reading.guided.compare import Comparison, compare_codes
from receiving.reading.guided.decision import Verdict
from receiving.reading.guided.fit import banks_of, ends_of
from receiving.reading.guided.profile import Profile, alternations, mean_profile
from receiving.reading.guided.rectify import Patch, bar_patch
from receiving.reading.guided.search import Bank

LEAST_ALTERNATIONS = 12
"""Fewer light/dark changes than the shortest symbol shows even under the strongest blur that can be read."""


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
    # Sorted: the same list in another order must give the same answer, and finds the same templates in the cache.
    codes = tuple(sorted(set(expected), key=lambda code: (code.symbology, code.raw)))
    banks, names = banks_of(codes), frozenset(code.raw for code in codes)
    grey = np.asarray(gray, np.float32)
    found: list[Symbol | None] = []
    for quad in regions:
        # Looked up twice: before, to spare the attempt, and after, as a rough quad may grow onto a symbol that was
        # found.
        symbol = None if _shown(quad, found) else _attempt(grey, quad, banks, names)
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


def _attempt(grey: NDArray[np.float32], quad: Quad, banks: tuple[Bank, ...], expected: Container[str]) -> Symbol | None:
    seen = seen_at(grey, quad)
    return _symbol(seen[0], compare_codes(seen[1], banks, expected)) if seen else None


def seen_at(grey: NDArray[np.float32], quad: Quad) -> tuple[Patch, Profile] | None:
    """The upright patch of a rough quad and the profile across its bars; None where too few bars are seen."""
    found = bar_patch(grey, quad)
    profile = mean_profile(found[0].grey, found[1]) if found else None
    if found is None or profile is None or alternations(profile) < LEAST_ALTERNATIONS:
        return None
    return found[0], profile


def _symbol(patch: Patch, found: Comparison) -> Symbol | None:
    if found.evidence is None or found.verdict is Verdict.NOTHING:
        return None
    best, band = found.fits[0], found.profile.band
    return Symbol(
        best.pattern.raw,
        best.pattern.symbology,
        patch.quad(*ends_of(best.warp), band.top, band.bottom),
        "guided",
        guided=True,
        confidence=decision.confidence(found.evidence),
        alternatives=found.alternatives() if found.verdict is Verdict.ASK else (),
    )
