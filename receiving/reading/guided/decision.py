"""When a fit is a read: absolute fit and margins, calibrated by ``tests/bench/guided_strays.py``.

A margin is the logarithm of the ratio of two unexplained shares. A false accept needs a margin over all other codes
and, at once, a fit that only the printed code gives. Counted on simulated labels that are not expected, all of kinds
that are dangerous (consecutive item numbers and serials, serials far away, a decoder's misread as the only candidate;
a quarter of them partly covered, others under glare or hard-edged), with the place of the symbol given away:

- EAN-13 with consecutive item numbers, the kind that comes nearest, 7,100 looks (seed 20261128) after all limits were
  chosen: none read, upper 95 % bound 4.2e-4. Two margins of 0 or more, the largest 0.12; by an exponential tail
  4e-9 false accepts a look, upper 95 % bound 1.2e-4.
- The same before a hidden part was left to SSCCs and the limit was 0.6, 7,100 looks (seed 20261127): two read, with
  margins of 0.79 under a cover and 0.63. Codes that share four digits, 1,775 looks: none read, largest margin -0.47.
- SSCC up to 20 serials behind 40 consecutive ones, 7,100 looks (seed 20261127): one read, margin 0.91, a quarter of it
  covered, where a first look had shown that the printed code fits as well. Since then that settles it (-0.31 now); the
  next largest margin is 0.18. 2,500 looks after that (seed 20261130): none read, the largest margin 0.01; 44 of 50
  expected ones read. 1,760 looks before, some 100 to 100,000 serials away: none above 0.
- A decoder's misread as the only candidate, 880 looks: no margin above 0, upper 95 % bound 3.4e-3.
- 142 looks at expected EAN-13 as badly seen: 105 read; a limit of 0.3 reads one more.
- 193 real photos with the true code taken out: none read. Right reads of photos that no decoder reads have margins
  from 0.66 up.

FALSE_ACCEPTS is reached by the tail, and nearly by its bound; to show it by counting alone takes 30,000 looks without
a read.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import exp, log

FALSE_ACCEPTS = 1e-4
"""False accepts that are aimed at, per look at a label that is not expected."""

LEAST_MARGIN = 0.65
"""Logarithm of the ratio by which all other codes must leave more unexplained."""

PER_HIDDEN = 1.5
"""Margin that is asked for on top, per share of the symbol that is hidden: a cover's edge can pass for bars."""

WORST_FIT = 0.08
"""Unexplained share above which the profile is not the printed code; right reads of photos leave 0.01 to 0.05."""

SURE_FIT = 0.04
"""Unexplained share up to which a code that is not expected, and fits better than all that are, is the printed one."""

LEAST_SEEN = 0.7
"""Share of a symbol that must be seen."""

ABOVE_NEIGHBOURS = 0.0009
"""Share of strays of the worst kind with a margin above 0: 2 of 7,100, upper 95 % bound."""

STRAY_SLOPE = 3.1
"""How fast margins above 0 fall off, lower 95 % bound: one over their mean is 17."""


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
