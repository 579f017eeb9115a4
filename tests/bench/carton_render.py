"""Draw a back room: surfaces painted, lit by rays, and seen through a pinhole camera with a depth buffer.

Lamps and open room reach a surface by rays, so shadows are soft and corners are darker; what is hidden is hidden
exactly, so that the truth of a photo can say how much of each label is in view.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import cv2
import numpy as np
from carton_scene import Block, Room, SeenLabel, Sticker, Vector, Viewpoint
from carton_surfaces import block_wall, cardboard, concrete, steel, stuck_on, wood
from numpy.typing import NDArray
from photo_model import Light, Look, Picture, cloud, develop, to_light, to_picture

FACES = {  # normal, then right and down as seen from outside
    "front": ((0, -1, 0), (1, 0, 0), (0, 0, -1)),
    "back": ((0, 1, 0), (-1, 0, 0), (0, 0, -1)),
    "right": ((1, 0, 0), (0, 1, 0), (0, 0, -1)),
    "left": ((-1, 0, 0), (0, -1, 0), (0, 0, -1)),
    "top": ((0, 0, 1), (1, 0, 0), (0, -1, 0)),
}
FINER = 2
"""The scene is drawn this many times larger than the photo and averaged down."""


@dataclass(frozen=True)
class _Face:
    """A flat piece of the room: corner, right and down edges as vectors in cm, and what is painted on it."""

    block: int
    corner: Vector
    right: Vector
    down: Vector
    name: str
    paint: Block | str = field(default="")

    @property
    def size_cm(self) -> tuple[float, float]:
        return float(np.linalg.norm(self.right)), float(np.linalg.norm(self.down))

    @property
    def normal(self) -> Vector:
        out = np.cross(self.down, self.right)
        return np.asarray(out / np.linalg.norm(out))

    @property
    def corners(self) -> Vector:
        return self.corner + np.array([0 * self.right, self.right, self.right + self.down, self.down])


def photograph_room(
    room: Room, view: Viewpoint, look: Look, rng: np.random.Generator
) -> tuple[Picture, list[SeenLabel]]:
    """The photo and every label that is at least partly in view."""
    light, seen = draw(room, view, rng)
    return develop(light, look, rng), seen


def draw(room: Room, view: Viewpoint, rng: np.random.Generator) -> tuple[Light, list[SeenLabel]]:
    """The room in linear light, before lens and sensor, and its labels."""
    size = tuple(FINER * side for side in view.size_px)
    canvas = np.zeros((size[1], size[0], 3), np.uint8)
    near = np.zeros(size[::-1], np.float32)
    owner = np.full(size[::-1], 255, np.uint8)
    faces = [face for face in _faces(room) if face.normal @ (np.array(view.eye_cm) - face.corner) > 0]
    for number, face in enumerate(faces):
        _draw_face(face, number, room, view, (canvas, near, owner), rng)
    seen = [label for number, face in enumerate(faces) for label in _labels(face, number, view, owner)]
    return _bent(_averaged(canvas), seen, rng)


def _bent(light: Light, seen: list[SeenLabel], rng: Any) -> tuple[Light, list[SeenLabel]]:
    """Nothing of board is straight: the drawing bent smoothly by about a thousandth of its width."""
    height, width = light.shape[:2]
    reach = width / 800
    shift = [reach * (cloud((height, width), 12, rng) - 0.5) * 2 for _ in range(2)]
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    bent = cv2.remap(light, x + shift[0], y + shift[1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    moved = []
    for label in seen:
        at = np.clip(label.quad_px.round().astype(int), 0, (width - 1, height - 1))
        away = np.array([[shift[0][row, column], shift[1][row, column]] for column, row in at])
        moved.append(replace(label, quad_px=label.quad_px - away))
    return np.clip(bent, 0, None), moved


def _averaged(canvas: Picture) -> Light:
    """The large drawing to the photo's size, in linear light, strip by strip to save memory."""
    height, width = canvas.shape[0] // FINER, canvas.shape[1] // FINER
    light = np.empty((height, width, 3), np.float32)
    for top in range(0, height, 200):
        rows = canvas[top * FINER : min(height, top + 200) * FINER]
        light[top : top + 200] = cv2.resize(
            to_light(rows), (width, rows.shape[0] // FINER), interpolation=cv2.INTER_AREA
        )
    return light


def _faces(room: Room) -> Iterator[_Face]:
    half, wall = room.span_cm / 2, room.wall_y_cm
    yield _Face(
        -1, np.array([-half, wall, 260.0]), np.array([2 * half, 0, 0]), np.array([0, 0, -260.0]), "wall", "wall"
    )
    yield _Face(
        -1,
        np.array([-half, wall, 0.0]),
        np.array([2 * half, 0, 0]),
        np.array([0, -wall - room.floor_cm, 0]),
        "floor",
        "floor",
    )
    for number, block in enumerate(room.blocks):
        half_size = np.array(block.size_cm) / 2
        for name, (normal, right, down) in FACES.items():
            corner = half_size * (np.array(normal) - np.array(right) - np.array(down))
            edges = [block.turn @ (2 * half_size * np.array(axis)) for axis in (right, down)]
            yield _Face(number, block.centre + block.turn @ corner, *edges, name, block)


def _draw_face(face: _Face, number: int, room: Room, view: Viewpoint, planes: tuple[Any, Any, Any], rng: Any) -> None:
    canvas, near, owner = planes
    quad = view.project(_before(face.corners, view))[:, :2] * FINER
    if len(quad) < 3:
        return
    low = np.clip(np.floor(quad.min(0)), 0, (canvas.shape[1], canvas.shape[0])).astype(int)
    high = np.clip(np.ceil(quad.max(0)), 0, (canvas.shape[1], canvas.shape[0])).astype(int)
    if (high - low < 2).any():
        return
    texture = _lit(face, _painted(face, _scale(face, view), rng), room, rng)
    height, width = texture.shape[:2]
    moved = np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1]]) @ np.diag([FINER, FINER, 1.0])
    warp = moved @ view.matrix() @ np.c_[face.right / width, face.down / height, face.corner - view.eye_cm]
    size = tuple(int(side) for side in high - low)
    part = cv2.warpPerspective(texture, warp, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mask = np.zeros(size[::-1], np.uint8)
    cv2.fillConvexPoly(mask, np.round((quad - low) * 16).astype(np.int32), 1, shift=4)
    depth = _inverse_depth(face, view, moved, size)
    here = (slice(low[1], high[1]), slice(low[0], high[0]))
    front = (mask > 0) & (depth > near[here])
    canvas[here][front] = part[front]
    near[here][front] = depth[front]
    owner[here][front] = number


def _before(corners: Vector, view: Viewpoint, least_cm: float = 5.0) -> Vector:
    """The polygon's part that is at least so far before the camera (Sutherland and Hodgman's clipping)."""
    ahead = (corners - view.eye_cm) @ view.axes()[2] - least_cm
    kept = []
    for place in range(len(corners)):
        here, there = ahead[place - 1], ahead[place]
        if (here < 0) != (there < 0):
            kept.append(corners[place - 1] + here / (here - there) * (corners[place] - corners[place - 1]))
        if there >= 0:
            kept.append(corners[place])
    return np.array(kept).reshape(-1, 3)


def _inverse_depth(face: _Face, view: Viewpoint, moved: Vector, size: tuple[int, int]) -> Light:
    """1 / depth over the face's rectangle; on a plane it is linear in pixels."""
    normal = face.normal @ np.linalg.inv(moved @ view.matrix())
    a, b, c = normal / (face.normal @ (face.corner - view.eye_cm))
    x = np.arange(size[0], dtype=np.float64)
    y = np.arange(size[1], dtype=np.float64)
    return np.asarray((a * x[None, :] + b * y[:, None] + c).astype(np.float32))


def _scale(face: _Face, view: Viewpoint) -> float:
    """Pixels per cm to paint a face with: about what the drawing shows of its nearest part."""
    ahead = (face.corners - view.eye_cm) @ view.axes()[2]
    shown = FINER * view.focal_px / max(40.0, float(ahead.min()))
    return float(np.clip(shown, 1.0, min(5200 / max(face.size_cm), 130)))


def _painted(face: _Face, scale: float, rng: Any) -> Picture:
    width, height = face.size_cm
    if isinstance(face.paint, str):
        return (block_wall if face.paint == "wall" else concrete)(width, height, scale, rng)
    block = face.paint
    if block.surface == "wood":
        return wood(width, height, scale, rng)
    if block.surface == "steel":
        return steel(width, height, scale, rng, block.colour)
    board = cardboard(width, height, scale, face.name, _taping(block), rng)
    for sticker in block.stickers:
        if sticker.face == face.name:
            art_scale = sticker.art.shape[1] / sticker.size_cm[0]
            factor = min(1.0, 1.2 * scale / art_scale)
            art = cv2.resize(sticker.art, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
            stuck_on(board, art, _sticker_cm(sticker, width, height) * scale, scale, sticker.torn, rng)
    return board


def _taping(block: Block) -> dict[str, Any]:
    """How this carton is taped; it follows from the carton, so all its faces agree."""
    along = block.size_cm[0] >= block.size_cm[1]
    pick = np.random.default_rng([round(abs(value) * 100) for value in (*block.at_cm, *block.size_cm)])
    brown = bool(pick.random() < 0.5)
    return {
        "kraft": block.colour,
        "tape_along_width": along,
        "tape_side": "right" if along else "front",
        "tape_end_cm": float(pick.uniform(4.5, 7.5)),
        "tape_bgr": (62, 100, 138) if brown else (176, 200, 214),
        "tape_cover": 0.82 if brown else 0.38,
        "arrows": bool(pick.random() < 0.6),
    }


def _sticker_cm(sticker: Sticker, width: float, height: float) -> Vector:
    """The label's corners on its face in cm from the face's top left."""
    half_w, half_h = sticker.size_cm[0] / 2, sticker.size_cm[1] / 2
    turn = np.radians(sticker.turn_deg)
    about = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corners = np.array([(-half_w, -half_h), (half_w, -half_h), (half_w, half_h), (-half_w, half_h)]) @ about.T
    return np.asarray(corners + np.array((width / 2, height / 2)) + sticker.at_cm)


def _labels(face: _Face, number: int, view: Viewpoint, owner: Any) -> Iterator[SeenLabel]:
    if isinstance(face.paint, str):
        return
    for sticker in face.paint.stickers:
        if sticker.face != face.name:
            continue
        width, height = face.size_cm
        part = _sticker_cm(sticker, width, height) / (width, height)
        quad = view.project(face.corner + part[:, :1] * face.right + part[:, 1:] * face.down)[:, :2]
        mask = np.zeros(owner.shape, np.uint8)
        cv2.fillConvexPoly(mask, np.round(quad * FINER).astype(np.int32), 1)
        area = cv2.contourArea((quad * FINER).astype(np.float32))
        visible = float(((owner == number) & (mask > 0)).sum() / max(1.0, area))
        if visible > 0.02:
            yield SeenLabel(sticker.name, quad, min(1.0, visible))


def _lit(face: _Face, paint: Picture, room: Room, rng: Any) -> Picture:
    """The painted face in the room's light."""
    width, height = face.size_cm
    step = 4.0 if face.block >= 0 else 7.0
    grid = (int(np.clip(height / step, 5, 70)), int(np.clip(width / step, 5, 80)))
    u = (np.arange(grid[1]) + 0.5) / grid[1]
    v = (np.arange(grid[0]) + 0.5) / grid[0]
    points = face.corner + u[None, :, None] * face.right + v[:, None, None] * face.down
    light = _light_at(points.reshape(-1, 3), face.normal, room, face.block, rng).reshape(grid).astype(np.float32)
    light = cv2.GaussianBlur(light, (0, 0), 0.7)
    coloured = cv2.resize(light, (paint.shape[1], paint.shape[0]), interpolation=cv2.INTER_CUBIC)[..., None]
    out = np.empty_like(paint)
    for top in range(0, paint.shape[0], 400):
        rows = slice(top, top + 400)
        out[rows] = to_picture(to_light(paint[rows]) * coloured[rows] * np.array(room.tint, np.float32))
    return out


def _light_at(points: Vector, normal: Vector, room: Room, own: int, rng: Any) -> Vector:
    start = points + 0.4 * normal
    total = np.zeros(len(points))
    for lamp in room.lamps:
        first, last = (np.array(end) for end in lamp.ends_cm)
        for place in np.linspace(0, 1, 10):
            away = first + place * (last - first) + rng.normal(0, 6, 3) - start
            far = np.linalg.norm(away, axis=1)
            cosine = np.clip(away @ normal / far, 0, None)
            total += lamp.strength / 10 * cosine * (200 / far) ** 2 * ~_blocked(start, away, room, own)
    sky = rng.standard_normal((28, 3))
    sky = sky / np.linalg.norm(sky, axis=1, keepdims=True)
    sky[sky @ normal < 0] *= -1
    open_sky = sum((ray @ normal) * ~_blocked(start, np.broadcast_to(ray * 110, start.shape), room, own) for ray in sky)
    return np.asarray(total + room.ambient * open_sky / sum(ray @ normal for ray in sky))


def _blocked(start: Vector, away: Vector, room: Room, own: int) -> NDArray[np.bool_]:
    """True where a ray from ``start`` along ``away`` meets a box other than its own (slab test)."""
    hit = np.zeros(len(start), bool)
    for number, block in enumerate(room.blocks):
        if number == own:
            continue
        at = (start - block.centre) @ block.turn
        along = away @ block.turn
        along = np.where(np.abs(along) < 1e-9, 1e-9, along)
        half = np.array(block.size_cm) / 2
        one, two = (-half - at) / along, (half - at) / along
        enter, leave = np.minimum(one, two).max(1), np.maximum(one, two).min(1)
        hit |= (enter < leave) & (leave > 1e-3) & (enter < 1)
    return hit
