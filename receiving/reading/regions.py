"""Where bars are on a photo, whether or not any decoder reads them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.gradients import CELL_PX, Cells, GradientField, cleaned, grid_angle, patches
from receiving.reading.measuring import MIN_ALTERNATIONS, looked_at, same_bars
from receiving.reading.region import STRAIGHT_AGREEMENT, BarRegion, covers, parts_beside, scaled

if TYPE_CHECKING:
    from receiving.reading.image import Gray

FINE_PX, COARSE_PX = 2000, 800
"""Longer sides at which bars are looked for: fine for many small labels, coarse for one that fills the photo."""

MATRIX_PX, MIN_MATRIX_GRADIENT, MOST_MATRIX = 1600, 8.0, 40
MIN_MATRIX_SIDE_PX, MAX_ASPECT = 20, 32
"""Longer side at which matrix codes are looked for, their least mean gradient, how many places are
looked at, and the least side and longest shape of one (a PDF417 of three rows and thirty columns is longest)."""


def bar_regions(gray: Gray, read: Sequence[Quad] = ()) -> tuple[BarRegion, ...]:
    """All regions of parallel bars on ``gray`` (height, width), largest first, without those that ``read`` covers."""
    longest = max(gray.shape)
    fine = min(FINE_PX, longest)
    found = list(_regions_at(gray, fine / longest, read))
    coarse = COARSE_PX if longest > 1.5 * COARSE_PX else longest // 2
    # One symbol that fills a small photo is found at the fine scale unless its bars are very wide.
    if coarse == COARSE_PX or not (read or found):
        found += _regions_at(gray, coarse / longest, read)
    return distinct(found)


def _regions_at(gray: Gray, scale: float, read: Sequence[Quad]) -> Iterator[BarRegion]:
    if min(gray.shape) * scale < 4 * CELL_PX:
        return
    small = gray if scale == 1 else cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = GradientField(small)
    known = [scaled(quad, scale) for quad in read]
    for cells in field.components(known):
        region = field.region(cells)
        shapes = (region,) if region else (field.region(part) for part in field.without_lines(cells))
        for shape in shapes:
            if shape is not None:
                yield from _bars_in(gray, shape.scaled(1 / scale), read)


def _bars_in(gray: Gray, region: BarRegion, read: Sequence[Quad]) -> Iterator[BarRegion]:
    """The region, measured, or what other bars it holds beside those that were read; nothing that shows too few."""
    known = [quad for quad in read if covers(quad, region)]
    for part in parts_beside(region, known) if known else (region,):
        found = looked_at(gray, part)
        if found.alternations >= MIN_ALTERNATIONS and not (known and _is_more_of_them(gray, part, found, known)):
            yield found


def _is_more_of_them(gray: Gray, part: BarRegion, found: BarRegion, known: Sequence[Quad]) -> bool:
    """True when a part beside what was read shows no bars of its own: print, or the same bars, seen worse."""
    return found.agreement < STRAIGHT_AGREEMENT or any(same_bars(gray, part, quad) for quad in known)


def matrix_regions(gray: Gray, read: Sequence[Quad] = (), *, longest_px: int = MATRIX_PX) -> tuple[BarRegion, ...]:
    """Patches full of edges in two directions, as stacked and matrix codes are, without those that ``read`` covers.

    Print is among them. ``angle_deg`` lies along one of the two directions; largest first.
    """
    scale = min(1.0, longest_px / max(gray.shape, default=1))
    if min(gray.shape) * scale < 4 * CELL_PX:
        return ()
    small = gray if scale == 1 else cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = GradientField(small)
    busy = cv2.blur((field.cell_energy > MIN_MATRIX_GRADIENT**2).astype(np.float32), (3, 3)) > 0.5
    found = []
    for window, inside in patches(cleaned(busy.astype(np.uint8))):
        rows, columns = np.nonzero(inside)
        angle = grid_angle(small, window)
        for turn in (angle, angle + 90):
            region = field.region(Cells(columns + window[1].start, rows + window[0].start, turn), MIN_MATRIX_SIDE_PX)
            if region is not None and region.height_px <= region.length_px <= MAX_ASPECT * region.height_px:
                found.append(region.scaled(1 / scale))
                break
    fresh = [r for r in found if not any(covers(quad, r) for quad in read)]
    return tuple(sorted(fresh, key=lambda r: -r.length_px * r.height_px)[:MOST_MATRIX])


def distinct(found: Sequence[BarRegion]) -> tuple[BarRegion, ...]:
    """Each place once, largest first: the same bars found at two scales are kept as the larger rectangle."""
    kept: list[BarRegion] = []
    for region in sorted(found, key=lambda r: -r.length_px * r.height_px):
        if not any(k.holds(region.x, region.y) and k.parallel(region) for k in kept):
            kept.append(region)
    return tuple(kept)
