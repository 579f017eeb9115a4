"""Looks at stacked and matrix codes of few pixels a module: turned until their rows and columns stand out, enlarged."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from receiving.reading.gradients import CELL_PX, grid_angle
from receiving.reading.looks import Look
from receiving.reading.region import BarRegion, bar_crop

if TYPE_CHECKING:
    from receiving.reading.image import Gray

TURN_PX = 400
"""Longer side of the picture that the turn is measured on."""

COARSE_DEG, FINE_DEG = 2.0, 0.5
"""Steps of the turn. A PDF417 of one pixel a module is lost two degrees off, one of two pixels five degrees off."""

SCALES = (0.5, 1.0, 2.0, 3.0)
MOST_LOOK_PX = 2_500_000
"""The sizes that are looked at: modules of many pixels are read smaller, those of few larger; and the most pixels."""


def whole_photo(gray: Gray) -> BarRegion:
    """The whole photo as one place to look at."""
    height, width = gray.shape
    return BarRegion((width - 1) / 2, (height - 1) / 2, 0.0, width, height)


def upright_looks(gray: Gray, place: BarRegion) -> Iterator[Look]:
    """The place turned so that its rows and columns run along those of pixels, smaller, as it is and larger."""
    means, edges = grid_turn_deg(gray, place), _edge_turn_deg(gray, place)
    turns = (means,) if abs(means - edges) < COARSE_DEG else (means, edges)
    for scale, turn in itertools.product(_scales(place), turns):
        turned = _turned_by(place, turn)
        yield Look(*bar_crop(gray, turned, scale=scale, margin_length=0, margin_height=0))


def _scales(place: BarRegion) -> tuple[float, ...]:
    largest = math.sqrt(MOST_LOOK_PX / (place.length_px * place.height_px))
    return tuple(dict.fromkeys(min(scale, largest) for scale in SCALES if scale < 2 * largest))


def _edge_turn_deg(gray: Gray, place: BarRegion) -> float:
    """The turn that most edges have: right where a code fills little of the place, or modules are large."""
    crop, _ = bar_crop(gray, place, scale=1.0, margin_length=0, margin_height=0)
    rows, columns = crop.shape
    if min(rows, columns) < CELL_PX:
        return 0.0
    return grid_angle(crop, (slice(0, rows // CELL_PX), slice(0, columns // CELL_PX)))


def grid_turn_deg(gray: Gray, place: BarRegion) -> float:
    """The turn, degrees from -45 to 45, at which the means of rows and of columns change most.

    Gradients tell the direction of modules of one or two pixels some degrees wrong; their means over a row do not.
    """
    coarse = (k * COARSE_DEG for k in range(-22, 23))
    best = max(coarse, key=lambda turn: _contrast(gray, place, turn))
    fine = (best + k * FINE_DEG for k in range(-3, 4))
    return max(fine, key=lambda turn: _contrast(gray, place, turn))


def _contrast(gray: Gray, place: BarRegion, turn_deg: float) -> float:
    """How much the means of neighbouring rows, and of columns, differ once the place is turned."""
    import numpy as np

    turned = replace(place, angle_deg=place.angle_deg + turn_deg)
    scale = min(1.0, TURN_PX / max(place.length_px, place.height_px))
    crop, _ = bar_crop(gray, turned, scale=scale, margin_length=0, margin_height=0)
    means = (crop.mean(axis, dtype=np.float32) for axis in (0, 1))
    return sum(float((np.diff(mean) ** 2).sum()) for mean in means)


def _turned_by(place: BarRegion, turn_deg: float) -> BarRegion:
    """The rectangle, turned, that holds all of the place."""
    c, s = abs(math.cos(math.radians(turn_deg))), abs(math.sin(math.radians(turn_deg)))
    length, height = place.length_px, place.height_px
    return replace(
        place,
        angle_deg=place.angle_deg + turn_deg,
        length_px=length * c + height * s,
        height_px=height * c + length * s,
    )
