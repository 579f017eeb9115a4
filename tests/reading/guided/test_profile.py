"""A profile shows light, not camera grey, and no shade; a sharp one is found among many codes."""

import random

import numpy as np
import pytest

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided.patterns import blur_rows, patterns, render_patterns
from receiving.reading.guided.profile import TONE, Band, Profile, mean_profile, striped_band
from receiving.reading.guided.search import Bank

CODE = ExpectedCode("9520000123451", "]E0")
MODULE_PX = 4


def photographed(shade: float, blur: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Grey rows of a label that gets darker to the right by ``shade``, and its light where nothing darkens it."""
    bars = blur_rows(render_patterns(patterns(CODE), MODULE_PX, 12.0), blur * MODULE_PX)[0]
    light = 220.0 - 190.0 * bars
    seen = light * np.linspace(1.0, 1.0 - shade, len(light))
    grey = 255 * (seen / 255) ** (1 / TONE)
    return np.repeat(grey[None], 90, 0).astype(np.float32), light


def likeness(seen: np.ndarray, light: np.ndarray, band: Band) -> float:
    inside = slice(int(band.left), int(band.right))
    return float(np.corrcoef(seen[inside], light[inside])[0, 1])


@pytest.mark.parametrize(("shade", "grey_is_like"), ((0.4, 0.93), (0.7, 0.83)))
def test_a_profile_of_a_shaded_label_is_like_the_light_of_an_evenly_lit_one(shade, grey_is_like):
    grey, light = photographed(shade)
    band = striped_band(grey)
    assert band is not None
    profile = mean_profile(grey, band)
    assert profile is not None
    assert likeness(grey[0], light, profile.band) < grey_is_like
    assert likeness(profile.values, light, profile.band) > 0.96


def test_a_sharp_profile_is_found_among_many_codes():
    chance = random.Random(7)
    bodies = {CODE.raw[:4] + "".join(chance.choices("0123456789", k=8)) for _ in range(150)}
    decoys = [patterns(ExpectedCode(body + mod10_check_digit(body), "]E0"))[0] for body in sorted(bodies)]
    (true,) = patterns(CODE)
    sharp = 220.0 - 190.0 * render_patterns([true], MODULE_PX, 12.0)[0]
    # Hard edges, and bars thinned by a quarter: what a camera's sharpening leaves of printed bars.
    thinned = np.maximum(sharp, np.roll(sharp, 1))
    scale = 1.07
    seen = np.interp(np.arange(0, len(sharp), 1 / scale), np.arange(len(sharp)), thinned).astype(np.float32)
    left, right = 12 * MODULE_PX * scale, (12 + true.modules) * MODULE_PX * scale
    profile = Profile(seen, Band(left - 40, right + 40, 0, 1), np.ones_like(seen))
    poses = Bank([true, *decoys]).search(profile)
    scores = [pose.score if pose else 0.0 for pose in poses]
    assert max(scores) == scores[0] > 0.9
    assert poses[0] is not None
    assert poses[0].module == pytest.approx(MODULE_PX * scale, rel=0.03)
