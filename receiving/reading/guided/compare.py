"""The expected codes held against one profile: which fits best, and whether neighbours that are not expected fit worse.

A symbol is first taken to be seen whole; where that says nothing, also to have an end that is hidden.
"""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import takewhile

import numpy as np
from numpy.typing import NDArray

from receiving.model import ExpectedCode
from receiving.reading.guided import decision
from receiving.reading.guided.decision import Evidence, Verdict
from receiving.reading.guided.fit import closest, fit, warp_of
from receiving.reading.guided.partial import seen_share, stripes_alone
from receiving.reading.guided.patterns import Pattern, patterns
from receiving.reading.guided.profile import Profile, alternations
from receiving.reading.guided.rivals import rivals
from receiving.reading.guided.search import Bank

LEADS, FITTED = 8, 12
RIVAL_STEPS = 6
"""Most steps from neighbour to neighbour towards the code that is printed; few labels need more than two."""

PARTIAL_ALTERNATIONS = 24
"""Light/dark changes from which a second search, for a symbol with a hidden end, is worth its time."""


@dataclass(frozen=True)
class Fitted:
    """A pattern laid over a profile: its unexplained share and where it lies."""

    pattern: Pattern
    unexplained: float
    warp: NDArray[np.float64]
    reversed: bool


@dataclass(frozen=True)
class Comparison:
    """The profile as it was trusted, the expected patterns that fit it, best first, and what speaks for the best.

    ``evidence`` is None where nothing fits well enough to look for rivals.
    """

    profile: Profile
    fits: tuple[Fitted, ...]
    evidence: Evidence | None

    @property
    def verdict(self) -> Verdict:
        """What the comparison came to."""
        return decision.verdict(self.evidence) if self.evidence else Verdict.NOTHING

    def alternatives(self) -> tuple[str, ...]:
        """Other expected codes that the profile does not tell from the best one."""
        best = self.fits[0]
        limit = best.unexplained * np.exp(decision.LEAST_MARGIN)
        near = {f.pattern.raw for f in takewhile(lambda f: f.unexplained < limit, self.fits)}
        return tuple(sorted(near - {best.pattern.raw}))


@lru_cache(maxsize=8)
def banks_of(expected: tuple[ExpectedCode, ...]) -> tuple[Bank, ...]:
    """The templates of all printed forms of these codes, one bank for each shape."""
    groups: dict[tuple[int, float], list[Pattern]] = {}
    for code in expected:
        for pattern in patterns(code):
            groups.setdefault((len(pattern.edges), pattern.modules), []).append(pattern)
    return tuple(Bank(group) for group in groups.values())


def compared(profile: Profile, banks: tuple[Bank, ...], expected: Container[str]) -> Comparison:
    """The expected codes of the banks held against a profile."""
    whole = judged(profile, best_fits(profile, banks), expected)
    if whole.verdict is not Verdict.NOTHING or alternations(profile) < PARTIAL_ALTERNATIONS:
        return whole
    stripes = stripes_alone(profile)
    part = judged(stripes, best_fits(stripes, banks, hidden_end=True), expected)
    return whole if part.verdict is Verdict.NOTHING else part


def judged(profile: Profile, fits: Sequence[Fitted], expected: Container[str]) -> Comparison:
    """What these fits of expected codes, best first, come to; rivals are only looked for where the best may be read."""
    allowed = bool(fits) and fits[0].unexplained <= decision.WORST_FIT
    return Comparison(profile, tuple(fits), weigh(profile, fits, expected) if allowed else None)


def best_fits(profile: Profile, banks: tuple[Bank, ...], hidden_end: bool = False) -> list[Fitted]:
    """The expected patterns that explain the profile best, best first; with ``hidden_end`` they may reach beyond it."""
    posed = [(pose, bank, i) for bank in banks for i, pose in enumerate(bank.search(profile, hidden_end)) if pose]
    posed.sort(key=lambda found: -found[0].score)
    fits: list[Fitted] = []
    for bank in dict.fromkeys(bank for _, bank, _ in posed[:LEADS]):
        leads = [(pose, bank.patterns[i]) for pose, of, i in posed[:LEADS] if of is bank]
        starts = np.array([warp_of(pose, bank.modules) for pose, _ in leads])
        first = fitted(profile, [pattern for _, pattern in leads], starts, [pose.reversed for pose, _ in leads])
        lead = min(first, key=lambda f: f.unexplained)
        fits += [*first, *near_fits(profile, lead, bank.patterns)]
    return sorted(fits, key=lambda f: f.unexplained)


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
    return Evidence(best.unexplained, second, rival, seen_share(profile, best.warp))


def _neighbours(pattern: Pattern, expected: Container[str]) -> list[Pattern]:
    """Patterns of the same length of the nearest codes that are not expected."""
    near = (code for code in rivals(ExpectedCode(pattern.raw, pattern.symbology)) if code.raw not in expected)
    shape = (len(pattern.edges), pattern.modules)
    return [form for code in near for form in patterns(code) if (len(form.edges), form.modules) == shape]
