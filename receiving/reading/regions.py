"""Where bars are on a photo, whether or not any decoder reads them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from receiving.model import Quad
from receiving.reading.gradients import CELL_PX, MIN_HEIGHT_PX, Cells, GradientField, cleaned, grid_angle, patches
from receiving.reading.region import CLEAR_AGREEMENT, STRAIGHT_AGREEMENT, BarRegion, bar_crop, covers

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

FINE_PX, COARSE_PX = 2000, 800
"""Longer sides at which bars are looked for: fine for many small labels, coarse for one that fills the photo."""

MATRIX_PX, MIN_MATRIX_GRADIENT, MOST_MATRIX = 1600, 8.0, 40
MIN_MATRIX_SIDE_PX, MAX_ASPECT = 20, 32
"""Longer side at which matrix codes are looked for, their least mean gradient, how many places are
looked at, and the least side and longest shape of one (a PDF417 of three rows and thirty columns is longest)."""

MIN_ALTERNATIONS = 12
"""Light/dark changes across the bars that a region must show: the shortest carton symbol has more, blur joins some."""

LOOK_PX = 800
"""A longer region is measured at this length."""

FINE_ELEMENT_PX = 4.5
STRAIGHTENING_DEG = (-4, -3, -2, -1, 0, 1, 2, 3, 4)
"""Mean width of a bar below which gradients tell its angle some degrees wrong, and the turns that are tried then."""

STRIPS = 10
MAX_FAN_DEG, SHEARS = 15, 9
"""A region is compared in so many strips along its bars, which perspective may turn by so much off the mean."""


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
    import cv2

    if min(gray.shape) * scale < 4 * CELL_PX:
        return
    small = gray if scale == 1 else cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = GradientField(small)
    for cells in field.components():
        region = field.region(cells)
        shapes = (region,) if region else (field.region(part) for part in field.without_lines(cells))
        for shape in shapes:
            if shape is not None:
                yield from _bars_in(gray, shape.scaled(1 / scale), read)


def _bars_in(gray: Gray, region: BarRegion, read: Sequence[Quad]) -> Iterator[BarRegion]:
    """The region, measured, unless it was read already or shows too few bars."""
    if not any(covers(quad, region) for quad in read):
        measured = _looked_at(gray, region)
        if measured.alternations >= MIN_ALTERNATIONS:
            yield measured


def matrix_regions(gray: Gray, read: Sequence[Quad] = (), *, longest_px: int = MATRIX_PX) -> tuple[BarRegion, ...]:
    """Patches full of edges in two directions, as stacked and matrix codes are, without those that ``read`` covers.

    Print is among them. ``angle_deg`` lies along one of the two directions; largest first.
    """
    import cv2
    import numpy as np

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


def _looked_at(gray: Gray, region: BarRegion) -> BarRegion:
    """The region with its light/dark changes and its agreement, cut down to its bars where print touches them."""
    region, rows = _measured(gray, region)
    if region.agreement < CLEAR_AGREEMENT and region.length_px < FINE_ELEMENT_PX * region.alternations:
        straight = _measured(gray, _straightened(gray, region))
        # Bars that perspective fans out have no one direction: theirs stays the mean.
        region, rows = straight if straight[0].agreement >= STRAIGHT_AGREEMENT else (region, rows)
    if region.agreement >= CLEAR_AGREEMENT or region.alternations < MIN_ALTERNATIONS:
        return region
    first, last = _alike(rows)
    height = region.height_px * (last - first) / len(rows)
    if last - first == len(rows) or height < MIN_HEIGHT_PX:
        return region
    down = ((first + last) / 2 / len(rows) - 0.5) * region.height_px
    c, s = math.cos(math.radians(region.angle_deg)), math.sin(math.radians(region.angle_deg))
    cut = replace(region, x=region.x - down * s, y=region.y + down * c, height_px=height)
    return max(region, _measured(gray, cut)[0], key=lambda r: r.agreement)


def _straightened(gray: Gray, region: BarRegion) -> BarRegion:
    """The region at the angle at which its columns differ most: gradients tell that of fine bars too near the grid."""
    import numpy as np

    def contrast(turned: BarRegion) -> float:
        crop, _ = bar_crop(gray, turned, scale=1.0, margin_length=0, margin_height=-region.height_px / 20)
        return float((np.diff(crop.mean(0, dtype=np.float32)) ** 2).mean())

    turned = (replace(region, angle_deg=region.angle_deg + turn) for turn in STRAIGHTENING_DEG)
    return max(turned, key=contrast)


def _measured(gray: Gray, region: BarRegion) -> tuple[BarRegion, NDArray[np.float32]]:
    """The region with its light/dark changes and agreement, and the profiles (strips, length) that they come from."""
    import cv2
    import numpy as np

    scale = min(1.0, LOOK_PX / region.length_px)
    crop, _ = bar_crop(gray, region, scale=scale, margin_length=4 / scale, margin_height=-region.height_px / 20)
    edges = np.linspace(0, crop.shape[0], min(STRIPS, crop.shape[0]) + 1).astype(int)
    rows = np.array([crop[a:b].mean(axis=0, dtype=np.float32) for a, b in itertools.pairwise(edges)])
    rows -= cv2.blur(rows, (31, 1))
    agreement = _agreement(rows, crop.shape[0] / len(rows))
    return replace(region, alternations=alternations(rows[len(rows) // 2]), agreement=agreement), rows


def alternations(profile: NDArray[np.float32]) -> int:
    """Light/dark changes along a profile around its own mean."""
    import numpy as np

    swing = 0.25 * float(np.sort(np.abs(profile))[int(0.9 * len(profile))])
    sides = np.sign(profile[np.abs(profile) > swing])
    return int((np.diff(sides) != 0).sum())


def _alike(rows: NDArray[np.float32]) -> tuple[int, int]:
    """First and last (excluded) of the strips around the most typical one that look like it."""
    import numpy as np

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
    import numpy as np

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


def distinct(found: Sequence[BarRegion]) -> tuple[BarRegion, ...]:
    """Each place once, largest first: the same bars found at two scales are kept as the larger rectangle."""
    kept: list[BarRegion] = []
    for region in sorted(found, key=lambda r: -r.length_px * r.height_px):
        if not any(k.holds(region.x, region.y) and k.parallel(region) for k in kept):
            kept.append(region)
    return tuple(kept)
