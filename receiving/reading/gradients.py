"""Where gradients of gray share one line: the structure tensor of a photo, pooled over small cells."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.region import BarRegion, area, holds

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
                for inner, cells in patches(cleaned(part.astype(np.uint8))):
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


def cleaned(part: Gray) -> Gray:
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
