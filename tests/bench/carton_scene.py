"""A back room in three dimensions: cartons with labels, lamps, and the phone's place and lens.

Lengths in cm; x to the right, y away from the camera, z up. `carton_render` draws it, `photo_model` makes the photo.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from photo_model import Picture

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class Sticker:
    """A label on a face of a carton: its art, size in cm, the centre's place on the face and its turn."""

    name: str
    art: Picture
    size_cm: tuple[float, float] = (10.16, 15.24)
    face: str = "front"
    at_cm: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 0.0
    torn: float = 0.0


@dataclass(frozen=True)
class Block:
    """A box: centre of its bottom, size (width, depth, height), turn about z and lean back in degrees."""

    at_cm: tuple[float, float, float]
    size_cm: tuple[float, float, float]
    yaw_deg: float = 0.0
    lean_deg: float = 0.0
    roll_deg: float = 0.0
    surface: str = "cardboard"
    colour: tuple[int, int, int] = (98, 143, 183)
    stickers: tuple[Sticker, ...] = ()
    name: str = ""

    @property
    def turn(self) -> Vector:
        """Rotation from the box to the room."""
        yaw, lean, roll = np.radians([self.yaw_deg, self.lean_deg, self.roll_deg])
        about_z = np.array([[np.cos(yaw), -np.sin(yaw), 0], [np.sin(yaw), np.cos(yaw), 0], [0, 0, 1]])
        about_x = np.array([[1, 0, 0], [0, np.cos(lean), np.sin(lean)], [0, -np.sin(lean), np.cos(lean)]])
        about_y = np.array([[np.cos(roll), 0, np.sin(roll)], [0, 1, 0], [-np.sin(roll), 0, np.cos(roll)]])
        return np.asarray(about_z @ about_x @ about_y)

    @property
    def centre(self) -> Vector:
        """Middle of the box in the room."""
        return np.asarray(np.array(self.at_cm) + self.turn @ np.array([0, 0, self.size_cm[2] / 2]))


@dataclass(frozen=True)
class Viewpoint:
    """Where the phone is, what it looks at, how it is held, and its lens."""

    eye_cm: tuple[float, float, float]
    target_cm: tuple[float, float, float]
    size_px: tuple[int, int] = (4000, 3000)
    view_deg: float = 62.0
    roll_deg: float = 0.0

    def project(self, points: Vector) -> Vector:
        """Points of the room (n × 3) to pixels and depth (n × 3)."""
        away = (points - self.eye_cm) @ self.axes().T
        middle = np.array(self.size_px) / 2
        return np.c_[away[:, :2] / away[:, 2:] * self.focal_px + middle, away[:, 2]]

    @property
    def focal_px(self) -> float:
        """Focal length in pixels; ``view_deg`` is the angle across the photo's width."""
        return float(self.size_px[0] / 2 / np.tan(np.radians(self.view_deg) / 2))

    def matrix(self) -> Vector:
        """From a point less the eye to homogeneous pixels (3 × 3)."""
        lens = np.array([[self.focal_px, 0, self.size_px[0] / 2], [0, self.focal_px, self.size_px[1] / 2], [0, 0, 1]])
        return np.asarray(lens @ self.axes())

    def axes(self) -> Vector:
        """Right, down and ahead of the camera as rows, in the room."""
        ahead = np.subtract(self.target_cm, self.eye_cm)
        ahead = ahead / np.linalg.norm(ahead)
        right = np.cross(ahead, (0, 0, 1))
        right = right / np.linalg.norm(right)
        down = np.cross(ahead, right)
        turn = np.radians(self.roll_deg)
        level = np.array([right, down])
        return np.vstack([np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) @ level, ahead])


@dataclass(frozen=True)
class Lamp:
    """A lamp as a line of points (cm), and its strength."""

    ends_cm: tuple[tuple[float, float, float], tuple[float, float, float]]
    strength: float


@dataclass(frozen=True)
class Room:
    """Everything in view. ``ambient`` is the light from all around, ``tint`` the lamps' colour (BGR);
    the wall stands ``wall_y_cm`` away, the floor reaches ``floor_cm`` to the camera's side of y = 0.
    """

    blocks: tuple[Block, ...]
    lamps: tuple[Lamp, ...]
    ambient: float = 0.35
    tint: tuple[float, float, float] = (0.94, 1.0, 1.0)
    wall_y_cm: float = 120.0
    floor_cm: float = 30.0
    span_cm: float = 520.0


@dataclass(frozen=True)
class SeenLabel:
    """Where a sticker is on the photo (corners clockwise from its own top left) and how much of it is in view."""

    name: str
    quad_px: Vector
    visible: float


def pallet(x: float, y: float) -> tuple[Block, ...]:
    """A flat wooden pallet, 120 by 80 cm, its top 14.4 cm high (EPAL size), centred at x, y."""
    boards = [Block((x, y - 40 + 7.25 + place * 16.4, 12.2), (120, 14.5, 2.2), surface="wood") for place in range(5)]
    feet = [
        Block((x + side, y + row, 0), (14.5, 10, 12.2), surface="wood") for side in (-52, 0, 52) for row in (-34, 0, 34)
    ]
    return (*boards, *feet)
