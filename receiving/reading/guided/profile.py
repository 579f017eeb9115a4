"""One clean brightness profile across the bars of an upright patch: covered and creased rows left out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, grey_closing, uniform_filter1d

Floats = NDArray[np.float32]
STRIPS = 16
LEAST_ROWS = 3

TONE = 1.8
"""Power that turns grey values into light, where blur and neighbouring rows add up.

sRGB (IEC 61966-2-1) is about 2.2, but cameras raise contrast on top. Of 20 difficult photos 1.8 left the least residual
variance; 1.5 and 2.2 left 1 to 5 % more, 1.0 left 13 % more and 3.0 left 34 % more and lost four of them.
"""

SHADED = 1 / 5
"""Share of the striped part that surely shows some white: over less, dark digits are taken for shade."""

DEEPEST_SHADE = 0.2
"""Share of the brightest white below which dark is black, not shaded white."""


@dataclass(frozen=True)
class Band:
    """The striped part of a patch, in its pixels."""

    left: float
    right: float
    top: int
    bottom: int


@dataclass(frozen=True)
class Profile:
    """Light across the bars, one value a patch column, of the striped band: even where the label was unevenly lit.

    ``weights`` says how far each column can be trusted, from 0 (nothing of the code is seen there) to 1.
    """

    values: Floats
    band: Band
    weights: Floats


def striped_band(grey: Floats) -> Band | None:
    """Where brightness changes along the row and not across it; None where it does nowhere."""
    # Noise changes as much along a row as across it. Smoothed along the row it counts little; bars are wider than that.
    # Smoothed along the row alone: across it, text and edges of the label must still show as changes.
    smooth = gaussian_filter1d(grey, 2.0, axis=1)
    along, across = np.abs(np.diff(smooth, axis=1)), np.abs(np.diff(smooth, axis=0))
    wide = grey.shape[1]
    # The view is larger than the symbol: its outer sixths may show the label's edge or another symbol.
    middle = slice(wide // 6, wide - wide // 6)
    # Bars change along the row and not across it; print changes both ways, so that the difference tells them apart.
    score = along[:, middle].mean(1) - np.r_[across[:, middle].mean(1), 0.0]
    score = gaussian_filter1d(score, max(1.0, grey.shape[0] / 60))
    best = int(np.argmax(gaussian_filter1d(score, grey.shape[0] / 16)))
    if score[best] <= 0.05:
        return None
    # The band ends at the first row that is clearly less striped: digits, a crease, the edge of a cover.
    low = np.flatnonzero(score <= 0.6 * score[best])
    top = int(max(low[low < best], default=-1)) + 1
    bottom = int(min(low[low > best], default=len(score)))
    if bottom - top < LEAST_ROWS:
        return None
    left, right = _striped_columns(grey[top:bottom].mean(0))
    return Band(left, right, top, bottom)


def _striped_columns(values: Floats) -> tuple[float, float]:
    """Bounds of the part of a row that changes much."""
    change = uniform_filter1d(np.abs(np.gradient(gaussian_filter1d(values, 1.5))), max(3, len(values) // 16))
    inside = np.flatnonzero(change > 0.22 * float(np.quantile(change, 0.9)))
    return float(inside[0]), float(inside[-1] + 1)


def mean_profile(grey: Floats, band: Band) -> Profile | None:
    """The mean of the band's rows, each strip first laid over the others; strips that disagree are left out."""
    parts = np.array_split(grey[band.top : band.bottom], min(STRIPS, band.bottom - band.top))
    strips = np.array([part.mean(0) for part in parts], np.float32)
    surround = grey.shape[1] / 10
    flat = _flatten(strips, surround)
    # The median, since a tape or a finger may cover several strips; a mean would be pulled by them.
    reference = np.median(flat, 0).astype(np.float32)
    kept = np.ones(len(strips), bool)
    moves: list[tuple[float, float, float]] = []
    # Twice: the first reference is the median of strips that do not lie over each other yet, and so is blurred.
    # Twice: the first reference is the median of strips that are not yet laid over each other, and is blurred by it.
    for _ in range(2):
        moves = [_register(row, reference) for row in flat]
        quality = np.array([move[2] for move in moves])
        # Measured against the better quarter, as on a poor photo all strips resemble each other less.
        kept = quality > max(0.5, float(np.quantile(quality, 0.75)) - 0.15)
        if not kept.any():
            return None
        reference = _flatten(_laid(strips, moves, kept), surround)
    left, right = _striped_columns(_laid(strips, moves, kept))
    # Registered on grey values, averaged as light: it is light that adds up over rows (see TONE).
    # Strips are registered as grey values but averaged as light: blur and averaging add light, not grey values.
    lights = np.array([_light(part).mean(0) for part in parts], np.float32)
    edges = np.linspace(band.top, band.bottom, len(strips) + 1)
    rows = np.flatnonzero(kept)
    seen = Band(left, right, int(edges[rows[0]]), int(edges[rows[-1] + 1]))
    values = _evenly_lit(_laid(lights, moves, kept), seen)
    return Profile(values, seen, np.ones_like(values))


def _light(grey: Floats) -> Floats:
    """Grey values 0 to 255 as light on the same scale."""
    return np.asarray(255 * (np.clip(grey, 0, 255) / 255) ** TONE, np.float32)


def _evenly_lit(values: Floats, band: Band) -> Floats:
    """The values divided by the white around them: where a shadow lies, white and bars are darker by the same share."""
    # A closing fills what is darker than its surroundings and narrower than its window: the bars, and not a shadow.
    width = max(5, round(SHADED * (band.right - band.left)))
    white = gaussian_filter1d(grey_closing(values, width, mode="nearest"), width / 2, mode="nearest")
    brightest = float(np.quantile(white[int(band.left) : int(band.right)], 0.9))
    return np.asarray(values * (brightest / np.maximum(white, DEEPEST_SHADE * brightest + 1e-3)), np.float32)


def darkness(profile: Profile, width: float) -> Floats:
    """Darkness without changes of light slower than ``width`` columns; 0 where nothing can be trusted."""
    trusted = gaussian_filter1d(profile.weights, width, mode="nearest", truncate=2.5)
    light = gaussian_filter1d(profile.weights * profile.values, width, mode="nearest", truncate=2.5)
    return np.asarray(profile.weights * (light / (trusted + 1e-6) - profile.values), np.float32)


def alternations(profile: Profile, within: tuple[float, float] | None = None) -> int:
    """Changes between lighter and darker than the surroundings, ripples left out, in the striped part or in others."""
    left, right = within or (profile.band.left, profile.band.right)
    part = slice(max(0, int(left)), max(0, int(right)))
    local = darkness(profile, max(1.0, (right - left) / 16))[part]
    if not len(local):
        return 0
    # Ripples of the camera's sharpening, and noise, swing less than a fifth of what bars do.
    swing = 0.2 * float(np.quantile(np.abs(local), 0.9))
    sides = np.sign(local[np.abs(local) > swing])
    return int((np.diff(sides) != 0).sum())


def _flatten(rows: Floats, width: float) -> Floats:
    """The rows without their slow change of light."""
    return np.asarray(rows - gaussian_filter1d(rows, width, axis=-1, mode="nearest"), np.float32)


def _laid(strips: Floats, moves: list[tuple[float, float, float]], kept: NDArray[np.bool_]) -> Floats:
    """The mean of the kept strips, each laid over the others."""
    laid = [_moved(row, m[0], m[1]) for row, m, keep in zip(strips, moves, kept, strict=True) if keep]
    return np.asarray(np.mean(laid, 0), np.float32)


def _moved(row: Floats, shift: float, stretch: float) -> Floats:
    x = np.arange(len(row), dtype=np.float32)
    return np.interp(x + shift + stretch * (x - len(row) / 2), x, row).astype(np.float32)


def _register(row: Floats, reference: Floats, rounds: int = 3) -> tuple[float, float, float]:
    """Shift (samples) and stretch that lay ``row`` over ``reference``, and their correlation then."""
    shift = stretch = 0.0
    x = np.arange(len(row), dtype=np.float32) - len(row) / 2
    for _ in range(rounds):
        moved = _moved(row, shift, stretch)
        gain = float(moved @ reference / (moved @ moved + 1e-9))
        slope = np.gradient(moved) * max(gain, 0.1)
        # Shift, stretch and gain at once by a Gauss-Newton step (Lucas & Kanade 1981, here in one dimension).
        basis = np.stack([slope, slope * x, moved], 1)
        step = np.linalg.lstsq(basis, reference - gain * moved, rcond=None)[0]
        # No step goes farther than about a module: one bar more and the strip lies well over the wrong bars.
        # A bounded step: bars repeat, and a free one jumps to the next bar that matches as well.
        shift += float(np.clip(step[0], -6, 6))
        stretch += float(np.clip(step[1], -0.02, 0.02))
    moved = _moved(row, shift, stretch)
    scale = float(np.linalg.norm(moved) * np.linalg.norm(reference)) + 1e-9
    return shift, stretch, float(moved @ reference) / scale
