"""A camera in a back room, as numbers: from a printed label to the photograph that a phone makes of it.

Light adds up linearly, so everything happens in linear light between the sRGB curve in and out (IEC 61966-2-1):
the page is tilted and turned (pinhole camera), lit unevenly, shadowed, blurred by focus (disc) and by the hand
(line), glared at, then counted in photons (shot and read noise), developed and JPEG-compressed. Which strengths
are usual is our own guess from phone photos, no source; a bench should print the `Look` beside its figures.

    look = Look(px_per_mm=4, defocus_px=2.0, turn_deg=20)
    photo = photograph(label, look, np.random.default_rng(1), label_dpi=300)
    photo.image   # uint8, height × width × 3, BGR as OpenCV has it
    photo.quad_px # the label's corners, clockwise from its own top left
"""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Light = NDArray[np.float32]
Corners = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """How the photo was taken. Lengths in pixels of the photo, angles in degrees, strengths from 0 (none) to 1.

    ``px_per_mm`` is the scale of a label seen straight on; ``torn`` the part of the label that is gone from its
    bottom; ``covered`` the part hidden by something dark from one side; ``glare_at`` the bright spot's place (from
    -1 to 1, right and down of the middle) and ``glare_spread`` its size, random when not given; ``noise`` the
    standard deviation at mid grey in 8-bit steps.
    """

    px_per_mm: float = 4.0
    tilt_deg: float = 0.0
    tilt_axis_deg: float = 0.0
    turn_deg: float = 0.0
    defocus_px: float = 0.0
    motion_px: float = 0.0
    motion_deg: float = 0.0
    shade: float = 0.0
    shadow: float = 0.0
    glare: float = 0.0
    glare_at: tuple[float, float] | None = None
    glare_spread: float = 0.0
    noise: float = 2.0
    exposure: float = 1.0
    jpeg: int = 85
    torn: float = 0.0
    covered: float = 0.0

    @classmethod
    def graded(cls, severity: float, rng: np.random.Generator, *, px_per_mm: float = 4.0) -> "Look":
        """A random look of this severity: 0 a careful photo, 1 one that most people would take again."""
        s = float(np.clip(severity, 0, 1))
        return cls(
            px_per_mm=px_per_mm,
            tilt_deg=float(rng.uniform(0, 10 + 40 * s)),
            tilt_axis_deg=float(rng.uniform(0, 360)),
            turn_deg=float(rng.uniform(-180, 180) if rng.random() < 0.3 * s else rng.normal(0, 4 + 12 * s)),
            defocus_px=float(rng.uniform(0, 0.5 + 3 * s) * px_per_mm / 4),
            motion_px=float(rng.uniform(0, 7 * s) * px_per_mm / 4),
            motion_deg=float(rng.uniform(0, 180)),
            shade=float(rng.uniform(0, 0.2 + 0.6 * s)),
            shadow=float(rng.uniform(0, 0.8 * s)),
            glare=float(rng.uniform(0, s)) if rng.random() < 0.4 else 0.0,
            noise=float(rng.uniform(1, 2 + 9 * s)),
            exposure=float(rng.uniform(1 - 0.55 * s, 1)),
            jpeg=int(rng.uniform(90 - 45 * s, 92)),
        )


@dataclass(frozen=True)
class Photo:
    """A finished photo and where the label's corners are on it."""

    image: Picture
    quad_px: Corners
    look: Look = field(default_factory=Look)


def photograph(label: Any, look: Look, rng: np.random.Generator, *, label_dpi: float = 300, ground: int = 120) -> Photo:
    """Photograph one flat label (PIL image or array, grey or BGR) on a plain ground of this grey."""
    art = spoiled(as_bgr(label), look, rng)
    art, scale = shrunk_to(art, label_dpi / 25.4, look.px_per_mm)
    warp, size = _camera(art.shape[1], art.shape[0], look.px_per_mm / scale, look)
    light = to_light(art)
    paper = np.full(art.shape[:2], 1, np.float32)
    shape = (size[0] * 2, size[1] * 2)  # twice the size, then the mean of four: no stair steps on bars
    double = np.diag([2.0, 2.0, 1.0]) @ warp
    seen = cv2.warpPerspective(light, double, shape, flags=cv2.INTER_LINEAR)
    mask = cv2.warpPerspective(paper, double, shape, flags=cv2.INTER_LINEAR)[..., None]
    back = to_light(np.full((1, 1, 3), ground, np.uint8))
    scene = cv2.resize(seen + back * (1 - mask), size, interpolation=cv2.INTER_AREA)
    height, width = art.shape[:2]
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    quad = cv2.perspectiveTransform(corners[None], warp)[0]
    return Photo(develop(scene, look, rng), quad, look)


def develop(scene: Light, look: Look, rng: np.random.Generator) -> Picture:
    """Light of a scene (linear, 1 = white paper) to the photo: lighting, lens, hand, sensor, JPEG."""
    light = _lit(scene, look, rng)
    light = defocused(light, look.defocus_px)
    light = shaken(light, look.motion_px, look.motion_deg)
    return compressed(to_picture(_noisy(light * look.exposure, look.noise, rng)), look.jpeg)


def as_bgr(label: Any) -> Picture:
    """A PIL image (RGB or grey) or an array (BGR or grey) as a BGR array."""
    array = np.asarray(label)
    if array.ndim == 2:
        return cv2.cvtColor(array, cv2.COLOR_GRAY2BGR)
    is_array = isinstance(label, np.ndarray)
    return np.ascontiguousarray(array[..., :3] if is_array else array[..., 2::-1]).astype(np.uint8)


def shrunk_to(art: Picture, art_px_per_mm: float, px_per_mm: float) -> tuple[Picture, float]:
    """``art`` near the photo's scale, so that sampling it does not alias; also its own pixels per mm then."""
    factor = min(1.0, 1.5 * px_per_mm / art_px_per_mm)
    size = (max(1, round(art.shape[1] * factor)), max(1, round(art.shape[0] * factor)))
    return cv2.resize(art, size, interpolation=cv2.INTER_AREA), art_px_per_mm * size[0] / art.shape[1]


def spoiled(art: Picture, look: Look, rng: np.random.Generator) -> Picture:
    """The label with its bottom torn off along a ragged line, or a part covered."""
    art = art.copy()
    height, width = art.shape[:2]
    if look.torn:
        art[~kept_of_torn(height, width, look.torn, rng)] = (96, 136, 172)
    if look.covered:
        side = int(width * look.covered)
        art[:, :side] = rng.integers(20, 60)
    return art


def kept_of_torn(height: int, width: int, torn: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """True where paper is left when the part ``torn`` of a label is ripped off from its bottom."""
    steps = np.cumsum(rng.normal(0, 1, width))
    ragged = (steps - np.linspace(steps[0], steps[-1], width)) * height / 400
    edge = height * (1 - torn) + ragged + np.linspace(-1, 1, width) * height * rng.uniform(-0.05, 0.05)
    return np.asarray(np.arange(height)[:, None] < edge[None, :])


def to_light(picture: Picture) -> Light:
    """8-bit sRGB to linear light (IEC 61966-2-1)."""
    value = np.arange(256) / 255
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return table[picture]


def to_picture(light: Light) -> Picture:
    """Linear light to 8-bit sRGB, clipped at white."""
    steps = np.linspace(0, 1, 4096)
    table = np.where(steps <= 0.0031308, steps * 12.92, 1.055 * steps ** (1 / 2.4) - 0.055)
    return np.asarray((table * 255 + 0.5).astype(np.uint8)[(np.clip(light, 0, 1) * 4095).astype(np.uint16)])


def defocused(light: Light, radius_px: float) -> Light:
    """Blur by a disc of this radius: what a lens out of focus does."""
    if radius_px < 0.3:
        return light
    half = int(np.ceil(radius_px)) + 1
    fine = np.hypot(*np.mgrid[-half : half + 1 : 0.2, -half : half + 1 : 0.2]) <= radius_px
    disc = cv2.resize(fine.astype(np.float32), (2 * half + 1, 2 * half + 1), interpolation=cv2.INTER_AREA)
    return cv2.filter2D(light, -1, disc / disc.sum(), borderType=cv2.BORDER_REFLECT)


def shaken(light: Light, length_px: float, angle_deg: float) -> Light:
    """Blur along a line of this length: what a hand that moves does."""
    if length_px < 0.5:
        return light
    half = int(np.ceil(length_px / 2)) + 1
    line = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    for step in np.linspace(-length_px / 2, length_px / 2, max(3, int(length_px * 8))):
        x, y = half + step * np.cos(np.radians(angle_deg)), half + step * np.sin(np.radians(angle_deg))
        left, top = int(np.floor(x)), int(np.floor(y))
        fx, fy = x - left, y - top
        line[top : top + 2, left : left + 2] += np.outer((1 - fy, fy), (1 - fx, fx)).astype(np.float32)
    return cv2.filter2D(light, -1, line / line.sum(), borderType=cv2.BORDER_REFLECT)


def compressed(picture: Picture, quality: int) -> Picture:
    """The picture after JPEG at this quality."""
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise ValueError(f"a picture of shape {picture.shape} cannot be written as JPEG")
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def cloud(shape: tuple[int, int], cells: float, rng: np.random.Generator) -> Light:
    """Smooth random values from 0 to 1 with about ``cells`` blobs across."""
    rows, columns = max(2, round(cells * shape[0] / shape[1])) + 3, max(2, round(cells)) + 3
    coarse = rng.random((rows, columns)).astype(np.float32)
    return np.clip(cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_CUBIC), 0, 1)


def _camera(width: int, height: int, scale: float, look: Look) -> tuple[Corners, tuple[int, int]]:
    """Pinhole camera one and a half diagonals away; the homography from art to photo, and the photo's size."""
    turn, axis, tilt = np.radians([look.turn_deg, look.tilt_axis_deg, look.tilt_deg])
    about = _rotation(axis, 2) @ _rotation(tilt, 0) @ _rotation(-axis, 2) @ _rotation(turn, 2)
    half = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) * scale / 2
    far = 1.5 * float(np.hypot(width, height)) * scale
    points = np.c_[half, np.zeros(4)] @ about.T + (0, 0, far)
    flat = points[:, :2] / points[:, 2:] * far
    margin = 0.06 * far
    low, high = flat.min(0) - margin, flat.max(0) + margin
    size = (int(np.ceil(high[0] - low[0])), int(np.ceil(high[1] - low[1])))
    art = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    return cv2.getPerspectiveTransform(art, (flat - low).astype(np.float32)), size


def _rotation(angle: float, axis: int) -> Corners:
    turn = np.eye(3)
    first, second = [place for place in range(3) if place != axis]
    turn[first, first] = turn[second, second] = np.cos(angle)
    turn[first, second], turn[second, first] = -np.sin(angle), np.sin(angle)
    return turn


def _lit(scene: Light, look: Look, rng: np.random.Generator) -> Light:
    height, width = scene.shape[:2]
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    angle = rng.uniform(0, 2 * np.pi)
    along = (x * np.cos(angle) + y * np.sin(angle)).astype(np.float32)
    light = 1 - look.shade * (along + 1) / 2
    if look.shadow:
        edge = along + rng.uniform(-0.5, 0.5)
        light = light * (1 - look.shadow * 0.85 / (1 + np.exp(-edge * rng.uniform(8, 40))))
    lit = scene * light[..., None]
    if look.glare:
        cx, cy = look.glare_at or rng.uniform(-0.6, 0.6, 2)
        spread = look.glare_spread or rng.uniform(0.15, 0.4)
        spot = np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * spread**2)) * (0.7 + 0.3 * cloud((height, width), 6, rng))
        lit = lit + (1.5 * look.glare * spot)[..., None]
    return np.asarray(lit, np.float32)


def _noisy(light: Light, noise: float, rng: np.random.Generator) -> Light:
    """Shot noise grows with the root of the light, read noise is the same everywhere; grain is two pixels wide."""
    if not noise:
        return light
    grain = rng.standard_normal(light.shape, np.float32)
    grain = 0.75 * grain + 0.9 * cv2.GaussianBlur(grain, (0, 0), 0.8)
    spread = noise / 255 * (0.25 + np.sqrt(np.clip(light, 0, 1) / 0.21)) * 0.55
    return np.asarray(light + grain * spread, np.float32)
