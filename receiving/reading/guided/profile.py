"""One clean brightness profile across the bars of an upright patch."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

Floats = NDArray[np.float32]
STRIPS = 24


@dataclass(frozen=True)
class Profile:
    """Brightness across the bars, one value a patch column, of the rows from ``top`` to ``bottom``.

    ``weight`` is 0 where nothing of the symbol can be seen. ``left`` and ``right`` bound the striped part.
    """

    values: Floats
    weight: Floats
    left: float
    right: float
    top: float
    bottom: float


def striped_rows(grey: Floats) -> tuple[int, int] | None:
    """First and last row of the band of rows in which brightness changes along the row and not across it."""
    smooth = gaussian_filter1d(grey, 2.0, axis=1)
    along, across = np.abs(np.diff(smooth, axis=1)), np.abs(np.diff(smooth, axis=0))
    wide = grey.shape[1]
    middle = slice(wide // 6, wide - wide // 6)
    score = along[:, middle].mean(1)
    score = score - np.r_[across[:, middle].mean(1), 0.0] * 1.0
    score = gaussian_filter1d(score, max(1.0, grey.shape[0] / 60))
    if score.max() <= 0.05:
        return None
    best = int(np.argmax(gaussian_filter1d(score, grey.shape[0] / 16)))
    floor = 0.6 * score[best]
    top = best
    while top > 0 and score[top - 1] > floor:
        top -= 1
    bottom = best
    while bottom < len(score) - 1 and score[bottom + 1] > floor:
        bottom += 1
    return (top, bottom + 1) if bottom - top >= 3 else None


def flatten(rows: Floats, width: float) -> Floats:
    """The rows without their slow change of light (a Gaussian of ``width`` samples)."""
    return rows - gaussian_filter1d(rows, width, axis=-1, mode="nearest")


def _shifted(row: Floats, shift: float, stretch: float) -> Floats:
    x = np.arange(len(row), dtype=np.float32)
    return np.interp(x + shift + stretch * (x - len(row) / 2), x, row).astype(np.float32)


def _register(row: Floats, reference: Floats, rounds: int = 3) -> tuple[float, float, float]:
    """Shift and stretch that lay ``row`` over ``reference``, and their correlation then."""
    shift = stretch = 0.0
    x = np.arange(len(row), dtype=np.float32) - len(row) / 2
    moved = row
    for _ in range(rounds):
        moved = _shifted(row, shift, stretch)
        slope = np.gradient(moved)
        gain = float(moved @ reference / (moved @ moved + 1e-9))
        basis = np.stack([slope, slope * x, moved], 1) * max(gain, 0.1)
        step = np.linalg.lstsq(basis, reference - gain * moved, rcond=None)[0]
        shift += float(np.clip(step[0], -6, 6))
        stretch += float(np.clip(step[1], -0.02, 0.02))
    moved = _shifted(row, shift, stretch)
    quality = float(moved @ reference / (np.linalg.norm(moved) * np.linalg.norm(reference) + 1e-9))
    return shift, stretch, quality


def mean_profile(grey: Floats, top: int, bottom: int) -> Profile | None:
    """The mean of the rows, each strip first laid over the others; strips that disagree are left out."""
    strips = np.array(
        [part.mean(0) for part in np.array_split(grey[top:bottom], min(STRIPS, bottom - top))], np.float32
    )
    flat = flatten(strips, grey.shape[1] / 10)
    reference = np.median(flat, 0).astype(np.float32)
    for _ in range(2):
        moves = [_register(row, reference) for row in flat]
        quality = np.array([m[2] for m in moves])
        good = quality > max(0.5, float(np.quantile(quality, 0.75)) - 0.15)
        if good.sum() < 1:
            return None
        laid = np.array([_shifted(row, m[0], m[1]) for row, m, g in zip(strips, moves, good, strict=True) if g])
        reference = flatten(laid.mean(0), grey.shape[1] / 10)
    values = laid.mean(0).astype(np.float32)
    left, right = striped_columns(values)
    rows = np.linspace(top, bottom, len(strips) + 1)
    kept = np.flatnonzero(good)
    return Profile(values, np.ones_like(values), left, right, float(rows[kept[0]]), float(rows[kept[-1] + 1]))


def striped_columns(values: Floats) -> tuple[float, float]:
    """Bounds of the part of a profile that changes much: the widest run around the middle."""
    change = uniform_filter1d(np.abs(np.gradient(gaussian_filter1d(values, 1.5))), max(3, len(values) // 16))
    floor = 0.22 * float(np.quantile(change, 0.9))
    inside = np.flatnonzero(change > floor)
    return float(inside[0]), float(inside[-1] + 1)
