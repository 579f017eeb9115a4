"""Looks at stacked and matrix codes whose rows and columns are laid along those of pixels, at a size decoders like."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.reading.attempts import Attempt
from receiving.reading.region import BarRegion, bar_crop
from receiving.reading.regions import CELL_PX, alternations, drop_same_bars, grid_angle, matrix_regions

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

COARSE_MATRIX_PX = 600
"""Longer side at which codes of large modules are one patch; at the usual one they fall into pieces."""

SMALL_PHOTO_PX = 200
"""Longer side up to which a photo on which no place stands out is taken for one: a code cut out of a larger picture."""

TURN_PX = 400
"""Longer side of the picture that turns are measured on."""

COARSE_DEG, FINE_DEG, MOST_DEG = 2.0, 0.5, 8.0
"""Steps of the turn, and the most that gradients tell it wrong by, or perspective slants rows against columns. A PDF417
of one pixel a module is lost two degrees off, one of two pixels five degrees off."""

ATTEMPTS = ((6.6, 0.12), (9.9, 0.06))
"""Mean width of a run of equal modules in an attempt, pixels: about two modules, so three and five pixels a module;
and the quiet zone around the place, in longer sides, as its outermost modules may be cut off. Whether zxing-cpp finds a
Data Matrix depends on where in the attempt it lies."""

MIN_SCALE, MAX_SCALE, MIN_QUIET_ZONE_PX = 0.2, 3.0, 8
MOST_ATTEMPT_PX = 2_500_000

Turns = tuple[float, float]
"""Degrees off a place's own direction: of its columns, and of its rows."""


def upright_places(gray: Gray) -> tuple[BarRegion, ...]:
    """Where a stacked or matrix code may stand on ``gray`` (height, width), largest first, of large modules too."""
    longest = max(gray.shape)
    found = list(matrix_regions(gray))
    if longest > COARSE_MATRIX_PX:
        found += matrix_regions(gray, longest_px=COARSE_MATRIX_PX)
    if not found and 4 * CELL_PX <= longest <= SMALL_PHOTO_PX:
        found.append(_whole_photo(gray))
    return drop_same_bars(found)


def _whole_photo(gray: Gray) -> BarRegion:
    height, width = gray.shape
    angle = grid_angle(gray, (slice(0, height // CELL_PX), slice(0, width // CELL_PX)))
    return BarRegion((width - 1) / 2, (height - 1) / 2, angle, width, height)


def upright_attempts(gray: Gray, place: BarRegion) -> Iterator[Attempt]:
    """The place with its rows and its columns upright, each by its own turn, at some pixels a module."""
    turns = grid_turns_deg(gray, place)
    run_px = _run_px(gray, place, turns)
    largest = min(MAX_SCALE, math.sqrt(MOST_ATTEMPT_PX / (place.length_px * place.height_px)))
    for element_px, quiet_zone in ATTEMPTS:
        scale = min(largest, max(MIN_SCALE, element_px / run_px))
        around = quiet_zone * max(place.length_px, place.height_px) + MIN_QUIET_ZONE_PX
        yield Attempt(*lay_upright(gray, place, turns, scale, around))


def _run_px(gray: Gray, place: BarRegion, turns: Turns) -> float:
    """Mean width of a run of equal modules, photo pixels; rows of stacked codes are higher, so the shorter way."""
    scale = min(1.0, 2 * TURN_PX / max(place.length_px, place.height_px))
    crop, _ = lay_upright(gray, place, turns, scale, 0.0)
    runs = (part.shape[1] / max(1.0, _changes(part)) for part in (crop, crop.T))
    return float(min(runs)) / scale


def _changes(crop: Gray) -> float:
    """Light/dark changes along a row, the median of some rows."""
    step = max(1, len(crop) // 24)
    rows = np.ascontiguousarray(crop[step // 2 :: step], np.float32)
    rows -= cv2.blur(rows, (31, 1))
    return float(np.median([alternations(row) for row in rows]))


def grid_turns_deg(gray: Gray, place: BarRegion) -> Turns:
    """The turns off the place's own direction at which the means of columns, and of rows, change most.

    Gradients tell the direction of modules of one or two pixels some degrees wrong; their means over a row do not.
    """
    coarse = {k * COARSE_DEG for k in range(-int(MOST_DEG / COARSE_DEG), int(MOST_DEG / COARSE_DEG) + 1)}
    near = _best_turns(gray, place, coarse)
    return _best_turns(gray, place, {turn + k * FINE_DEG for turn in near for k in range(-3, 4)})


def _best_turns(gray: Gray, place: BarRegion, turns: set[float]) -> Turns:
    tried = sorted(turns)
    contrasts = [_contrasts(gray, place, turn) for turn in tried]
    columns, rows = (max(range(len(tried)), key=lambda k: contrasts[k][axis]) for axis in (0, 1))
    return tried[columns], tried[rows]


def _contrasts(gray: Gray, place: BarRegion, turn_deg: float) -> tuple[float, float]:
    """How much the means of neighbouring columns, and of rows, differ once the place is turned."""
    turned = replace(place, angle_deg=place.angle_deg + turn_deg)
    scale = min(1.0, TURN_PX / max(place.length_px, place.height_px))
    crop, _ = bar_crop(gray, turned, scale=scale, margin_length=0, margin_height=0)
    columns, rows = (float((np.diff(crop.mean(axis, dtype=np.float32)) ** 2).sum()) for axis in (0, 1))
    return columns, rows


def lay_upright(
    gray: Gray, place: BarRegion, turns: Turns, scale: float, quiet_zone: float
) -> tuple[Gray, NDArray[np.float64]]:
    """The place with ``quiet_zone`` pixels around it and both turns taken out, and the 2 x 3 map to photo pixels."""
    down, along = (math.radians(place.angle_deg + turn) for turn in turns)
    width, height = (max(8, round((side + 2 * quiet_zone) * scale)) for side in (place.length_px, place.height_px))
    to_photo = np.array([[math.cos(along), -math.sin(down), 0], [math.sin(along), math.cos(down), 0]]) / scale
    to_photo[:, 2] = np.array([place.x, place.y]) - to_photo[:, :2] @ np.array([(width - 1) / 2, (height - 1) / 2])
    # Modules of many pixels are averaged, not sampled.
    small, shrunk = (gray, 1.0) if scale >= 1 else (_shrunk(gray, scale), scale)
    from_small = to_photo * shrunk
    from_small[:, 2] += (shrunk - 1) / 2
    how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    crop = cv2.warpAffine(small, from_small, (width, height), flags=how, borderMode=cv2.BORDER_REPLICATE)
    return crop, to_photo


def _shrunk(gray: Gray, scale: float) -> Gray:
    return cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
