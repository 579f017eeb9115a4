"""Where bars are on a photo, whether or not any decoder reads them, and what such a region shows.

The structure tensor of the photo, pooled over small cells, tells where gradients of gray share one line; a region is
measured by its light/dark changes, how far its bars run through, and where print touches them.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.region import (
    CLEAR_AGREEMENT,
    STRAIGHT_AGREEMENT,
    BarRegion,
    area,
    bar_crop,
    covers,
    holds,
    parts_beside,
    scale_quad,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

CELL_PX = 4
"""Gradients are pooled over cells of this size before anything is decided."""

MIN_COHERENCE = 0.6
MIN_GRADIENT = 3.0
"""Root mean square gradient, gray levels per pixel, below which a cell is flat paper or noise."""

MAX_ONE_SIDED = 0.35
"""Share of a cell's energy that gradients of one sign may make up: an edge has nearly all, bars nearly none."""

SAME_LINE_DEG = 18
PEEL = 3
"""Cells whose gradients differ by less lie in one patch; this many directions are taken off where patches touch."""

MIN_LENGTH_PX, MIN_HEIGHT_PX = 56, 10
MIN_CELLS = 24
"""A patch must be as long and as high, in pixels of the scale it is found at; smaller ones no decoder reads."""

MIN_ACROSS_CELLS = 13
"""Cells across its bars that a patch has everywhere (just under MIN_LENGTH_PX); the edges of two cartons that stand
side by side fill fewer."""

GRID_SPREAD_DEG = 12
"""Edges of one direction scatter so far around it on a pixel grid."""

MOST_BESIDE = 1.4
"""A patch of cells is no more than one symbol when its area stays below this many times the symbol's."""

Window = tuple[slice, slice]


@dataclass(frozen=True)
class Cells:
    """A patch of cells, and the direction of its gradients."""

    columns: NDArray[np.intp]
    rows: NDArray[np.intp]
    angle_deg: float


class GradientField:
    """The structure tensor of an image, pooled over cells (Bigun & Granlund 1987): where gradients share one line."""

    def __init__(self, gray: Gray) -> None:
        rows, columns = gray.shape[0] // CELL_PX, gray.shape[1] // CELL_PX
        gray = gray[: rows * CELL_PX, : columns * CELL_PX]
        # Every other pixel is a large enough sample of the gradients: they are pooled anyway.
        dx, dy = (cv2.Sobel(gray, cv2.CV_16S, *axes)[::2, ::2].astype(np.float32) * 0.125 for axes in ((1, 0), (0, 1)))
        size = (columns, rows)
        pooled = [cv2.resize(p, size, interpolation=cv2.INTER_AREA) for p in (dx * dx, dy * dy, dx * dy, dx, dy)]
        self.xx, self.yy, self.xy, mx, my = (cv2.blur(p, (5, 5)) for p in pooled)
        # The edge of a carton has gradients of one sign; bars have as many of either.
        energy = self.xx + self.yy
        self.difference, self.double = self.xx - self.yy, 2 * self.xy
        mask = cv2.magnitude(self.difference, self.double) > MIN_COHERENCE * energy
        mask &= mx * mx + my * my < MAX_ONE_SIDED * energy
        # A line or an edge fills one row of cells, bars fill all: unblurred energy keeps them apart.
        self.cell_energy = pooled[0] + pooled[1]
        mask &= self.cell_energy > MIN_GRADIENT**2
        self.mask = mask.astype("uint8")
        self.angle = cv2.phase(self.difference, self.double, angleInDegrees=True) / 2

    def components(self, read: Sequence[Quad] = ()) -> Iterator[Cells]:
        """Each connected patch of cells whose gradients share one line; touching ones are told apart by direction.

        A patch that one of the quads ``read`` (pixels) fills is left out: looking closer at it would be in vain.
        """
        joined = cv2.morphologyEx(self.mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
        for window, inside in patches(joined):
            if any(_fills(quad, window, inside) for quad in read):
                continue
            left = inside & (self.mask[window] > 0)
            for _ in range(PEEL):
                if np.count_nonzero(left) < MIN_CELLS:
                    break
                angle = self._peak(window, left)
                turned = np.abs((self.angle[window] - angle + 90) % 180 - 90) < SAME_LINE_DEG
                part, left = left & turned, left & ~turned
                for inner, cells in patches(clean_mask(part.astype(np.uint8))):
                    rows, columns = np.nonzero(cells)
                    rows, columns = (
                        rows + (inner[0].start + window[0].start),
                        columns + (inner[1].start + window[1].start),
                    )
                    yield Cells(columns, rows, self._mean(rows, columns))

    def without_lines(self, cells: Cells) -> Iterator[Cells]:
        """The parts of a patch that reach far across the bars: those of a carton's edge or a table line do not."""
        if len(cells.rows) < 3 * MIN_CELLS:
            return
        top, left = int(cells.rows.min()), int(cells.columns.min())
        part = np.zeros((int(cells.rows.max()) - top + 1, int(cells.columns.max()) - left + 1), np.uint8)
        part[cells.rows - top, cells.columns - left] = 1
        wide = cv2.morphologyEx(part, cv2.MORPH_OPEN, _stroke(cells.angle_deg))
        for window, inside in patches(wide):
            rows, columns = np.nonzero(inside)
            rows, columns = rows + (window[0].start + top), columns + (window[1].start + left)
            yield Cells(columns, rows, self._mean(rows, columns))

    def _peak(self, window: Window, inside: NDArray[np.bool_]) -> float:
        """The direction, in degrees, that most of the patch's energy has."""
        x, y = self.difference[window][inside], self.double[window][inside]
        weight = np.hypot(x, y)
        mean = complex(x.sum(), y.sum())
        if abs(mean) > 0.95 * float(weight.sum()):
            return math.degrees(cmath.phase(mean)) / 2
        counts = np.bincount((self.angle[window][inside] / 10).astype(np.intp) % 18, weights=weight, minlength=18)
        wide = counts + counts[np.arange(-1, 17)] + counts[np.arange(1, 19) % 18]
        return 10.0 * int(wide.argmax()) + 5.0

    def _mean(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> float:
        x = float(self.difference[rows, columns].sum())
        y = float(self.double[rows, columns].sum())
        return math.degrees(0.5 * math.atan2(y, x))

    def region(self, cells: Cells, least_px: int = MIN_LENGTH_PX) -> BarRegion | None:
        """The rectangle around a patch, along its own direction; None when it is shorter or not filled."""
        columns, rows, angle = cells.columns, cells.rows, cells.angle_deg
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        along, down = columns * c + rows * s, rows * c - columns * s
        u0, u1 = _spread(along, 0.01)
        v0, v1 = _spread(down, 0.04)
        length, height = (u1 - u0 + 1) * CELL_PX, (v1 - v0 + 1) * CELL_PX
        if length < least_px or height < MIN_HEIGHT_PX or len(columns) * CELL_PX**2 < 0.4 * length * height:
            return None
        u, v = (u0 + u1) / 2 + 0.5, (v0 + v1) / 2 + 0.5
        return BarRegion((u * c - v * s) * CELL_PX, (u * s + v * c) * CELL_PX, angle, length, height)


def _fills(quad: Quad, window: Window, inside: NDArray[np.bool_]) -> bool:
    """True when the patch is the symbol that was read at ``quad`` (pixels), and not much beside it."""
    rows, columns = window
    middle = ((columns.start + columns.stop) / 2 * CELL_PX, (rows.start + rows.stop) / 2 * CELL_PX)
    return holds(quad, *middle) and int(inside.sum()) * CELL_PX**2 < MOST_BESIDE * area(quad)


def _stroke(angle_deg: float) -> NDArray[np.uint8]:
    """A line of cells in this direction as a kernel: two edges of cartons side by side are not as wide."""
    half = MIN_ACROSS_CELLS // 2
    kernel = np.zeros((MIN_ACROSS_CELLS, MIN_ACROSS_CELLS), np.uint8)
    x, y = (round(half * f(math.radians(angle_deg))) for f in (math.cos, math.sin))
    cv2.line(kernel, (half - x, half - y), (half + x, half + y), 1)
    return kernel


def _spread(values: NDArray[np.float64], trimmed: float) -> tuple[float, float]:
    """The range of the values without this share at either end."""
    ordered = np.sort(values)
    cut = int(trimmed * len(ordered))
    return float(ordered[cut]), float(ordered[-1 - cut])


def clean_mask(part: Gray) -> Gray:
    """Holes inside wide bars filled, lines and specks thinner than three cells removed."""
    padded = cv2.copyMakeBorder(part, 4, 4, 4, 4, cv2.BORDER_CONSTANT, value=0)
    padded = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    padded = cv2.morphologyEx(padded, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    return padded[4:-4, 4:-4]


def patches(mask: Gray) -> Iterator[tuple[Window, NDArray[np.bool_]]]:
    """The bounding window of each connected patch that is large enough for bars, and which cells of it belong."""
    _, marks, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    large = (stats[:, 4] >= MIN_CELLS) & (stats[:, 2:4].max(1) >= MIN_LENGTH_PX // CELL_PX)
    for number in large[1:].nonzero()[0] + 1:
        left, top, width, height, _ = stats[number].tolist()
        window = (slice(top, top + height), slice(left, left + width))
        yield window, marks[window] == number


def grid_angle(gray: Gray, window: Window) -> float:
    """The direction, degrees from -45 to 45, of the strongest edges in the window, either way across; 0 without any."""
    part = gray[tuple(slice(s.start * CELL_PX, s.stop * CELL_PX) for s in window)]
    dx, dy = (cv2.Sobel(part, cv2.CV_32F, *axes).ravel() for axes in ((1, 0), (0, 1)))
    power = dx * dx + dy * dy
    if not power.any():
        return 0.0
    strong = power > 0.25 * float(power.max())
    angles = np.degrees(np.arctan2(dy[strong], dx[strong])) % 90
    counts = np.bincount((2 * angles).astype(np.intp) % 180, weights=power[strong], minlength=180)
    smooth = sum(np.roll(counts, k) for k in range(-4, 5))
    off = (angles - float(np.argmax(smooth)) / 2 + 45) % 90 - 45
    near = np.abs(off) < GRID_SPREAD_DEG
    angle = float(np.argmax(smooth)) / 2 + float(np.average(off[near], weights=power[strong][near]))
    return (angle + 45) % 90 - 45


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
    region, rows = measure_region(gray, region)
    if region.agreement < CLEAR_AGREEMENT and region.length_px < FINE_ELEMENT_PX * region.alternations:
        straight = measure_region(gray, _straightened(gray, region))
        # Bars that perspective fans out have no one direction: theirs stays the mean.
        region, rows = straight if straight[0].agreement >= STRAIGHT_AGREEMENT else (region, rows)
    if region.agreement >= CLEAR_AGREEMENT or region.alternations < MIN_ALTERNATIONS:
        return region
    first, last = _alike(rows)
    start, end = ((n / len(rows) - 0.5) * region.height_px for n in (first, last))
    if last - first == len(rows) or end - start < MIN_HEIGHT_PX:
        return region
    cut = region.between(start, end)
    return max(region, measure_region(gray, cut)[0], key=lambda r: r.agreement)


def _straightened(gray: Gray, region: BarRegion) -> BarRegion:
    """The region at the angle at which its columns differ most: gradients tell that of fine bars too near the grid."""

    def contrast(turned: BarRegion) -> float:
        crop, _ = bar_crop(gray, turned, scale=1.0, margin_length=0, margin_height=-region.height_px / 20)
        return float((np.diff(crop.mean(0, dtype=np.float32)) ** 2).mean())

    turned = (replace(region, angle_deg=region.angle_deg + turn) for turn in STRAIGHTENING_DEG)
    return max(turned, key=contrast)


def measure_region(gray: Gray, region: BarRegion) -> tuple[BarRegion, NDArray[np.float32]]:
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
    strips, others = measure_region(gray, part)[1], measure_region(gray, part.between(down[0], down[-1]))[1]
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
    return drop_same_bars(found)


def _regions_at(gray: Gray, scale: float, read: Sequence[Quad]) -> Iterator[BarRegion]:
    if min(gray.shape) * scale < 4 * CELL_PX:
        return
    small = gray if scale == 1 else cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = GradientField(small)
    known = [scale_quad(quad, scale) for quad in read]
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
    for window, inside in patches(clean_mask(busy.astype(np.uint8))):
        rows, columns = np.nonzero(inside)
        angle = grid_angle(small, window)
        for turn in (angle, angle + 90):
            region = field.region(Cells(columns + window[1].start, rows + window[0].start, turn), MIN_MATRIX_SIDE_PX)
            if region is not None and region.height_px <= region.length_px <= MAX_ASPECT * region.height_px:
                found.append(region.scaled(1 / scale))
                break
    fresh = [r for r in found if not any(covers(quad, r) for quad in read)]
    return tuple(sorted(fresh, key=lambda r: -r.length_px * r.height_px)[:MOST_MATRIX])


def drop_same_bars(found: Sequence[BarRegion]) -> tuple[BarRegion, ...]:
    """Each place once, largest first: the same bars found at two scales are kept as the larger rectangle."""
    kept: list[BarRegion] = []
    for region in sorted(found, key=lambda r: -r.length_px * r.height_px):
        if not any(k.holds(region.x, region.y) and k.parallel(region) for k in kept):
            kept.append(region)
    return tuple(kept)
