"""Where on a photo a blurred linear symbol may be."""

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from receiving.model import Quad
from receiving.reading.region import area

SIDES_PX = (240, 480)
"""Longer sides at which stripes are looked for: at the smaller one even a strong blur is only a few pixels."""

MIN_COHERENCE = 0.55
MIN_SWING = 2.0
"""Local standard deviation, grey levels, under which a place is taken for plain."""

MIN_PATCH = 150
"""Pixels of a patch, at the side it is looked for, below which it is too small for bars."""

MOST = 8


def candidate_regions(gray: NDArray[np.uint8], tried: Sequence[Quad] = ()) -> list[Quad]:
    """Rough quads of regions that look striped, blurred ones too, most likely first; ``gray`` is (height, width).

    Those that lie where one of the quads ``tried`` does come last.

    OpenCV's detector knows EAN-like stripes; the coherence of gradients (Bigun & Granlund 1987) knows any.
    """
    found, corners = cv2.barcode.BarcodeDetector().detect(gray)
    quads = [_quad(four) for four in corners] if found else []
    striped = sorted((q for side in SIDES_PX for q in _striped(gray, side)), key=area, reverse=True)
    for quad in striped:
        if not any(_same_place(quad, other) for other in quads):
            quads.append(quad)
    return sorted(quads[:MOST], key=lambda quad: any(_same_place(quad, other) for other in tried))


def _striped(gray: NDArray[np.uint8], side: int) -> Iterator[Quad]:
    """Rectangles around connected patches in which brightness changes along one direction only."""
    scale = min(1.0, side / max(gray.shape))
    small = cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA).astype(np.float32)
    mean = cv2.GaussianBlur(small, (0, 0), 8)
    swing = np.sqrt(np.maximum(cv2.GaussianBlur((small - mean) ** 2, (0, 0), 8), 0))
    # Contrast evened out first: bars in the shade count as much as a glossy edge in the light.
    level = (small - mean) / np.maximum(swing, MIN_SWING)
    gx, gy = cv2.Sobel(level, cv2.CV_32F, 1, 0), cv2.Sobel(level, cv2.CV_32F, 0, 1)
    xx, yy, xy = (cv2.GaussianBlur(p, (0, 0), 3.5) for p in (gx * gx, gy * gy, gx * gy))
    # Sum and difference of the structure tensor's eigenvalues: nearly equal where brightness changes one way only.
    energy, coherent = xx + yy, np.hypot(xx - yy, 2 * xy)
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    # The edge of a box has gradients of one sign; bars have as many of either.
    one_sided = cv2.GaussianBlur(gx, (0, 0), 6) ** 2 + cv2.GaussianBlur(gy, (0, 0), 6) ** 2
    striped = (
        (one_sided < 0.35 * energy)
        & (coherent > MIN_COHERENCE * energy)
        & (energy > 0.25 * np.median(energy))
        & (swing > MIN_SWING)
    )
    # Six directions of 30 degrees, each 44 wide: two symbols that touch at an angle come apart, and none falls between.
    for turn in range(6):
        off = (angle - turn * np.pi / 6 + np.pi / 2) % np.pi - np.pi / 2
        mask = (striped & (np.abs(off) < np.radians(22))).astype(np.uint8)
        mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
        _, marks, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
        for number, (left, top, width, height, size) in enumerate(stats.tolist()):
            if number and size >= MIN_PATCH:
                inside = marks[top : top + height, left : left + width] == number
                points = np.argwhere(inside)[:, ::-1] + (left, top)
                yield from _rectangle(points, turn * np.pi / 6, scale)


def _rectangle(points: NDArray[np.intp], angle: float, scale: float) -> Iterator[Quad]:
    """The rectangle around the points in the stripes' own direction, in photo pixels, when they fill it."""
    across = np.array([np.cos(angle), np.sin(angle)])
    down = np.array([-across[1], across[0]])
    u, v = points @ across, points @ down
    # Not the outermost points: one speck would make the rectangle longer, and the search for its scale with it.
    (u0, u1), (v0, v1) = np.percentile(u, (1, 99)), np.percentile(v, (3, 97))
    if u1 - u0 < 24 or v1 - v0 < 6 or len(points) < 0.4 * (u1 - u0) * (v1 - v0):
        return
    corners = [(a * across + b * down + 0.5) / scale - 0.5 for a, b in ((u0, v0), (u1, v0), (u1, v1), (u0, v1))]
    yield _quad(np.array(corners))


def _quad(four: NDArray[np.floating]) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in four)
    return (a, b, c, d)


def _same_place(quad: Quad, other: Quad) -> bool:
    """True when the smaller of the two lies mostly on the other one, with stripes of about the same direction."""
    shared, _ = cv2.intersectConvexConvex(np.array(quad, np.float32), np.array(other, np.float32))
    turned = (_direction(quad) - _direction(other) + np.pi / 2) % np.pi - np.pi / 2
    return shared > 0.6 * min(area(quad), area(other)) and abs(turned) < np.radians(35)


def _direction(quad: Quad) -> float:
    """The direction of the first side, radians."""
    (ax, ay), (bx, by) = quad[:2]
    return float(np.arctan2(by - ay, bx - ax))
