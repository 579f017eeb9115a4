"""When a fit is a read: absolute fit and margins, calibrated by ``tests/bench/guided_labels.py --calibrate``."""

from dataclasses import dataclass
from enum import StrEnum
from math import exp, log


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
        """Log ratio to the next expected code."""
        return log(self.second / self.best)

    @property
    def over_rival(self) -> float:
        """Log ratio to the nearest code that is not expected."""
        return log(self.rival / self.best)


WORST_FIT = 0.08
LEAST_MARGIN = 0.25


def verdict(evidence: Evidence) -> Verdict:
    """Read, ask between expected codes, or nothing."""
    if evidence.best > WORST_FIT or evidence.over_rival < LEAST_MARGIN:
        return Verdict.NOTHING
    return Verdict.READ if evidence.over_second >= LEAST_MARGIN else Verdict.ASK


def confidence(evidence: Evidence) -> float:
    """Probability that the read is right."""
    margin = min(evidence.over_rival, evidence.over_second)
    return round(1 / (1 + exp(-12 * margin)), 4)
