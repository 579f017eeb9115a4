"""When a fit is a read: absolute fit and margins, calibrated by ``tests/bench/guided_labels.py --calibrate``.

A margin is the logarithm of the ratio of two unexplained shares. On labels that are not expected, the margin of the
best expected code over its neighbours is taken to have an exponential tail. A false accept needs both a margin in that
tail and a fit that only the printed code gives.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import exp, log

STRAY_FROM, STRAY_SHARE, STRAY_SLOPE = 0.0, 0.0167, 15.0
"""Share of looks at labels that are not expected whose margin is above STRAY_FROM, and how fast it falls from there.

From 240 simulated looks without WORST_FIT's help. In 500 others five margins were above 0, the largest 0.40, and all
five left more than 0.07 unexplained: WORST_FIT refuses those, so the figures lean on both limits together.
"""

FALSE_ACCEPTS = 1e-4
"""False accepts that are allowed for, per look at a label that is not expected."""

LEAST_MARGIN = 0.42
WORST_FIT = 0.05
"""Unexplained share above which the profile is not the printed code: right reads of photos leave 0.01 to 0.04."""


class Verdict(StrEnum):
    """What a look at one region came to."""

    READ = "read"
    ASK = "ask"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Evidence:
    """Unexplained share of the best expected code, of the second and of the best code that is not expected."""

    best: float
    second: float
    rival: float

    @property
    def over_second(self) -> float:
        """Margin over the next expected code."""
        return log(self.second / self.best)

    @property
    def over_rival(self) -> float:
        """Margin over the nearest code that is not expected."""
        return log(self.rival / self.best)


def verdict(evidence: Evidence) -> Verdict:
    """Read it, ask which of two expected codes it is, or nothing.

    >>> verdict(Evidence(best=0.02, second=0.2, rival=0.05)), verdict(Evidence(best=0.02, second=0.021, rival=0.05))
    (<Verdict.READ: 'read'>, <Verdict.ASK: 'ask'>)
    """
    if evidence.best > WORST_FIT or evidence.over_rival < LEAST_MARGIN:
        return Verdict.NOTHING
    return Verdict.READ if evidence.over_second >= LEAST_MARGIN else Verdict.ASK


def confidence(evidence: Evidence) -> float:
    """One less the share of labels with another code that would show such a margin, at least 0.5 (calibrated tail)."""
    margin = min(evidence.over_rival, evidence.over_second)
    return round(1 - min(0.5, STRAY_SHARE * exp(-STRAY_SLOPE * (margin - STRAY_FROM))), 6)
