"""A rectangle of bars on a photo, the crop of it that stands upright, and whether two symbols are at one place."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.decoders import Decoded, middle, reading_angle_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

SAME_DIRECTION_DEG = 15

MIN_AGREEMENT, CLEAR_AGREEMENT = 0.55, 0.75
"""Share of energy that rows along the bars have in common: bars run through, print and cloth do not."""

MIN_CONTRAST, CLEAR_CONTRAST = 0.2, 0.45
STRAIGHT_AGREEMENT = 0.8
"""Share of the paper's light that bars must take away: ISO/IEC 15416 fails a symbol contrast below 0.2. Between the
two only bars that run straight through are taken for print: wood grain, cloth and grilles are as faint, and crooked."""

MIN_PART = 0.4
"""Height of a symbol beside one that was read, in heights of that one: less is its own end that no scan line met."""

MIN_ELEMENTS = 24
"""Light/dark changes that a region must have for more expensive attempts: less is a word more often than a symbol."""


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

    def scaled(self, by: float) -> BarRegion:
        """The region on the picture made larger by this factor."""
        return replace(self, x=self.x * by, y=self.y * by, length_px=self.length_px * by, height_px=self.height_px * by)

    def between(self, start: float, end: float) -> BarRegion:
        """The part between two distances down a bar, pixels from the centre."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        down = (start + end) / 2
        return replace(self, x=self.x - down * s, y=self.y + down * c, height_px=end - start)

    def parallel(self, other: BarRegion) -> bool:
        """True when the two read along one line, from either end."""
        return abs((self.angle_deg - other.angle_deg + 90) % 180 - 90) < SAME_DIRECTION_DEG


def covers(quad: Quad, region: BarRegion) -> bool:
    """True when a symbol read at ``quad`` is the one that stands in ``region``, or in a part of it."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = quad
    start, end = ((ax + dx) / 2, (ay + dy) / 2), ((bx + cx) / 2, (by + cy) / 2)
    points = (
        (start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])) for t in (0.1, 0.3, 0.5, 0.7, 0.9)
    )
    return sum(region.holds(*point) for point in points) >= 2 or holds(quad, region.x, region.y)


def holds(quad: Quad, x: float, y: float) -> bool:
    """True when the point lies in the quad, whose corners run clockwise; a quad without area holds nothing."""
    return all(
        (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0
        for (ax, ay), (bx, by) in zip(quad, (*quad[1:], quad[0]), strict=True)
    )


def scale_quad(quad: Quad, by: float) -> Quad:
    """The corners on the picture made larger by this factor."""
    a, b, c, d = ((x * by, y * by) for x, y in quad)
    return (a, b, c, d)


def area(quad: Quad) -> float:
    """The area that four corners enclose, square pixels."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = quad
    return abs((cx - ax) * (dy - by) - (dx - bx) * (cy - ay)) / 2


def parts_beside(region: BarRegion, read: Sequence[Quad]) -> Iterator[BarRegion]:
    """What the region holds above and below the quads, along its bars, where that may be a symbol of its own."""
    down = [region.local(*corner)[1] for quad in read for corner in quad]
    half = region.height_px / 2
    for start, end in ((-half, min(down)), (max(down), half)):
        if end - start >= MIN_PART * (max(down) - min(down)):
            yield region.between(start, end)


def bar_crop(
    gray: Gray, region: BarRegion, *, scale: float, margin_length: float, margin_height: float
) -> tuple[Gray, NDArray[np.float64]]:
    """The region turned so that its bars stand upright, and the 2 x 3 map from crop to photo pixels.

    Margins in photo pixels are added on either side; the background outside the photo is its border, repeated.
    """
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


def is_printed(gray: Gray, region: BarRegion) -> bool:
    """True when the bars stand out from their background as print does from paper, even under blur and in bad light."""
    crop, _ = bar_crop(gray, region, scale=1.0, margin_length=0, margin_height=-region.height_px / 4)
    dark, light = np.percentile(crop.mean(0, dtype=np.float32), (5, 95))
    contrast = float(light - dark) / max(float(light), 1.0)
    return contrast >= (MIN_CONTRAST if region.agreement >= STRAIGHT_AGREEMENT else CLEAR_CONTRAST)


def looks_like_a_label(region: BarRegion) -> bool:
    """True for bars worth going back for; blur leaves fewer changes, but straighter ones than any print."""
    return region.alternations >= MIN_ELEMENTS or (
        region.agreement >= 0.9 and region.height_px > 0.2 * region.length_px
    )


def place_at_region(answer: Decoded, region: BarRegion) -> Decoded:
    """The answer at the corners of its region, in the answer's own reading direction."""
    a, b, c, d = region.quad()
    turn = abs((reading_angle_deg(answer.quad_px) - region.angle_deg + 180) % 360 - 180)
    return replace(answer, quad_px=(c, d, a, b) if turn > 90 else (a, b, c, d))


def region_of(answer: Decoded) -> BarRegion:
    """The bar region that a symbol's corners span."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = answer.quad_px
    length = math.hypot(bx + cx - ax - dx, by + cy - ay - dy) / 2
    height = math.hypot(cx + dx - ax - bx, cy + dy - ay - by) / 2
    elements = max(20, 6 * len(answer.raw))
    return BarRegion(
        *middle(answer.quad_px), reading_angle_deg(answer.quad_px), max(length, 8), max(height, 12), elements
    )


def same_bars(a: Decoded, b: Decoded) -> bool:
    """True when the two were read beside each other on what may be one set of bars."""
    (ax, ay), (bx, by) = middle(a.quad_px), middle(b.quad_px)
    return math.hypot(ax - bx, ay - by) < 0.75 * region_of(b).length_px


def is_near(a: Quad, b: Quad) -> bool:
    """True when the middle of one lies in the other, give or take a few pixels."""
    return _inside(middle(a), b) or _inside(middle(b), a)


def _inside(point: tuple[float, float], quad: Quad) -> bool:
    return cv2.pointPolygonTest(np.array(quad, np.float32), point, True) >= -6
