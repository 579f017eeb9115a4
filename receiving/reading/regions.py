"""Where bars are on a photo, whether or not any decoder reads them."""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from receiving.model import Quad

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

FINE_PX, COARSE_PX = 2000, 800
"""Longer sides at which bars are looked for: fine for many small labels, coarse for one that fills the photo."""

GRID_SPREAD_DEG = 12
"""Edges of one direction scatter so far around it on a pixel grid."""

MATRIX_PX, MIN_MATRIX_GRADIENT, MOST_MATRIX = 1600, 8.0, 40
MIN_MATRIX_SIDE_PX, MAX_ASPECT = 20, 32
"""Longer side at which matrix codes are looked for, their least mean gradient, how many places are
looked at, and the least side and longest shape of one (a PDF417 of three rows and thirty columns is longest)."""

CELL_PX = 4
"""Gradients are pooled over cells of this size before anything is decided."""

MIN_COHERENCE = 0.6
MIN_GRADIENT = 3.0
"""Root mean square gradient, gray levels per pixel, below which a cell is flat paper or noise."""

MAX_ONE_SIDED = 0.35
"""Share of a cell's energy that gradients of one sign may make up: an edge has nearly all, bars nearly none."""

SAME_LINE_DEG = 18
PEEL = 3
"""Cells whose gradients differ by less lie in one patch; so many directions are taken off where patches touch."""

MIN_LENGTH_PX, MIN_HEIGHT_PX = 56, 10
MIN_CELLS = 24
"""A patch must be as long and as high, in pixels of the scale it is found at; smaller ones no decoder reads."""

MIN_ALTERNATIONS = 12
"""Light/dark changes across the bars that a region must show: the shortest carton symbol has more, blur joins some."""

LOOK_PX = 800
"""A longer region is measured at this length."""

STRIPS = 10
MAX_FAN_DEG, SHEARS = 15, 9
"""A region is compared in so many strips along its bars, which perspective may turn by so much off the mean."""

MIN_AGREEMENT, CLEAR_AGREEMENT = 0.55, 0.75
"""Share of energy that rows along the bars have in common: bars run through, print and cloth do not."""


@dataclass(frozen=True)
class BarRegion:
    """A rectangle of parallel bars, in pixels: its centre, ``length_px`` across all bars, ``height_px`` along a bar.

    ``angle_deg`` is the reading direction, x to the right and y down. ``alternations`` are the light/dark changes on
    the way, ``agreement`` tells from 0 to 1 how far the bars run through from top to bottom.
    """

    x: float
    y: float
    angle_deg: float
    length_px: float
    height_px: float
    alternations: int = 0
    agreement: float = 1.0

    @property
    def is_bars(self) -> bool:
        """True for linear bars; False for what may be a stacked symbol (rows of short bars), or print, or cloth."""
        return self.agreement >= MIN_AGREEMENT

    def quad(self, margin_length: float = 0.0, margin_height: float = 0.0) -> Quad:
        """The corners, clockwise; the margins in pixels are added on either side."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        u, v = self.length_px / 2 + margin_length, self.height_px / 2 + margin_height
        signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        a, b, d, e = ((self.x + i * u * c - j * v * s, self.y + i * u * s + j * v * c) for i, j in signs)
        return (a, b, d, e)

    def local(self, x: float, y: float) -> tuple[float, float]:
        """The point in the region's own frame: (along the reading direction, down a bar), pixels from its centre."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        return ((x - self.x) * c + (y - self.y) * s, (y - self.y) * c - (x - self.x) * s)

    def holds(self, x: float, y: float, margin: float = 0.0) -> bool:
        """True when the point lies in the rectangle, or within ``margin`` pixels of it."""
        u, v = self.local(x, y)
        return abs(u) <= self.length_px / 2 + margin and abs(v) <= self.height_px / 2 + margin


def bar_regions(gray: Gray, read: Sequence[Quad] = ()) -> tuple[BarRegion, ...]:
    """All regions of parallel bars on ``gray`` (height, width), largest first, without those that ``read`` covers."""
    longest = max(gray.shape)
    fine = min(FINE_PX, longest)
    found = list(_regions_at(gray, fine / longest, read))
    coarse = COARSE_PX if longest > 1.5 * COARSE_PX else longest // 2
    # One symbol that fills a small photo is found at the fine scale unless its bars are very wide.
    if coarse == COARSE_PX or not (read or found):
        found += _regions_at(gray, coarse / longest, read)
    return tuple(_distinct(found))


def _regions_at(gray: Gray, scale: float, read: Sequence[Quad]) -> Iterator[BarRegion]:
    import cv2

    if min(gray.shape) * scale < 4 * CELL_PX:
        return
    small = gray if scale == 1 else cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = _Field(small)
    for cells in field.components():
        region = field.region(cells)
        shapes = (region,) if region else (field.region(part) for part in field.without_lines(cells))
        for shape in shapes:
            if shape is not None:
                yield from _bars_in(gray, _scaled(shape, 1 / scale), read)


def _bars_in(gray: Gray, region: BarRegion, read: Sequence[Quad]) -> Iterator[BarRegion]:
    """The region, measured, unless it was read already or shows too few bars."""
    if not any(covers(quad, region) for quad in read):
        measured = _looked_at(gray, region)
        if measured.alternations >= MIN_ALTERNATIONS:
            yield measured


def covers(quad: Quad, region: BarRegion) -> bool:
    """True when a symbol read at ``quad`` is the one that stands in ``region``, or in a part of it."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = quad
    start, end = ((ax + dx) / 2, (ay + dy) / 2), ((bx + cx) / 2, (by + cy) / 2)
    points = (
        (start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])) for t in (0.1, 0.3, 0.5, 0.7, 0.9)
    )
    return sum(region.holds(*point) for point in points) >= 2 or _holds(quad, region.x, region.y)


def _holds(quad: Quad, x: float, y: float) -> bool:
    """True when the point lies in the quad, whose corners run clockwise; a quad without area holds nothing."""
    return all(
        (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0
        for (ax, ay), (bx, by) in zip(quad, (*quad[1:], quad[0]), strict=True)
    )


def matrix_regions(gray: Gray, read: Sequence[Quad] = ()) -> tuple[BarRegion, ...]:
    """Patches full of edges in two directions, as stacked and matrix codes are, without those that ``read`` covers.

    Print is among them. ``angle_deg`` lies along one of the two directions; largest first.
    """
    import cv2
    import numpy as np

    scale = min(1.0, MATRIX_PX / max(gray.shape, default=1))
    if min(gray.shape) * scale < 4 * CELL_PX:
        return ()
    small = gray if scale == 1 else cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    field = _Field(small)
    busy = cv2.blur((field.cell_energy > MIN_MATRIX_GRADIENT**2).astype(np.float32), (3, 3)) > 0.5
    found = []
    for window, inside in _patches(_cleaned(busy.astype(np.uint8))):
        rows, columns = np.nonzero(inside)
        angle = _grid_angle(small, window)
        for turn in (angle, angle + 90):
            region = field.region(Cells(columns + window[1].start, rows + window[0].start, turn), MIN_MATRIX_SIDE_PX)
            if region is not None and region.height_px <= region.length_px <= MAX_ASPECT * region.height_px:
                found.append(_scaled(region, 1 / scale))
                break
    fresh = [r for r in found if not any(covers(quad, r) for quad in read)]
    return tuple(sorted(fresh, key=lambda r: -r.length_px * r.height_px)[:MOST_MATRIX])


def _grid_angle(gray: Gray, window: Window) -> float:
    """The direction, degrees from -45 to 45, of the strongest of all edges in the window, either way across."""
    import cv2
    import numpy as np

    part = gray[tuple(slice(s.start * CELL_PX, s.stop * CELL_PX) for s in window)]
    dx, dy = (cv2.Sobel(part, cv2.CV_32F, *axes).ravel() for axes in ((1, 0), (0, 1)))
    power = dx * dx + dy * dy
    strong = power > 0.25 * float(power.max())
    angles = np.degrees(np.arctan2(dy[strong], dx[strong])) % 90
    counts = np.bincount((2 * angles).astype(np.intp) % 180, weights=power[strong], minlength=180)
    smooth = sum(np.roll(counts, k) for k in range(-4, 5))
    off = (angles - float(np.argmax(smooth)) / 2 + 45) % 90 - 45
    near = np.abs(off) < GRID_SPREAD_DEG
    angle = float(np.argmax(smooth)) / 2 + float(np.average(off[near], weights=power[strong][near]))
    return (angle + 45) % 90 - 45


Window = tuple[slice, slice]


@dataclass(frozen=True)
class Cells:
    """A patch of cells, and the direction of its gradients."""

    columns: NDArray[np.intp]
    rows: NDArray[np.intp]
    angle_deg: float


class _Field:
    """The structure tensor of an image, pooled over cells (Bigun & Granlund 1987): where gradients share one line."""

    def __init__(self, gray: Gray) -> None:
        import cv2
        import numpy as np

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

    def components(self) -> Iterator[Cells]:
        """Each connected patch of cells whose gradients share one line; touching ones are told apart by direction."""
        import cv2
        import numpy as np

        joined = cv2.morphologyEx(self.mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
        for window, inside in _patches(joined):
            left = inside & (self.mask[window] > 0)
            for _ in range(PEEL):
                if np.count_nonzero(left) < MIN_CELLS:
                    break
                angle = self._peak(window, left)
                turned = np.abs((self.angle[window] - angle + 90) % 180 - 90) < SAME_LINE_DEG
                part, left = left & turned, left & ~turned
                for inner, cells in _patches(_cleaned(part.astype(np.uint8))):
                    rows, columns = np.nonzero(cells)
                    rows, columns = (
                        rows + (inner[0].start + window[0].start),
                        columns + (inner[1].start + window[1].start),
                    )
                    yield Cells(columns, rows, self._mean(rows, columns))

    def without_lines(self, cells: Cells) -> Iterator[Cells]:
        """The wide parts of a patch that a carton's edge or a table line runs through."""
        import cv2
        import numpy as np

        if len(cells.rows) < 3 * MIN_CELLS:
            return
        top, left = int(cells.rows.min()), int(cells.columns.min())
        part = np.zeros((int(cells.rows.max()) - top + 1, int(cells.columns.max()) - left + 1), np.uint8)
        part[cells.rows - top, cells.columns - left] = 1
        wide = cv2.morphologyEx(part, cv2.MORPH_OPEN, np.ones((7, 7), np.uint8))
        for window, inside in _patches(wide):
            rows, columns = np.nonzero(inside)
            rows, columns = rows + (window[0].start + top), columns + (window[1].start + left)
            yield Cells(columns, rows, self._mean(rows, columns))

    def _peak(self, window: Window, inside: NDArray[np.bool_]) -> float:
        """The direction, in degrees, that most of the patch's energy has."""
        import numpy as np

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


def _spread(values: NDArray[np.float64], trimmed: float) -> tuple[float, float]:
    """The range of the values without this share at either end."""
    import numpy as np

    ordered = np.sort(values)
    cut = int(trimmed * len(ordered))
    return float(ordered[cut]), float(ordered[-1 - cut])


def _cleaned(part: Gray) -> Gray:
    """Holes inside wide bars filled, lines and specks thinner than three cells removed."""
    import cv2
    import numpy as np

    padded = cv2.copyMakeBorder(part, 4, 4, 4, 4, cv2.BORDER_CONSTANT, value=0)
    padded = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    padded = cv2.morphologyEx(padded, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    return padded[4:-4, 4:-4]


def _patches(mask: Gray) -> Iterator[tuple[Window, NDArray[np.bool_]]]:
    """The bounding window of each connected patch that is large enough for bars, and which cells of it belong."""
    import cv2

    _, marks, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    large = (stats[:, 4] >= MIN_CELLS) & (stats[:, 2:4].max(1) >= MIN_LENGTH_PX // CELL_PX)
    for number in large[1:].nonzero()[0] + 1:
        left, top, width, height, _ = stats[number].tolist()
        window = (slice(top, top + height), slice(left, left + width))
        yield window, marks[window] == number


def _scaled(region: BarRegion, by: float) -> BarRegion:
    return replace(
        region, x=region.x * by, y=region.y * by, length_px=region.length_px * by, height_px=region.height_px * by
    )


def bar_crop(
    gray: Gray, region: BarRegion, *, scale: float, margin_length: float, margin_height: float
) -> tuple[Gray, NDArray[np.float64]]:
    """The region turned so that its bars stand upright, and the 2 x 3 map from crop to photo pixels.

    Margins in photo pixels are added on either side; the ground outside the photo is its border, repeated.
    """
    import cv2
    import numpy as np

    c, s = math.cos(math.radians(region.angle_deg)), math.sin(math.radians(region.angle_deg))
    width = max(8, round((region.length_px + 2 * margin_length) * scale))
    height = max(8, round((region.height_px + 2 * margin_height) * scale))
    to_photo = np.array([[c, -s, 0], [s, c, 0]]) / scale
    to_photo[:, 2] = np.array([region.x, region.y]) - to_photo[:, :2] @ np.array([(width - 1) / 2, (height - 1) / 2])
    how = cv2.INTER_CUBIC if scale >= 1 else cv2.INTER_AREA
    crop = cv2.warpAffine(
        gray, to_photo, (width, height), flags=how | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
    return crop, to_photo


def _looked_at(gray: Gray, region: BarRegion) -> BarRegion:
    """The region with its light/dark changes and its agreement, cut down to its bars where print touches them."""
    region, rows = _measured(gray, region)
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


def _measured(gray: Gray, region: BarRegion) -> tuple[BarRegion, NDArray[np.float32]]:
    """The region with its light/dark changes and agreement, and the profiles (strips, length) that they come from."""
    import cv2
    import numpy as np

    scale = min(1.0, LOOK_PX / region.length_px)
    crop, _ = bar_crop(gray, region, scale=scale, margin_length=4 / scale, margin_height=-region.height_px / 20)
    edges = np.linspace(0, crop.shape[0], min(STRIPS, crop.shape[0]) + 1).astype(int)
    rows = np.array([crop[a:b].mean(axis=0, dtype=np.float32) for a, b in itertools.pairwise(edges)])
    rows -= cv2.blur(rows, (31, 1))
    profile = rows[len(rows) // 2]
    swing = 0.25 * float(np.sort(np.abs(profile))[int(0.9 * len(profile))])
    sides = np.sign(profile[np.abs(profile) > swing])
    agreement = _agreement(rows, crop.shape[0] / len(rows))
    return replace(region, alternations=int((np.diff(sides) != 0).sum()), agreement=agreement), rows


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


def _distinct(found: list[BarRegion]) -> list[BarRegion]:
    """Each place once: the same bars found at two scales are kept as the larger rectangle."""
    kept: list[BarRegion] = []
    for region in sorted(found, key=lambda r: -r.length_px * r.height_px):
        if not any(k.holds(region.x, region.y) and _parallel(k, region) for k in kept):
            kept.append(region)
    return kept


def _parallel(a: BarRegion, b: BarRegion) -> bool:
    return abs((a.angle_deg - b.angle_deg + 90) % 180 - 90) < 15
