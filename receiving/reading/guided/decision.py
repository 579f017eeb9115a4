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

LEAST_MARGIN = 0.35
"""Logarithm of the ratio by which all other codes must leave more unexplained."""

PER_HIDDEN = 1.5
"""Margin that is asked for on top, per share of the symbol that is hidden: a cover's edge can pass for bars."""

WORST_FIT = 0.12
"""Unexplained share above which the profile is not the printed code; hard-edged photos of few pixels leave 0.08."""

SURE_FIT = 0.04
"""Unexplained share up to which a code that is not expected, and fits better than all that are, is the printed one."""

LEAST_SEEN = 0.7
"""Share of a symbol that must be seen."""

ABOVE_NEIGHBOURS = 0.01
"""Share of strays with a margin above 0."""

STRAY_SLOPE = 20.0
"""How fast margins above 0 fall off."""


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
        """Margin over the next expected code, less what is asked for because a part is hidden."""
        return log(self.second / self.best) - self.for_hidden

    @property
    def over_rival(self) -> float:
        """Margin over the nearest code that is not expected, less what is asked for because a part is hidden."""
        return log(self.rival / self.best) - self.for_hidden

    @property
    def for_hidden(self) -> float:
        """The margin that goes on account of what is hidden."""
        return PER_HIDDEN * (1 - self.seen)


def verdict(evidence: Evidence) -> Verdict:
    """Read it, ask which of two expected codes it is, or nothing.

    >>> verdict(Evidence(best=0.02, second=0.2, rival=0.05)), verdict(Evidence(best=0.02, second=0.021, rival=0.05))
    (<Verdict.READ: 'read'>, <Verdict.ASK: 'ask'>)
    >>> verdict(Evidence(best=0.02, second=0.2, rival=0.03, seen=0.8))
    <Verdict.NOTHING: 'nothing'>
    """
    if evidence.seen < LEAST_SEEN or evidence.best > WORST_FIT or evidence.over_rival < LEAST_MARGIN:
        return Verdict.NOTHING
    return Verdict.READ if evidence.over_second >= LEAST_MARGIN else Verdict.ASK


def confidence(evidence: Evidence) -> float:
    """One less the share of strays that would show such a margin (calibrated tail); 0.5 for a question."""
    if evidence.over_second < LEAST_MARGIN:
        return 0.5
    margin = min(evidence.over_rival, evidence.over_second)
    return round(1 - min(0.5, ABOVE_NEIGHBOURS * exp(-STRAY_SLOPE * margin)), 6)
