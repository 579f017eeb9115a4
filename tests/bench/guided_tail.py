"""How often a label that is not expected would be read: counted, bounded, and extrapolated from looks at strays.

A false accept needs a fit within WORST_FIT and a margin of LEAST_MARGIN at once. Two extrapolations:
"by the margin": the share of strays with a margin above 0, an exponential tail from there to LEAST_MARGIN, times the
upper bound of the share of those strays whose fit is allowed.
"by both": the smaller of the two distances to the limits, each in units of its own spread, passes 0 exactly when a
stray is accepted (structure variable: Coles & Tawn 1994, Applied Statistics 43); its tail is read off at 0.
Bounds are one-sided 95 %: Clopper-Pearson for counts (the rule of three for none), bootstrap for tails.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta, chi2, genpareto

from receiving.reading.guided import decision

Doubles = NDArray[np.float64]
TAIL_SHARE, RESAMPLES = 0.1, 200


@dataclass(frozen=True)
class Rate:
    """Share of looks that a tail puts above 0, and its upper 95 % bound."""

    share: float
    upper: float

    def __str__(self) -> str:
        return f"{self.share:.1e} (95 % bound {self.upper:.1e})"


def upper_bound(count: int, looks: int) -> float:
    """The Clopper-Pearson upper 95 % bound of a share that was seen ``count`` times in ``looks``."""
    return float(beta.ppf(0.95, count + 1, looks - count))


def nearness(strays: Doubles, worst_fit: float, least_margin: float) -> Doubles:
    """How near each stray (unexplained share, margin) came to being read; 0 and above: it was read."""
    fit, margin = np.log(worst_fit / strays[:, 0]), strays[:, 1] - least_margin
    return np.minimum(fit / _spread(fit), margin / _spread(margin))


def _spread(values: Doubles) -> float:
    """Mean excess over the upper decile: the scale of an exponential tail."""
    high = np.quantile(values, 1 - TAIL_SHARE)
    return float((values[values > high] - high).mean())


def exponential(values: Doubles) -> float:
    """Share above 0 by an exponential tail from the upper decile."""
    high = np.quantile(values, 1 - TAIL_SHARE)
    if high >= 0:
        return float((values >= 0).mean())
    return float(TAIL_SHARE * np.exp(high / (values[values > high] - high).mean()))


def generalized_pareto(values: Doubles) -> float:
    """Share above 0 by a generalized Pareto tail from the upper decile."""
    high = np.quantile(values, 1 - TAIL_SHARE)
    if high >= 0:
        return float((values >= 0).mean())
    shape, _, scale = genpareto.fit(values[values > high] - high, floc=0)
    return float(TAIL_SHARE * genpareto.sf(-high, shape, scale=scale))


def rate(tail: Callable[[Doubles], float], values: Doubles) -> Rate:
    """The tail's share above 0 with a bootstrap bound."""
    chance = np.random.default_rng(0)
    again = [tail(chance.choice(values, len(values))) for _ in range(RESAMPLES)]
    return Rate(tail(values), float(np.quantile(again, 0.95)))


def report(strays: Doubles, own: Doubles) -> None:
    """Print the curve over the margin, then count, bound and tails at the limits of ``decision``.

    ``strays`` holds (unexplained share, margin) a look at a label that is not expected, ``own`` the same of labels
    that are.
    """
    fitting = strays[strays[:, 0] <= decision.WORST_FIT]
    print(f"{len(strays)} looks at stray labels; {len(fitting)} left at most {decision.WORST_FIT} unexplained")
    print(f"unexplained share of strays, least / 1 / 5 / 50 %: {_shares(strays[:, 0], (0, 0.01, 0.05, 0.5))}")
    print("margin at least: share of strays with any fit, of strays with a fit that is allowed, of expected labels")
    for margin in np.arange(0, 0.61, 0.05):
        shares = [(rows[:, 1] >= margin).sum() / n for rows, n in ((strays, len(strays)), (fitting, len(strays)))]
        kept = ((own[:, 1] >= margin) & (own[:, 0] <= decision.WORST_FIT)).mean() if len(own) else np.nan
        print(f"{margin:7.2f} {shares[0]:10.5f} {shares[1]:10.5f} {kept:8.3f}")
    print(f"largest margins of strays (margin, unexplained): {_largest(strays)}")
    limits = decision.WORST_FIT, decision.LEAST_MARGIN
    near = nearness(strays, *limits)
    count = int((near >= 0).sum())
    print(f"at WORST_FIT {limits[0]} and LEAST_MARGIN {limits[1]:.3f}: {count} of {len(strays)} strays read,", end=" ")
    print(f"95 % bound {upper_bound(count, len(strays)):.1e}")
    _by_margin(strays)
    print(f"by both: exponential tail {rate(exponential, near)}; generalized Pareto {rate(generalized_pareto, near)}")


def _by_margin(strays: Doubles) -> None:
    """Print the constants of the confidence curve, and the false accepts that it gives."""
    above = strays[strays[:, 1] > 0]
    if not len(above):
        print(f"by the margin: none above 0, 95 % bound {upper_bound(0, len(strays)):.1e}")
        return
    share, slope = len(above) / len(strays), 1 / above[:, 1].mean()
    allowed = int((above[:, 0] <= decision.WORST_FIT).sum())
    fit = upper_bound(allowed, len(above))
    # The sum of n exponential excesses, times 2 and the slope, is chi-squared with 2n degrees of freedom.
    least = slope * chi2.ppf(0.05, 2 * len(above)) / (2 * len(above))
    most = upper_bound(len(above), len(strays)) * fit * np.exp(-least * decision.LEAST_MARGIN)
    print(f"by the margin: {len(above)} above 0 (share {share:.4f}), slope {slope:.1f};", end=" ")
    print(f"{allowed} of them fit, 95 % bound {fit:.3f}:", end=" ")
    print(Rate(share * fit * float(np.exp(-slope * decision.LEAST_MARGIN)), float(most)))


def _shares(values: Doubles, at: tuple[float, ...]) -> list[float]:
    return [round(float(q), 3) for q in np.quantile(values, at)]


def _largest(strays: Doubles) -> list[tuple[float, float]]:
    return [(round(float(m), 3), round(float(u), 3)) for u, m in strays[np.argsort(-strays[:, 1])[:6]]]
