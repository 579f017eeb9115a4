"""What a back room's surfaces look like close up: board, tape, labels stuck on, concrete, block wall, steel, wood.

Every function gives 8-bit BGR at ``scale`` pixels per cm. Colours and wear are drawn from the eye, no source.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from photo_model import Light, Picture, cloud, kept_of_torn

KRAFT = (112, 148, 182)


def cardboard(width_cm: float, height_cm: float, scale: float, face: str, look: dict[str, Any], rng: Any) -> Picture:
    """One face of a corrugated carton: fibres, flutes, scuffs, worn edges; seam and tape where the flaps meet."""
    shape = (max(8, round(height_cm * scale)), max(8, round(width_cm * scale)))
    tone = np.ones(shape, np.float32)
    tone += 0.12 * (cloud(shape, 3, rng) - 0.5) + 0.06 * (cloud(shape, 14, rng) - 0.5)
    tone += 0.07 * (cloud(shape, 70, rng) - 0.5) - 0.5 * np.clip(cloud(shape, 5, rng) - 0.86, 0, 1)
    tone += _fibres(shape, scale, rng) + _flutes(shape, scale, rng)
    tone *= _worn_edges(shape, scale, rng)
    for _ in range(rng.integers(2, 7)):
        _scratch(tone, scale, rng)
    board = tone[..., None] * np.array(look.get("kraft", KRAFT), np.float32)
    if face in ("top", look["tape_side"]):
        _flaps_and_tape(board, scale, face, look, rng)
    if face == "front" and look.get("arrows", True):
        _arrows(board, scale, rng)
    if face in ("left", "right") and height_cm > 22 and width_cm > 25:
        _hand_hole(board, scale)
    return np.clip(board, 0, 255).astype(np.uint8)


def concrete(width_cm: float, height_cm: float, scale: float, rng: Any) -> Picture:
    """A back-room floor: grey screed with stains, scuffs and a joint."""
    shape = (round(height_cm * scale), round(width_cm * scale))
    tone = np.full(shape, 0.84, np.float32) + 0.16 * (cloud(shape, 5, rng) - 0.5) + 0.07 * (cloud(shape, 40, rng) - 0.5)
    tone += 0.09 * rng.standard_normal(shape, np.float32) + 0.07 * (cloud(shape, 220, rng) - 0.5)
    tone -= 0.3 * (cv2.GaussianBlur(rng.random(shape, np.float32), (0, 0), 0.7) < 0.22)
    tone -= 0.25 * np.clip(cloud(shape, 9, rng) - 0.78, 0, 1) * 3
    for _ in range(14):
        _scratch(tone, scale * 4, rng)
    joint = round(shape[0] * rng.uniform(0.35, 0.6))
    tone[joint : joint + max(1, round(0.6 * scale))] *= 0.55
    return _coloured(tone, (138, 146, 150))


def block_wall(width_cm: float, height_cm: float, scale: float, rng: Any) -> Picture:
    """Painted concrete blocks, 40 by 20 cm with mortar joints, dirty near the floor."""
    shape = (round(height_cm * scale), round(width_cm * scale))
    tone = np.ones(shape, np.float32) + 0.08 * (cloud(shape, 6, rng) - 0.5) + 0.03 * (cloud(shape, 300, rng) - 0.5)
    tone += 0.035 * rng.standard_normal(shape, np.float32)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32) / scale
    course = np.floor(y / 20)
    gap = np.minimum(np.abs((y % 20) - 0), np.abs(((x + (course % 2) * 20) % 40) - 0))
    tone *= 1 - 0.22 * np.exp(-((gap / 0.6) ** 2))
    tone *= 1 - 0.25 * np.exp(-(height_cm - y) / 25) * cloud(shape, 12, rng)
    return _coloured(tone, (188, 203, 206))


def steel(width_cm: float, height_cm: float, scale: float, rng: Any, colour: tuple[int, int, int]) -> Picture:
    """Painted rack steel with chips."""
    shape = (max(4, round(height_cm * scale)), max(4, round(width_cm * scale)))
    tone = np.ones(shape, np.float32) + 0.12 * (cloud(shape, 4, rng) - 0.5)
    tone += 0.02 * rng.standard_normal(shape, np.float32)
    tone -= 0.5 * (cloud(shape, 60, rng) > 0.96)
    return _coloured(tone, colour)


def wood(width_cm: float, height_cm: float, scale: float, rng: Any) -> Picture:
    """Rough pallet wood with grain along its longer side."""
    shape = (max(4, round(height_cm * scale)), max(4, round(width_cm * scale)))
    grain = cv2.resize(rng.random((shape[0], 6)).astype(np.float32), shape[::-1], interpolation=cv2.INTER_CUBIC)
    if shape[0] > shape[1]:
        grain = cv2.resize(rng.random((6, shape[1])).astype(np.float32), shape[::-1], interpolation=cv2.INTER_CUBIC)
    tone = 0.8 + 0.3 * (grain - 0.5) + 0.2 * (cloud(shape, 5, rng) - 0.5)
    return _coloured(tone + 0.04 * rng.standard_normal(shape, np.float32), (120, 165, 196))


def stuck_on(face: Picture, art: Picture, corners: NDArray[np.float64], scale: float, torn: float, rng: Any) -> None:
    """Stick a label onto a face at these corners (pixels of the face), in place; ``torn`` of it ripped off below."""
    height, width = art.shape[:2]
    paper = _paper(art, rng)
    keep = np.ones((height, width), np.float32)
    if torn:
        kept = kept_of_torn(height, width, torn, rng)
        keep = kept.astype(np.float32)
        fibre = cv2.dilate((~kept).astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool) & kept
        paper[fibre] = 225 + rng.integers(-12, 12, (int(fibre.sum()), 1))
        keep = np.maximum(keep, 0.75 * (~kept) * (cloud((height, width), 14, rng) > 0.83))
    source = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    warp = cv2.getPerspectiveTransform(source, corners.astype(np.float32))
    size = (face.shape[1], face.shape[0])
    mask = cv2.warpPerspective(keep, warp, size, flags=cv2.INTER_LINEAR)[..., None]
    ink = cv2.warpPerspective(paper, warp, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shadow = cv2.GaussianBlur(mask, (0, 0), max(0.6, 0.12 * scale))[..., None]
    face[:] = np.clip(face * (1 - 0.25 * shadow) * (1 - mask) + ink * mask, 0, 255).astype(np.uint8)


def _paper(art: Picture, rng: Any) -> Light:
    """Thermal paper: not quite white, black that is not black, soft wrinkles."""
    shape = art.shape[:2]
    wave = 1 + 0.05 * (cloud(shape, 3, rng) - 0.5) + 0.03 * (cloud(shape, 9, rng) - 0.5)
    angle, place = rng.uniform(0, np.pi), rng.uniform(0.2, 0.8)
    y, x = np.mgrid[0 : 1 : shape[0] * 1j, 0 : 1 : shape[1] * 1j]
    crease = x * np.cos(angle) + y * np.sin(angle) - place
    wave = wave + 0.05 * np.exp(-((crease / 0.02) ** 2)) - 0.04 * np.exp(-(((crease - 0.03) / 0.02) ** 2))
    tint = np.array((238, 243, 244), np.float32) - 34
    return np.asarray((34 + art.astype(np.float32) / 255 * tint) * wave[..., None], np.float32)


def _coloured(tone: Light, colour: tuple[int, int, int]) -> Picture:
    return np.asarray(np.clip(tone[..., None] * np.array(colour, np.float32), 0, 255).astype(np.uint8))


def _fibres(shape: tuple[int, int], scale: float, rng: Any) -> Light:
    fine = cv2.GaussianBlur(rng.standard_normal(shape, np.float32), (0, 0), sigmaX=max(0.4, 0.10 * scale), sigmaY=0.5)
    specks = cv2.GaussianBlur(
        (rng.random(shape, np.float32) > 0.9996).astype(np.float32), (0, 0), max(0.5, 0.03 * scale)
    )
    return np.asarray(0.05 * fine - 0.9 * specks, np.float32)


def _flutes(shape: tuple[int, int], scale: float, rng: Any) -> Light:
    """B/C flute shows through the liner as faint upright stripes, about 7 mm apart."""
    x = np.arange(shape[1], dtype=np.float32) / scale
    stripes = np.sin(2 * np.pi * x / 0.72 + rng.uniform(0, 6))[None, :]
    return np.asarray(0.016 * stripes * cloud(shape, 4, rng), np.float32)


def _worn_edges(shape: tuple[int, int], scale: float, rng: Any) -> Light:
    y, x = np.arange(shape[0])[:, None] / scale, np.arange(shape[1])[None, :] / scale
    inward = np.minimum(np.minimum(y, shape[0] / scale - y), np.minimum(x, shape[1] / scale - x))
    wear = 0.10 * np.exp(-inward / 0.35) * (cloud(shape, 18, rng) > 0.45)
    return np.asarray(1 + wear - 0.16 * np.exp(-inward / 0.12) - 0.04 * np.exp(-inward / 2.5), np.float32)


def _scratch(tone: Light, scale: float, rng: Any) -> None:
    height, width = tone.shape
    start = rng.random(2) * (width, height)
    turn, length = rng.uniform(0, np.pi), rng.uniform(2, 9) * scale
    end = start + length * np.array((np.cos(turn), np.sin(turn)))
    mark = np.zeros(tone.shape, np.uint8)
    cv2.line(mark, tuple(map(int, start)), tuple(map(int, end)), 255, max(1, round(0.05 * scale)), cv2.LINE_AA)
    tone += (mark / 255 * rng.choice((-0.07, 0.09))).astype(np.float32)


def _flaps_and_tape(board: Light, scale: float, face: str, look: dict[str, Any], rng: Any) -> None:
    """The slit between the flaps on top, taped over; the tape's ends hang down over the sides that it runs to."""
    height = board.shape[0]
    upright = face != "top" or not look["tape_along_width"]
    half = round(2.4 * scale)
    if face == "top":
        _across(board, upright)[:, _middle(board, upright, max(1, round(0.12 * scale)))] *= 0.35
    strip = _across(board, upright)[:, _middle(board, upright, half)]
    length = strip.shape[0] if face == "top" else min(height, round(look["tape_end_cm"] * scale))
    colour = np.array(look["tape_bgr"], np.float32)
    part = strip[:length]
    gloss = 0.5 * cloud(part.shape[:2], 2, rng) + 0.3 * cloud(part.shape[:2], 5, rng)
    streaks = cv2.resize(rng.random((part.shape[0] // 40 + 2, 8)).astype(np.float32), part.shape[1::-1])
    part[:] = (
        part * (1 - look["tape_cover"]) + colour * look["tape_cover"] + 22 * (gloss + 0.3 * streaks - 0.5)[..., None]
    )
    part[:, : max(1, round(0.05 * scale))] *= 0.88
    part[:, -max(1, round(0.05 * scale)) :] *= 0.88


def _across(board: Light, upright: bool) -> Light:
    """The face seen so that the tape runs down; a view, so that painting it paints the face."""
    return board if upright else board.transpose(1, 0, 2)


def _middle(board: Light, upright: bool, half: int) -> slice:
    middle = board.shape[1 if upright else 0] // 2
    return slice(middle - half, middle + half)


def _arrows(board: Light, scale: float, rng: Any) -> None:
    """Two printed arrows over a line: this way up (ISO 780, symbol 0623)."""
    height, width = board.shape[:2]
    if height < 12 * scale or width < 30 * scale:
        return
    size = 4.2 * scale
    left, top = width - 10.5 * scale, height - 1.6 * size
    mask = np.zeros((height, width), np.uint8)
    for place in (0, 1):
        x = left + place * 1.0 * size
        shaft = [(x + 0.38 * size, top + 0.5 * size), (x + 0.62 * size, top + size)]
        cv2.rectangle(mask, *(tuple(map(int, corner)) for corner in shaft), 255, -1)
        head = np.array(
            [(x + 0.15 * size, top + 0.5 * size), (x + 0.5 * size, top), (x + 0.85 * size, top + 0.5 * size)]
        )
        cv2.fillPoly(mask, [head.astype(np.int32)], 255, cv2.LINE_AA)
    line = [(left, top + 1.12 * size), (left + 2 * size, top + 1.22 * size)]
    cv2.rectangle(mask, *(tuple(map(int, corner)) for corner in line), 255, -1)
    ink = mask / 255 * (0.62 + 0.2 * cloud((height, width), 40, rng))
    board *= (1 - 0.75 * ink)[..., None]


def _hand_hole(board: Light, scale: float) -> None:
    width = board.shape[1]
    y, half = round(7 * scale), round(4.5 * scale)
    cv2.line(board, (width // 2 - half, y), (width // 2 + half, y), (18, 24, 30), round(2.6 * scale), cv2.LINE_AA)
