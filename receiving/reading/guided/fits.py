"""Expected patterns laid over a profile: searched for coarsely, the best ones fitted, and those that come near them."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from receiving.model import ExpectedCode
from receiving.reading.guided.fit import closest, fit, warp_of
from receiving.reading.guided.layouts import is_sscc
from receiving.reading.guided.patterns import LINEAR, Pattern, patterns
from receiving.reading.guided.profile import Profile
from receiving.reading.guided.search import Bank, Pose

LEADS, FITTED = 8, 12
"""Patterns that are fitted where the search found them, and patterns of their banks that are fitted from there."""

SSCC_HIDDEN, END_HIDDEN = 0.3, 0.1
"""Share of a symbol that may be hidden where it is seen partly: of one without an SSCC no more than its end is searched
for, as it is read only when nearly all of it is seen (see `weigh`)."""

Lead = tuple[Pose, Bank, int]
"""Where the pattern of a bank with this number may lie."""


@dataclass(frozen=True)
class Fitted:
    """A pattern laid over a profile: its residual variance and where it lies."""

    pattern: Pattern
    residual_variance: float
    warp: NDArray[np.float64]
    reversed: bool


@lru_cache(maxsize=8)
def banks_of(expected: tuple[ExpectedCode, ...]) -> tuple[Bank, ...]:
    """The templates of all printed forms of these codes, one bank for each shape, the likeliest symbology first."""
    groups: dict[tuple[int, float], list[Pattern]] = {}
    for code in sorted(expected, key=lambda code: LINEAR.index(code.symbology) if code.symbology in LINEAR else 0):
        for pattern in patterns(code):
            groups.setdefault((len(pattern.edges), pattern.modules), []).append(pattern)
    return tuple(Bank(group) for group in groups.values())


def leads_of(profile: Profile, bank: Bank, partly: bool = False) -> list[Lead]:
    """The patterns of a bank that resemble the profile most; they may be seen ``partly``."""
    hidden = (SSCC_HIDDEN if any(map(is_sscc, bank.patterns)) else END_HIDDEN) if partly else 0.0
    posed = enumerate(bank.search(profile, hidden))
    return sorted(((pose, bank, number) for number, pose in posed if pose), key=lambda lead: -lead[0].score)[:LEADS]


def fits_from(profile: Profile, leads: Sequence[Lead]) -> list[Fitted]:
    """The best leads fitted, and the patterns of their banks that come nearest to them, best first."""
    best = sorted(leads, key=lambda lead: -lead[0].score)[:LEADS]
    fits: list[Fitted] = []
    for bank in dict.fromkeys(bank for _, bank, _ in best):
        here = [(pose, bank.patterns[number]) for pose, of, number in best if of is bank]
        starts = np.array([warp_of(pose, bank.modules) for pose, _ in here])
        first = fitted(profile, [pattern for _, pattern in here], starts, [pose.reversed for pose, _ in here])
        lead = min(first, key=lambda f: f.residual_variance)
        fits += [*first, *near_fits(profile, lead, bank.patterns)]
    return sorted(fits, key=lambda f: f.residual_variance)


def near_fits(profile: Profile, lead: Fitted, shapes: Sequence[Pattern], most: int = FITTED) -> list[Fitted]:
    """The patterns that come closest to the profile where ``lead`` lies, fitted from there."""
    if not shapes:
        return []
    near = closest(profile, lead.pattern, lead.warp, lead.reversed, shapes, most)
    return fitted(profile, near, np.repeat(lead.warp[None], len(near), 0), [lead.reversed] * len(near))


def fitted(
    profile: Profile, shapes: Sequence[Pattern], warps: NDArray[np.float64], reversed_: Sequence[bool], rounds: int = 8
) -> list[Fitted]:
    """Patterns of one shape, each fitted from its own warp."""
    result = fit(profile, shapes, warps, np.array(reversed_), rounds)
    return [
        Fitted(s, float(u), w, r)
        for s, u, w, r in zip(shapes, result.residual_variance, result.warp, reversed_, strict=True)
    ]
