"""Symbols of which a part is covered, torn off or outside the picture: judged by what is seen of them.

Nothing special guards them: a code that differs only where nothing is seen explains what is seen just as well, so that
the log ratio over it is 0. Two codes with right check digits differ in two digits at least, in Code 128 in the check
character too, except where two changes cancel out modulo 103.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from receiving.reading.guided.fit import PER_MODULE, ends_of, explained
from receiving.reading.guided.patterns import Pattern
from receiving.reading.guided.profile import Profile, alternations

INSET = 0.03
"""Share of the striped part that is left out at each end: how sharply the edge of a cover shows is not known."""

SPOT, OUTLYING = 5.0, 4.0
"""Modules over which a residual is averaged, and how often its median it may be: more is a spot, not noise."""

FADED, FADED_LENGTH = 0.25, 0.02
"""Contrast, as a share of its median, under which bars are not seen; share of the row from which that matters."""

TRUSTED = 0.5

LEAST_CHANGES, LEAST_CHANGES_SHARE = 10, 0.15
"""Light/dark changes that a symbol shows, in all and as a share of its edges. Strong blur joins bars: the worst blurred
photos that are read show 12 or more, 0.2 of their edges; print that was taken for an EAN-13 showed 5, 0.08."""


def stripes_alone(profile: Profile) -> Profile:
    """The profile with trust in its striped part alone: what lies beyond may be a cover, a hand, another label."""
    band, at = profile.band, np.arange(len(profile.values))
    inset = INSET * (band.right - band.left)
    inside = (at > band.left + inset) & (at < band.right - inset)
    return replace(profile, weights=np.where(inside, profile.weights, 0).astype(np.float32))


def without_spots(profile: Profile, pattern: Pattern, warp: NDArray[np.float64], turned: bool) -> Profile:
    """The profile with less trust where the fitted pattern leaves far more of it than elsewhere: glare, a finger.

    Where a negative differs from the pattern is such a spot, too. There its code and this one then explain all that is
    left, and the log ratio is lost.
    """
    fit = explained(profile, pattern, warp, turned)
    power = uniform_filter1d(fit.rest**2, round(SPOT * PER_MODULE))
    trust = np.minimum(1.0, OUTLYING * np.median(power) / (power + 1e-9)) ** 2
    here = np.argsort(fit.at)
    seen = np.interp(np.arange(len(profile.values)), fit.at[here], trust[here], 1.0, 1.0)
    return replace(profile, weights=(profile.weights * seen).astype(np.float32))


def without_faded(profile: Profile, pattern: Pattern, warp: NDArray[np.float64], turned: bool) -> Profile | None:
    """The profile with no trust where the fitted contrast has faded away, None where it has nowhere.

    The fit may let the contrast change along the row, as light does. Where it lets the bars vanish they are not seen.
    """
    fit = explained(profile, pattern, warp, turned)
    seen = fit.trust**2 >= TRUSTED
    faded = seen & (fit.contrast < FADED * np.median(fit.contrast[seen])) if seen.any() else seen
    if faded.mean() < FADED_LENGTH:
        return None
    here = np.argsort(fit.at)
    kept = np.interp(np.arange(len(profile.values)), fit.at[here], 1.0 - faded[here], 1.0, 1.0)
    return replace(profile, weights=(profile.weights * kept).astype(np.float32))


def shows_bars(profile: Profile, pattern: Pattern, warp: NDArray[np.float64]) -> bool:
    """True when enough light/dark changes lie under the pattern: a few strokes of print fit any code well."""
    left, right = sorted(ends_of(warp))
    least = max(LEAST_CHANGES, LEAST_CHANGES_SHARE * len(pattern.edges) * seen_share(profile, warp))
    return alternations(profile, (left, right)) >= least


def seen_share(profile: Profile, warp: NDArray[np.float64]) -> float:
    """The share of a symbol's length, under this warp, that lies on columns which can be trusted."""
    at = np.linspace(-1, 1, 400)[:, None] ** np.arange(4) @ warp
    trust = np.interp(at, np.arange(len(profile.values)), profile.weights, 0.0, 0.0)
    return float((trust >= TRUSTED).mean())
