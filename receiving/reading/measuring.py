"""What a region of bars shows: its light/dark changes, how far its bars run through, and where print touches them."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.gradients import MIN_HEIGHT_PX
from receiving.reading.region import CLEAR_AGREEMENT, STRAIGHT_AGREEMENT, BarRegion, bar_crop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

MIN_ALTERNATIONS = 12
"""Light/dark changes across the bars that a region must show: the shortest carton symbol has more, blur joins some."""

LOOK_PX = 800
"""A longer region is measured at this length."""

FINE_ELEMENT_PX = 4.5
STRAIGHTENING_DEG = (-4, -3, -2, -1, 0, 1, 2, 3, 4)
"""Mean width of a bar below which gradients tell its angle some degrees wrong, and the turns that are tried then."""

STRIPS = 10
MAX_FAN_DEG, SHEARS = 15, 9
"""A region is compared in this many strips along its bars, which perspective may turn by this much off the mean."""

SHIFT_PX, SAME_BARS = 8, 0.5
"""How far bars may lean from one strip to the next, and the correlation above which both show the same ones."""


def looked_at(gray: Gray, region: BarRegion) -> BarRegion:
    """The region with its light/dark changes and its agreement, cut down to its bars where print touches them."""
    region, rows = measured(gray, region)
    if region.agreement < CLEAR_AGREEMENT and region.length_px < FINE_ELEMENT_PX * region.alternations:
        straight = measured(gray, _straightened(gray, region))
        # Bars that perspective fans out have no one direction: theirs stays the mean.
        region, rows = straight if straight[0].agreement >= STRAIGHT_AGREEMENT else (region, rows)
    if region.agreement >= CLEAR_AGREEMENT or region.alternations < MIN_ALTERNATIONS:
        return region
    first, last = _alike(rows)
    start, end = ((n / len(rows) - 0.5) * region.height_px for n in (first, last))
    if last - first == len(rows) or end - start < MIN_HEIGHT_PX:
        return region
    cut = region.between(start, end)
    return max(region, measured(gray, cut)[0], key=lambda r: r.agreement)


def _straightened(gray: Gray, region: BarRegion) -> BarRegion:
    """The region at the angle at which its columns differ most: gradients tell that of fine bars too near the grid."""

    def contrast(turned: BarRegion) -> float:
        crop, _ = bar_crop(gray, turned, scale=1.0, margin_length=0, margin_height=-region.height_px / 20)
        return float((np.diff(crop.mean(0, dtype=np.float32)) ** 2).mean())

    turned = (replace(region, angle_deg=region.angle_deg + turn) for turn in STRAIGHTENING_DEG)
    return max(turned, key=contrast)


def measured(gray: Gray, region: BarRegion) -> tuple[BarRegion, NDArray[np.float32]]:
    """The region with its light/dark changes and agreement, and the profiles (strips, length) that they come from."""
    scale = min(1.0, LOOK_PX / region.length_px)
    crop, _ = bar_crop(gray, region, scale=scale, margin_length=4 / scale, margin_height=-region.height_px / 20)
    edges = np.linspace(0, crop.shape[0], min(STRIPS, crop.shape[0]) + 1).astype(int)
    rows = np.array([crop[a:b].mean(axis=0, dtype=np.float32) for a, b in itertools.pairwise(edges)])
    rows -= cv2.blur(rows, (31, 1))
    agreement = _agreement(rows, crop.shape[0] / len(rows))
    return replace(region, alternations=alternations(rows[len(rows) // 2]), agreement=agreement), rows


def same_bars(gray: Gray, part: BarRegion, quad: Quad) -> bool:
    """True when the part of a region shows the bars that were read at ``quad`` beside it."""
    down = sorted(part.local(*corner)[1] for corner in quad)
    strips, others = measured(gray, part)[1], measured(gray, part.between(down[0], down[-1]))[1]
    # Perspective turns bars, so those strips are compared that lie next to each other.
    row, other = (strips[-1], others[0]) if down[0] > 0 else (strips[0], others[-1])
    inner = row[SHIFT_PX:-SHIFT_PX]
    shifted = np.lib.stride_tricks.sliding_window_view(other, len(inner))
    size = np.linalg.norm(inner) * np.linalg.norm(shifted, axis=1) + 1e-6
    return float((shifted @ inner / size).max()) > SAME_BARS


def alternations(profile: NDArray[np.float32]) -> int:
    """Light/dark changes along a profile around its own mean."""
    swing = 0.25 * float(np.sort(np.abs(profile))[int(0.9 * len(profile))])
    sides = np.sign(profile[np.abs(profile) > swing])
    return int((np.diff(sides) != 0).sum())


def _alike(rows: NDArray[np.float32]) -> tuple[int, int]:
    """First and last (excluded) of the strips around the most typical one that look like it."""
    size = np.linalg.norm(rows, axis=1) + 1e-6
    pairs = np.max([rows[:, 2:-2] @ rows[:, 2 + k : rows.shape[1] - 2 + k].T for k in (-2, -1, 0, 1, 2)], axis=0)
    alike = pairs / np.outer(size, size)
    first = last = int(np.where(alike > 0.5, alike, 0).sum(1).argmax())
    row = alike[first]
    while first > 0 and row[first - 1] > 0.5:
        first -= 1
    while last + 1 < len(rows) and row[last + 1] > 0.5:
        last += 1
    return first, last + 1


def _agreement(rows: NDArray[np.float32], apart_px: float) -> float:
    """Share of the strips' energy that their mean keeps, in each sixth of the length sheared as perspective may.

    1 for bars that run straight through, 1 / STRIPS for unrelated rows.
    """
    count, width = rows.shape
    place = np.arange(count) - (count - 1) / 2
    steepest = math.tan(math.radians(MAX_FAN_DEG)) * apart_px
    shifts = np.rint(np.linspace(-steepest, steepest, SHEARS)[:, None] * place).astype(np.intp)
    reach = int(shifts.max())
    inner = np.arange(reach, max(reach + 1, width - reach))
    sheared = rows[np.arange(count)[None, :, None], np.minimum(inner + shifts[:, :, None], width - 1)]
    starts = np.arange(0, len(inner), max(16, len(inner) // 6 + 1))
    kept = np.add.reduceat(sheared.mean(1) ** 2, starts, axis=1)
    whole = np.add.reduceat((sheared**2).mean(1), starts, axis=1)
    return float(np.median((kept / (whole + 1e-3)).max(axis=0)))
