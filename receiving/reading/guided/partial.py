"""Symbols of which a part is covered, torn off or outside the picture: judged by what is seen of them.

Nothing special guards them: a code that differs only where nothing is seen explains what is seen just as well, so that
the margin over it is 0. Two codes with right check digits differ in two digits at least, and in Code 128 in the check
character too, except where two changes cancel out modulo 103.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from receiving.reading.guided.profile import Profile

INSET = 0.03
"""Share of the striped part that is left out at each end: how sharply the edge of a cover shows is not known."""

TRUSTED = 0.5


def stripes_alone(profile: Profile) -> Profile:
    """The profile with trust in its striped part alone: what lies beyond may be a cover, a hand, another label."""
    band, at = profile.band, np.arange(len(profile.values))
    inset = INSET * (band.right - band.left)
    inside = (at > band.left + inset) & (at < band.right - inset)
    return replace(profile, weights=np.where(inside, profile.weights, 0).astype(np.float32))


def seen_share(profile: Profile, warp: NDArray[np.float64]) -> float:
    """The share of a symbol's length, under this warp, that lies on columns which can be trusted."""
    at = np.linspace(-1, 1, 400)[:, None] ** np.arange(4) @ warp
    trust = np.interp(at, np.arange(len(profile.values)), profile.weights, 0.0, 0.0)
    return float((trust >= TRUSTED).mean())
