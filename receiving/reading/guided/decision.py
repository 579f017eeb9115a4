"""When a fit is a read: absolute fit and margins, calibrated by ``tests/bench/guided_labels.py --calibrate``.

A margin is the logarithm of the ratio of two unexplained shares. A false accept needs a margin over all neighbours and,
at once, a fit that only the printed code gives. Calibration, on simulated profiles of labels that are not expected:

- 2,000 looks (EAN-13 among 200 random ones; SSCC next to 40 consecutive serials; any SSCC of the same company): none
  read, upper 95 % bound 1.5e-3. One margin above 0 (0.05); two fits within WORST_FIT, their margins far below 0.
- 750 looks at SSCC 100 to 100,000 serials away, the kind that neighbours reach least: none read, upper 95 % bound
  4.0e-3. Three margins above 0, the largest 0.14; least unexplained share 0.076. Extrapolated by an exponential tail of
  both limits together: 2e-5 false accepts a look, upper 95 % bound 9e-5.
- 80 looks at expected labels: all read, and right; least margin 0.59.

Beyond what was counted the figures are extrapolations, and real photos may have faults that the simulation does not
know. On 193 real photos with the true code taken out nothing was read, which by itself only bounds the rate at 1.5 %;
codes that were not there left as little as 0.033 unexplained, but all had margins below -0.1.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import exp, log

FALSE_ACCEPTS = 1e-4
"""False accepts that are allowed for, per look at a label that is not expected."""

LEAST_MARGIN = 0.42
"""Three times the largest margin of a stray; the least margin of a real blurred photo that was read was 0.43."""

WORST_FIT = 0.05
"""Unexplained share above which the profile is not the printed code: right reads of photos leave 0.01 to 0.04."""

LEAST_SEEN = 0.7
"""Share of a symbol that must be seen."""

ABOVE_NEIGHBOURS = 0.0103
"""Share of strays of the worst kind with a margin above 0: 3 of 750, upper 95 % bound."""

FITTING = 0.122
"""Share of strays with a margin above 0 that fit within WORST_FIT: 0 of 23, upper 95 % bound."""

STRAY_SLOPE = 8.2
"""How fast margins above 0 fall off: 23 in 1,350 looks with fewer neighbours; the four since then fell off faster."""


class Verdict(StrEnum):
    """What a look at one region came to."""

    READ = "read"
    ASK = "ask"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Evidence:
    """Unexplained share of the best expected code, of the second and of the best code that is not expected.

    ``seen`` is the share of the symbol that lies where something can be seen.
    """

    best: float
    second: float
    rival: float
    seen: float = 1.0

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
    if evidence.seen < LEAST_SEEN or evidence.best > WORST_FIT or evidence.over_rival < LEAST_MARGIN:
        return Verdict.NOTHING
    return Verdict.READ if evidence.over_second >= LEAST_MARGIN else Verdict.ASK


def confidence(evidence: Evidence) -> float:
    """One less the share of strays that would show such a margin (calibrated tail); 0.5 for a question."""
    if evidence.over_second < LEAST_MARGIN:
        return 0.5
    margin = min(evidence.over_rival, evidence.over_second)
    return round(1 - min(0.5, ABOVE_NEIGHBOURS * FITTING * exp(-STRAY_SLOPE * margin)), 6)
