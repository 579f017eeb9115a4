"""From a rough quad to an upright patch: the bars' vanishing point found and taken out, the whole symbol in view."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from receiving.model import Quad
from receiving.reading.guided.ends import bar_ends
from receiving.reading.guided.profile import Band, Floats, striped_band

Doubles = NDArray[np.float64]
MIN_WIDTH_PX, MAX_WIDTH_PX, MAX_HEIGHT_PX = 480, 1280, 320
GRID = 72
GROWTHS = 3
SURROUND = 1.35  # how much more than the rough quad is looked at, each way


@dataclass(frozen=True)
class Patch:
    """A region turned so that its bars stand upright: grey values, and the map from patch to photo pixels."""

    grey: Floats
    to_photo: Doubles

    def quad(self, left: float, right: float, top: float, bottom: float) -> Quad:
        """The photo quad, in pixels, of a rectangle of the patch."""
        corners = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float64)
        a, b, c, d = ((float(x), float(y)) for x, y in cv2.perspectiveTransform(corners, self.to_photo)[0])
        return (a, b, c, d)


def bar_patch(grey: Floats, quad: Quad) -> tuple[Patch, Band] | None:
    """The region with its bars upright, parallel and equally long, and the band of rows and columns that is striped.

    The quad may cover a part of the symbol: the view grows while stripes run over its edge. None where the quad is
    degenerate or shows no stripes. ``grey`` is (height, width).
    """
    found = _whole_view(grey, quad)
    return _squared(grey, *found) if found else None


def _whole_view(grey: Floats, quad: Quad) -> tuple[Patch, Band] | None:
    """The region with its bars upright and parallel, grown until stripes end within it."""
    found: tuple[Patch, Band] | None = None
    for _ in range(GROWTHS):
        patch = _upright(grey, quad)
        band = striped_band(patch.grey) if patch else None
        if patch is None or band is None:
            return found
        found = patch, band
        wide = patch.grey.shape[1]
        # Stripes that touch the edge of the view go on beyond it.
        grow_left, grow_right = band.left < 0.03 * wide, band.right > 0.97 * wide
        larger = patch.quad(
            -0.25 * wide if grow_left else band.left,
            1.25 * wide if grow_right else band.right,
            band.top,
            band.bottom,
        )
        if not (grow_left or grow_right) or not _more_inside(grey, quad, larger):
            return found
        quad = larger
    return found


def _squared(grey: Floats, patch: Patch, band: Band) -> tuple[Patch, Band]:
    """The patch turned into a view from the front, where the ends of the bars show from which side it is seen.

    Of equally long bars those that look shorter are farther away, and the modules there are narrower by the square
    of that share.
    """
    ends = bar_ends(patch.grey, band)
    # What is nearly square is left as it is: the ends are known only so well, and their error would bend the bars.
    if ends is None or ends.is_square():
        return patch, band
    wide = patch.grey.shape[1]
    seen = np.array(ends.corners(band.left, band.right), np.float32)
    tall = float(seen[2:, 1].mean() - seen[:2, 1].mean())
    high = min(round(1.3 * tall), MAX_HEIGHT_PX)
    top, bottom = 0.12 * high, 0.88 * high
    square = np.array([[band.left, top], [band.right, top], [band.right, bottom], [band.left, bottom]], np.float32)
    # Pixels are squares whose middles have whole numbers, so that the frame begins half a pixel before.
    frame = np.array([[[0, 0], [wide, 0], [wide, high], [0, high]]], np.float64) - 0.5
    corners = cv2.perspectiveTransform(frame, patch.to_photo @ cv2.getPerspectiveTransform(square, seen))[0]
    turned = _sampled(grey, corners, wide, high)
    found = striped_band(turned.grey)
    return (turned, found) if found else (patch, band)


def _more_inside(grey: Floats, quad: Quad, larger: Quad) -> bool:
    """True when the larger quad shows clearly more of the photo."""
    height, width = grey.shape
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    areas = [cv2.intersectConvexConvex(np.array(q, np.float32), frame)[0] for q in (quad, larger)]
    return bool(areas[1] > 1.05 * areas[0])


def _upright(grey: Floats, quad: Quad) -> Patch | None:
    corners = np.asarray(quad, np.float64)
    centre = corners.mean(0)
    if min(np.linalg.norm(corners[1] - corners[0]), np.linalg.norm(corners[2] - corners[1])) < 4:
        return None
    points, gradients = _gradients(grey, corners)
    if not len(points) or np.abs(gradients).max() < 2:
        return None
    vanishing = vanishing_point(points - centre, gradients)
    bar = vanishing[:2] / (np.linalg.norm(vanishing[:2]) + 1e-12)
    row = np.array([bar[1], -bar[0]])
    row = row if row[0] >= 0 else -row
    reach = np.abs((corners - centre) @ np.stack([row, bar], 1)).max(0) * SURROUND
    return _warped(grey, centre, row, vanishing, float(reach[0]), float(min(reach[1], 3 * reach[0])))


def _gradients(grey: Floats, corners: Doubles) -> tuple[Doubles, Doubles]:
    """Grid points (n, 2) of the quad that lie on the photo, and the brightness gradient there (n, 2)."""
    centre = corners.mean(0)
    across = (corners[1] + corners[2] - corners[0] - corners[3]) / 2
    down = (corners[3] + corners[2] - corners[0] - corners[1]) / 2
    steps = np.linspace(-0.5, 0.5, GRID)
    u, v = np.meshgrid(steps, steps)
    points = centre + u.ravel()[:, None] * across + v.ravel()[:, None] * down
    height, width = grey.shape
    points = points[(points >= 1).all(1) & (points[:, 0] < width - 2) & (points[:, 1] < height - 2)]
    if not len(points):
        return points, points
    low = np.maximum(points.min(0).astype(int) - 2, 0)
    high = points.max(0).astype(int) + 4
    crop = grey[low[1] : high[1], low[0] : high[0]]
    at = np.rint(points - low).astype(int)
    slopes = [cv2.Sobel(crop, cv2.CV_32F, *order, ksize=3)[at[:, 1], at[:, 0]] for order in ((1, 0), (0, 1))]
    return points, np.stack(slopes, 1).astype(np.float64)


def vanishing_point(points: Doubles, gradients: Doubles) -> Doubles:
    """Where the lines of the bars meet, as a homogeneous point.

    Each gradient g at p asks that the line of its bar passes through v: g·(v − p) = 0. The least-squares v is the
    smallest eigenvector of a 3×3 matrix; gradients that point elsewhere (print, edges of the label) lose weight.
    """
    size = np.abs(points).max() + 1e-9
    local = points / size
    strength = np.hypot(gradients[:, 0], gradients[:, 1]) + 1e-9
    unit = gradients / strength[:, None]
    across = np.linalg.eigh(gradients.T @ gradients)[1][:, 1]
    off = np.abs(unit @ np.array([-across[1], across[0]]))
    # A single strong edge, a strip of tape, must not outvote a hundred weak bars.
    power = np.minimum(strength**2 / (strength**2).mean(), 6.0)
    lines = np.concatenate([unit, -(unit * local).sum(1, keepdims=True)], 1)
    vanishing = np.array([-across[1], across[0], 0.0])
    # Iteratively reweighted least squares: from a wide angle, 20 degrees, to a narrow one, so that print drops out.
    width = 0.35
    for _ in range(4):
        weight = power * np.exp(-((off / width) ** 2)) + 1e-12
        matrix = (lines * weight[:, None]).T @ lines / weight.sum()
        matrix[2, 2] += 0.001 * np.trace(matrix)  # far away, unless the bars insist
        vanishing = np.linalg.eigh(matrix)[1][:, 0]
        directions = vanishing[:2] - vanishing[2] * local
        directions /= np.linalg.norm(directions, axis=1, keepdims=True) + 1e-9
        off = np.abs((unit * directions).sum(1))
        width = max(0.1, width * 0.6)
    return np.array([vanishing[0] * size, vanishing[1] * size, vanishing[2]])


def _warped(grey: Floats, centre: Doubles, row: Doubles, vanishing: Doubles, half: float, tall: float) -> Patch:
    """The patch ``half`` pixels to either side of the centre along the row and ``tall`` up and down the bars."""
    normal = np.array([-row[1], row[0]])
    source = []
    for side, up in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        foot = row * half * side
        line = vanishing[:2] - vanishing[2] * foot
        # Beyond 31 degrees the lines come from something else, and the patch would fold over.
        skew = float(np.clip((line @ row) / (line @ normal + 1e-9), -0.6, 0.6))
        source.append(centre + foot + (normal + skew * row) * tall * up)
    scale = float(np.clip(4 * half, MIN_WIDTH_PX, MAX_WIDTH_PX)) / (2 * half)
    high = round(float(np.clip(2 * tall * scale, 24, MAX_HEIGHT_PX)))
    return _sampled(grey, np.array(source), round(2 * half * scale), high)


def _sampled(grey: Floats, corners: Doubles, wide: int, high: int) -> Patch:
    """The patch, ``wide`` by ``high`` pixels, of these four corners on the photo."""
    scale = 2 * wide / float(np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[2] - corners[3]))
    target = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32) - 0.5
    low = np.maximum(np.floor(corners.min(0)).astype(int) - 4, 0)
    low = np.minimum(low, np.array(grey.shape[::-1]) - 1)
    crop = grey[low[1] : int(corners[:, 1].max()) + 5, low[0] : int(corners[:, 0].max()) + 5]
    # Where the photo is finer than the patch it is softened first, or bars between its samples are lost (Shannon).
    if scale < 0.67:
        crop = np.asarray(cv2.GaussianBlur(crop, (0, 0), 0.45 / scale), np.float32)
    to_crop = cv2.getPerspectiveTransform(target, (corners - low).astype(np.float32))
    how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    warped = cv2.warpPerspective(crop, to_crop, (wide, high), flags=how, borderMode=cv2.BORDER_REPLICATE)
    shift = np.array([[1.0, 0.0, low[0]], [0.0, 1.0, low[1]], [0.0, 0.0, 1.0]])
    return Patch(np.asarray(warped, np.float32), shift @ to_crop)
