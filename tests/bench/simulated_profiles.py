"""Profiles across printed bars as a camera gives them, without the photo around them: cheap enough for many thousands.

The faults are those of the photo model (tests/bench/photo_model.py) as far as one row shows them, and two that real
photos have: bars sampled at points at few pixels a module, and a part that is covered or washed out by glare. How
strong they usually are is our own guess, no source.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, minimum_filter1d, uniform_filter1d, zoom

from receiving.reading.guided.fit import warp_of
from receiving.reading.guided.patterns import Pattern, render_patterns
from receiving.reading.guided.profile import LEAST_ROWS, Band, Profile, mean_profile
from receiving.reading.guided.search import Pose

Row = NDArray[np.floating]
FINE, QUIET, MARGIN = 12, 20.0, 12.0
COVERED, GLARED, HARD_EDGED = 0.25, 0.15, 0.2
"""Shares of profiles with this fault."""


def seen_profile(pattern: Pattern, chance: np.random.Generator) -> tuple[Profile, Row] | None:
    """The profile of a patch across one printed pattern, and the warp at which the pattern lies in it.

    None where so little is seen that there is no profile.
    """
    light, px = _printed(pattern, chance)
    bend, half = chance.uniform(-0.2, 0.2), pattern.modules / 2
    place = np.arange(round((pattern.modules + 2 * MARGIN) * px)) / px - half - MARGIN
    s = place / (1 + bend * place / pattern.modules)  # where on the symbol each pixel looks, modules from the middle
    seen = np.interp(s, (np.arange(len(light)) + 0.5) / FINE - QUIET - half, light)
    v = place / half
    seen = seen * (1 + chance.uniform(-0.4, 0.4) * v + chance.uniform(-0.2, 0.2) * v**2)
    seen = _spoiled(seen, v, chance)
    grey = 255 * np.clip(seen * chance.uniform(0.3, 1), 0, 1) ** (1 / chance.uniform(1.6, 2.4))
    grey = grey + gaussian_filter1d(chance.normal(0, chance.uniform(0.2, 2.5), len(grey)), 0.7)
    row = zoom(grey, max(1.0, 480 / len(grey)), order=3, mode="nearest", grid_mode=True).astype(np.float32)
    px *= len(row) / len(grey)
    middle = len(row) / 2 - 0.5
    left, right = np.array([-half, half]) / (1 - bend * np.array([-half, half]) / pattern.modules) * px + middle
    warp = warp_of(Pose(middle, px, bend, False, 1.0), pattern.modules)
    rows = np.repeat(row[None], LEAST_ROWS, 0)
    profile = mean_profile(rows, Band(float(left), float(right), 0, LEAST_ROWS))
    return (profile, warp) if profile else None


def _printed(pattern: Pattern, chance: np.random.Generator) -> tuple[Row, float]:
    """Light of the printed bars under the point spread, ``FINE`` samples a module, and the pixels a module."""
    dark = render_patterns([pattern], FINE, QUIET)[0]
    spread = round(abs(chance.normal(0, 0.08)) * FINE)
    dark = (maximum_filter1d if chance.random() < 0.5 else minimum_filter1d)(dark, 2 * spread + 1)
    light = 0.85 - chance.uniform(0.55, 0.8) * dark
    if chance.random() < HARD_EDGED:
        return gaussian_filter1d(light, chance.uniform(0.05, 0.5) * FINE), chance.uniform(1.6, 2.8)
    light = gaussian_filter1d(light, chance.uniform(0.2, 1.0) * FINE)
    for widest in (2.2, 2.5):
        light = uniform_filter1d(light, max(1, round(chance.uniform(0, widest) * FINE)))
    return light, chance.uniform(1.8, 4.5)


def _spoiled(grey: Row, v: Row, chance: np.random.Generator) -> Row:
    """The light with glare on it, or with a part of the symbol (v from -1 to 1) covered."""
    fault, side = chance.random(), chance.choice((-1.0, 1.0))
    if fault < COVERED:
        hidden = chance.uniform(0.02, 0.3)
        cover = chance.uniform(0.02, 0.7) + 0.05 * chance.random() * np.sin(v * chance.uniform(2, 30))
        return np.where(side * v > 1 - 2 * hidden, cover, grey)
    if fault < COVERED + GLARED:
        spot = np.exp(-(((v - chance.uniform(-1, 1)) / chance.uniform(0.1, 0.5)) ** 2))
        return grey + chance.uniform(0.1, 1.2) * spot
    return grey
