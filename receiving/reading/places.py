"""Where a symbol stands: its corners as a region of bars, and whether two of them are one place."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.decoders import Decoded, middle, reading_angle_deg
from receiving.reading.region import BarRegion


def placed(answer: Decoded, region: BarRegion) -> Decoded:
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


def near(a: Quad, b: Quad) -> bool:
    """True when the middle of one lies in the other, give or take a few pixels."""
    return _inside(middle(a), b) or _inside(middle(b), a)


def _inside(point: tuple[float, float], quad: Quad) -> bool:
    return cv2.pointPolygonTest(np.array(quad, np.float32), point, True) >= -6
