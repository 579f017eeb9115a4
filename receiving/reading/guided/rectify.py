"""From a rough quad to one clean intensity profile across the bars: perspective out, covered rows out."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from receiving.model import Quad

Floats = NDArray[np.float32]
MIN_WIDTH_PX, MAX_WIDTH_PX = 480, 1280
MARGIN = 1.35  # how much of the surroundings of a rough quad is looked at


@dataclass(frozen=True)
class Patch:
    """A region turned so that its bars stand upright: grey values, and the map from patch to photo pixels."""

    grey: Floats
    to_photo: NDArray[np.float64]

    def quad(self, left: float, right: float, top: float, bottom: float) -> Quad:
        """The photo quad, in pixels, of a rectangle of the patch."""
        corners = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float64)
        (a, b, c, d) = cv2.perspectiveTransform(corners, self.to_photo)[0].tolist()
        return (tuple(a), tuple(b), tuple(c), tuple(d))


def _frame(quad: Quad) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    corners = np.asarray(quad, np.float64)
    return (
        corners.mean(0),
        (corners[1] + corners[2] - corners[0] - corners[3]) / 2,
        (corners[3] + corners[2] - corners[0] - corners[1]) / 2,
    )


def _gradients(
    grey: Floats, quad: Quad, grow: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Points (n, 2) inside the quad, their gradients (n, 2); sampled on a grid in the quad's own frame."""
    centre, across, down = _frame(quad)
    steps = np.linspace(-0.5, 0.5, 72) * grow
    u, v = np.meshgrid(steps, steps)
    points = centre + u.ravel()[:, None] * across + v.ravel()[:, None] * down
    at = points.astype(np.float32).reshape(1, -1, 2)
    gx, gy = cv2.Sobel(grey, cv2.CV_32F, 1, 0, ksize=3), cv2.Sobel(grey, cv2.CV_32F, 0, 1, ksize=3)
    pick = [
        cv2.remap(g, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0] for g in (gx, gy)
    ]
    return points, np.stack(pick, 1).astype(np.float64), centre


def vanishing_bars(
    points: NDArray[np.float64], gradients: NDArray[np.float64], centre: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """Where the bars' lines meet, as a homogeneous point relative to ``centre``, and how well they agree, 0 to 1.

    Each gradient g at p asks that the line of its bar passes through v: g·(v − p) = 0. The least-squares v is the
    smallest eigenvector of a 3×3 matrix; gradients that point elsewhere (print, edges of the label) lose weight.
    """
    local = points - centre
    size = np.abs(local).max() + 1e-9
    local = local / size
    strength = np.hypot(gradients[:, 0], gradients[:, 1]) + 1e-9
    unit = gradients / strength[:, None]
    tensor = np.cov(gradients.T, aweights=None) if len(gradients) < 3 else gradients.T @ gradients
    across = np.linalg.eigh(tensor)[1][:, 1]
    off = np.abs(unit @ np.array([-across[1], across[0]]))
    power = strength**2 / (strength**2).mean()
    power = np.minimum(power, 6.0)
    lines = np.concatenate([unit, -(unit * local).sum(1, keepdims=True)], 1)
    vanishing = np.array([-across[1], across[0], 0.0])
    width = 0.35
    for _ in range(4):
        weight = power * np.exp(-((off / width) ** 2))
        matrix = (lines * weight[:, None]).T @ lines / weight.sum()
        matrix[2, 2] += 0.02 * np.trace(matrix) * 0.05  # a far vanishing point unless the bars insist
        vanishing = np.linalg.eigh(matrix)[1][:, 0]
        directions = vanishing[:2] - vanishing[2] * local
        directions /= np.linalg.norm(directions, axis=1, keepdims=True) + 1e-9
        off = np.abs((unit * directions).sum(1))
        width = max(0.1, width * 0.6)
    agreement = float((power * (off < 0.2)).sum() / power.sum())
    vanishing = np.array([vanishing[0] * size, vanishing[1] * size, vanishing[2]])
    return vanishing, agreement


def bar_patch(grey: Floats, quad: Quad) -> Patch | None:
    """The region with its bars upright and parallel; None where the quad is degenerate or holds no stripes."""
    centre, across, down = _frame(quad)
    if min(np.hypot(*across), np.hypot(*down)) < 4:
        return None
    points, gradients, centre = _gradients(grey, quad, 1.0)
    if np.abs(gradients).max() < 2:
        return None
    vanishing, _ = vanishing_bars(points, gradients, centre)
    corners = (np.asarray(quad, np.float64) - centre) * MARGIN
    bar = vanishing[:2] / (np.linalg.norm(vanishing[:2]) + 1e-12)
    row = np.array([bar[1], -bar[0]])
    if row @ np.array([1.0, 0.0]) < 0:
        row = -row
    half = float(np.abs(corners @ row).max())
    tall = min(float(np.abs(corners @ bar).max()), 3 * half)
    return _warp(grey, centre, row, vanishing, half, tall)


def _warp(
    grey: Floats,
    centre: NDArray[np.float64],
    row: NDArray[np.float64],
    vanishing: NDArray[np.float64],
    half: float,
    tall: float,
) -> Patch:
    normal = np.array([-row[1], row[0]])
    source = []
    for side, up in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        foot = row * half * side
        line = vanishing[:2] - vanishing[2] * foot
        slope = (line @ row) / (line @ normal)
        slope = float(np.clip(slope, -0.6, 0.6))
        source.append(centre + foot + (normal + slope * row) * tall * up)
    scale = float(np.clip(4 * half, MIN_WIDTH_PX, MAX_WIDTH_PX)) / (2 * half)
    wide, high = round(2 * half * scale), round(float(np.clip(2 * tall * scale, 24, 320)))
    target = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32) - 0.5
    to_photo = cv2.getPerspectiveTransform(target.astype(np.float32), np.array(source, np.float32))
    shrink = 1 / scale
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.45 * shrink) if shrink > 1.5 else grey
    warped = cv2.warpPerspective(
        smooth, to_photo, (wide, high), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
    return Patch(warped, to_photo)
