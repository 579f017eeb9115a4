"""How often a label that is not expected would be read: counted, with a bound, and the curve over both limits.

A false accept needs a fit within WORST_FIT and a margin of LEAST_MARGIN at once; the curve shows how many strays and
what share of expected labels pass each pair of limits. Bounds are one-sided 95 %: Clopper-Pearson for counts (the rule
of three for none). "By the margin" extrapolates: the share of strays with a fit that is allowed and a margin above 0,
and an exponential tail from there to LEAST_MARGIN.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta, chi2

from receiving.reading.guided import decision

Doubles = NDArray[np.float64]
NONE = -9.0
"""The margin of a look in which nothing fitted."""


def upper_bound(count: int, looks: int) -> float:
    """The Clopper-Pearson upper 95 % bound of a share that was seen ``count`` times in ``looks``."""
    return float(beta.ppf(0.95, count + 1, looks - count))


def passing(rows: Doubles, fit: float, margin: float) -> int:
    """How many (unexplained share, margin) are within both limits."""
    return int(((rows[:, 0] <= fit) & (rows[:, 1] >= margin)).sum())


def report(strays: Doubles, own: Doubles) -> None:
    """Print the curve over the limits, then the count, its bound and the tail at the limits of ``decision``.

    ``strays`` holds (unexplained share, margin) a look at a label that is not expected, ``own`` the same of labels
    that are.
    """
    worst_fit, least_margin = decision.WORST_FIT, decision.LEAST_MARGIN
    fits = (worst_fit / 4, worst_fit / 2, worst_fit)
    print(f"{len(strays)} looks at stray labels, {len(own)} at expected ones")
    heads = " ".join(f"{fit:6.2f}" for fit in fits)
    print("margin | strays read, by unexplained share | expected labels read, likewise")
    print(f"       | {heads}              | {heads}")
    for margin in np.arange(-0.2, 0.91, 0.1):
        counts = " ".join(f"{passing(strays, fit, margin):6d}" for fit in fits)
        shares = " ".join(f"{passing(own, fit, margin) / max(1, len(own)):6.3f}" for fit in fits)
        print(f"{margin:6.1f} | {counts}              | {shares}")
    largest = strays[np.argsort(-strays[:, 1])[:8]]
    print(
        "largest margins of strays (margin, unexplained share):",
        [(round(m, 3), round(u, 3)) for u, m in largest.tolist()],
    )
    count = passing(strays, worst_fit, least_margin)
    print(f"at WORST_FIT {worst_fit} and LEAST_MARGIN {least_margin}: {count} of {len(strays)} strays read,", end=" ")
    print(f"95 % bound {upper_bound(count, len(strays)):.1e}")
    _by_margin(strays[strays[:, 0] <= worst_fit, 1], len(strays), least_margin)


def _by_margin(margins: Doubles, looks: int, limit: float) -> None:
    """Print the constants of the confidence curve: the share of strays with a margin above 0, and how fast it falls."""
    above = margins[margins > 0]
    share, bound = len(above) / looks, upper_bound(len(above), looks)
    print(f"margin above 0: {len(above)}, share {share:.1e}, 95 % bound {bound:.1e}")
    if not len(above):
        return
    slope = 1 / above.mean()
    # The sum of n exponential excesses, times 2 and the slope, is chi-squared with 2n degrees of freedom.
    least = slope * chi2.ppf(0.05, 2 * len(above)) / (2 * len(above))
    print(f"by the margin: slope {slope:.1f}, 95 % bound {least:.1f}; read", end=" ")
    print(f"{share * np.exp(-slope * limit):.1e}, 95 % bound {bound * np.exp(-least * limit):.1e}", flush=True)
