"""MaxiCode symbols of parcel carriers, found by their bullseye and turned upright, which zxing-cpp needs.

ISO/IEC 16023: three dark rings in the middle of a field of 33 rows of hexagons, 28.14 mm by 26.91 mm. zxing-cpp 3
reads the symbol only where it stands upright to about one degree and nothing else is in the picture (measured), so
each bullseye is cut out, turned in steps of two degrees, and all around the field made white.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from receiving.reading.decoders import Decoded, map_to_photo, zxing_symbols

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

SEARCH_PX = 1600
"""Longer side of the picture that bullseyes are looked for on: rings of fewer pixels are not told apart."""
RINGS = 5
"""Edges, one in another around one point, that make a bullseye: three dark rings have six."""
LEAST_FILL, MOST_SHIFT = 0.6, 0.35
"""Area of an edge's shape in areas of the circle around it, and how far two middles are apart, in radii."""
HALF_WIDE, HALF_HIGH = 3.75, 3.6
"""Half the field with a module of quiet zone, in radii of the outermost ring (measured on a drawn symbol)."""
LOOK_RADIUS_PX = 36.0
STEP_DEG = 2.0
MOST_ON_A_PHOTO = 12


@dataclass(frozen=True)
class Bullseye:
    """The middle of a MaxiCode in pixels, and the radius of its outermost ring."""

    x: float
    y: float
    radius_px: float


def carrier_symbols(gray: Gray, late: Callable[[], bool] = lambda: False) -> Iterator[Decoded]:
    """The MaxiCode symbols on ``gray`` (height, width), each once; ``late`` is asked between two attempts."""
    for eye in bullseyes(gray)[:MOST_ON_A_PHOTO]:
        turn = 0.0
        while turn < 360 and not late():
            attempt, to_photo = _attempt(gray, eye, turn)
            found = zxing_symbols(attempt, ("MaxiCode",), rotate=False, downscale=False, invert=False)
            if found:
                yield map_to_photo(found[0], to_photo)
                break
            turn += STEP_DEG


def bullseyes(gray: Gray) -> list[Bullseye]:
    """Where rings lie in each other around one point, as nothing else printed on cartons has them."""
    scale = min(1.0, SEARCH_PX / max(gray.shape))
    small = cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else gray
    if min(small.shape) < 3:
        return []
    dark = cv2.adaptiveThreshold(small, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, 51, 12)
    edges, tree = cv2.findContours(dark, cv2.RETR_TREE, cv2.CHAIN_APPROX_SIMPLE)
    if tree is None:
        return []
    found: list[Bullseye] = []
    for at, (_, _, inner, _) in enumerate(tree[0].tolist()):
        if inner == -1 and (eye := _rings_around(at, edges, tree[0])):
            found.append(Bullseye(eye.x / scale, eye.y / scale, eye.radius_px / scale))
    return found


def _rings_around(at: int, edges: Any, tree: NDArray[np.int32]) -> Bullseye | None:
    """The bullseye whose innermost edge this is; edges that are not a circle, or around another point, end it."""
    first = last = _circle(edges[at])
    count = 0
    while at != -1 and (circle := _circle(edges[at])) and first:
        x, y, radius = circle
        if count and (abs(x - first[0]) + abs(y - first[1]) > MOST_SHIFT * radius or count > RINGS):
            break
        last, count, at = circle, count + 1, int(tree[at][3])
    return Bullseye(first[0], first[1], last[2]) if first and last and count >= RINGS else None


def _circle(edge: Any) -> tuple[float, float, float] | None:
    """The middle and radius of an edge that is a circle, give or take perspective."""
    area = cv2.contourArea(edge)
    if area < 4:
        return None
    (x, y), radius = cv2.minEnclosingCircle(edge)
    return (x, y, radius) if area > LEAST_FILL * 3.1416 * radius**2 else None


def _attempt(gray: Gray, eye: Bullseye, turn_deg: float) -> tuple[Gray, NDArray[np.float64]]:
    """The field turned by this angle, white around it, and the 2 x 3 map from look to photo pixels."""
    scale = LOOK_RADIUS_PX / eye.radius_px
    wide, high = round(2 * HALF_WIDE * LOOK_RADIUS_PX), round(2 * HALF_HIGH * LOOK_RADIUS_PX)
    c, s = np.cos(np.radians(turn_deg)) / scale, np.sin(np.radians(turn_deg)) / scale
    to_photo = np.array([[c, -s, eye.x - c * wide / 2 + s * high / 2], [s, c, eye.y - s * wide / 2 - c * high / 2]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    field = cv2.warpAffine(gray, to_photo, (wide, high), flags=how, borderMode=cv2.BORDER_CONSTANT, borderValue=255)
    quiet_zone = int(LOOK_RADIUS_PX)
    attempt = np.pad(field, quiet_zone, constant_values=int(np.percentile(field, 95)))
    to_photo[:, 2] -= to_photo[:, :2] @ np.array([quiet_zone, quiet_zone])
    return attempt, to_photo
