"""How often a label that is not expected would be read: counted, with a bound, and the curve over both limits.

A false accept needs a fit within WORST_FIT and a log ratio of LEAST_LOG_RATIO at once; the curve shows how many
negatives and what share of expected labels pass each pair of limits. Bounds are one-sided 95 %: Clopper-Pearson for
counts (the rule of three for none). "By the log ratio" extrapolates: the share of negatives with a fit that is allowed
and a log ratio above 0, and an exponential tail from there to LEAST_LOG_RATIO.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta, chi2

from receiving.reading.guided import decision

Doubles = NDArray[np.float64]
NONE = -9.0
"""The log ratio of an attempt in which nothing fitted."""


def upper_bound(count: int, attempts: int) -> float:
    """The Clopper-Pearson upper 95 % bound of a share that was seen ``count`` times in ``attempts``."""
    return float(beta.ppf(0.95, count + 1, attempts - count))


def passing(rows: Doubles, fit: float, log_ratio: float) -> int:
    """How many (residual variance, log ratio) are within both limits."""
    return int(((rows[:, 0] <= fit) & (rows[:, 1] >= log_ratio)).sum())


def report(negatives: Doubles, own: Doubles) -> None:
    """Print the curve over the limits, then the count, its bound and the tail at the limits of ``decision``.

    ``negatives`` holds (residual variance, log ratio) an attempt at a label that is not expected, ``own`` the
    same of labels that are.
    """
    worst_fit, least_log_ratio = decision.WORST_FIT, decision.LEAST_LOG_RATIO
    fits = (worst_fit / 4, worst_fit / 2, worst_fit)
    print(f"{len(negatives)} attempts at negatives, {len(own)} at expected ones")
    heads = " ".join(f"{fit:6.2f}" for fit in fits)
    print("log ratio | negatives read, by residual variance | expected labels read, likewise")
    print(f"       | {heads}              | {heads}")
    for log_ratio in np.arange(-0.2, 0.91, 0.1):
        counts = " ".join(f"{passing(negatives, fit, log_ratio):6d}" for fit in fits)
        shares = " ".join(f"{passing(own, fit, log_ratio) / max(1, len(own)):6.3f}" for fit in fits)
        print(f"{log_ratio:6.1f} | {counts}              | {shares}")
    largest = negatives[np.argsort(-negatives[:, 1])[:8]]
    print(
        "largest log ratios of negatives (log ratio, residual variance):",
        [(round(m, 3), round(u, 3)) for u, m in largest.tolist()],
    )
    count = passing(negatives, worst_fit, least_log_ratio)
    print(
        f"at WORST_FIT {worst_fit} and LEAST_LOG_RATIO {least_log_ratio}: {count} of {len(negatives)} negatives read,",
        end=" ",
    )
    print(f"95 % bound {upper_bound(count, len(negatives)):.1e}")
    _by_log_ratio(negatives[negatives[:, 0] <= worst_fit, 1], len(negatives), least_log_ratio)


def _by_log_ratio(log_ratios: Doubles, attempts: int, limit: float) -> None:
    """Print the constants of the confidence curve: the share of negatives with a log ratio above 0, and its fall."""
    above = log_ratios[log_ratios > 0]
    share, bound = len(above) / attempts, upper_bound(len(above), attempts)
    print(f"log ratio above 0: {len(above)}, share {share:.1e}, 95 % bound {bound:.1e}")
    if not len(above):
        return
    slope = 1 / above.mean()
    # The sum of n exponential excesses, times 2 and the slope, is chi-squared with 2n degrees of freedom.
    least = slope * chi2.ppf(0.05, 2 * len(above)) / (2 * len(above))
    print(f"by the log ratio: slope {slope:.1f}, 95 % bound {least:.1f}; read", end=" ")
    print(f"{share * np.exp(-slope * limit):.1e}, 95 % bound {bound * np.exp(-least * limit):.1e}", flush=True)
