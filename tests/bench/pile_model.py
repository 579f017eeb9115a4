"""Simulated photos of carton piles: known labels at known places, for the pile figures and tests.

The model: printed labels (GS1-128 SSCC bars, lines of text) on corrugated board, turned, shaded, softened by a lens,
with sensor noise and JPEG. `Hardship` adds what a hurried photo has: perspective, spots of glare, cartons in front.
How strong these usually are is our own guess from phone photos, no source.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
import zxingcpp
from numpy.typing import NDArray
from PIL import Image, ImageDraw

PRINT_PX = 6
BAR_MODULES = 45


@dataclass(frozen=True)
class Pile:
    """One simulated photo: its JPEG bytes, gray levels, and (element string, centre x, centre y) of each label."""

    data: bytes
    gray: NDArray[np.uint8]
    labels: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class Hardship:
    """What makes a pile hard to read: ``lean`` is how much narrower the far side of the photo is (a share of its
    width), ``glare`` how many burnt-out spots there are, ``covered`` the share of labels with something in front."""

    lean: float = 0.0
    glare: int = 0
    covered: float = 0.0


NONE = Hardship()
USUAL = Hardship(lean=0.15, glare=4, covered=0.25)


def sscc_text(serial: int) -> str:
    """The GS1 element string of the demo SSCC with this serial; prefix 952 is GS1's for demonstrations."""
    body = f"0952000{serial:010d}"
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(body)))
    return f"00{body}{-total % 10}"


def label_image(text: str, rng: np.random.Generator) -> NDArray[np.uint8]:
    """A printed label, PRINT_PX pixels a module, its bars at the bottom third."""
    code = zxingcpp.create_barcode(f"({text[:2]}){text[2:]}", zxingcpp.BarcodeFormat.Code128, gs1=True)
    bars = np.asarray(code.to_image(scale=PRINT_PX, add_quiet_zones=True, add_hrt=False))[PRINT_PX:-PRINT_PX]
    bars = np.repeat(bars[bars.shape[0] // 2][None], BAR_MODULES * PRINT_PX, axis=0)
    width = bars.shape[1]
    page = Image.new("L", (width, int(width * 0.75)), 255)
    draw = ImageDraw.Draw(page)
    for line, size in enumerate((0.07, 0.05, 0.05, 0.09)):
        words = f"CARTON {rng.integers(1, 40)} OF 40   COLUMN {rng.integers(1, 9)} ROW {rng.integers(1, 9)}"
        draw.text((width * 0.05, width * (0.03 + 0.09 * line)), words[: 14 + 6 * line], fill=0, font_size=width * size)
    draw.text((width * 0.2, page.height - width * 0.05), f"({text[:2]}) {text[2:]}", fill=0, font_size=width * 0.04)
    sheet = np.asarray(page).copy()
    top = page.height - bars.shape[0] - int(width * 0.07)
    sheet[top : top + bars.shape[0]] = bars
    return sheet


def board(shape: tuple[int, int], rng: np.random.Generator) -> NDArray[np.float32]:
    """Corrugated board: patches of brown gray, fibre noise, faint flutes and the edges of cartons."""
    height, width = shape
    coarse = rng.normal(135, 14, (height // 400 + 2, width // 400 + 2)).astype(np.float32)
    sheet = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    sheet += cv2.resize(rng.normal(0, 5, (height // 3, width // 3)).astype(np.float32), (width, height))
    sheet += 3 * np.sin(np.arange(width, dtype=np.float32) * 2 * np.pi / 19)[None]
    for _ in range(8):
        at = int(rng.integers(0, height))
        sheet[at : at + 4] -= 60
    return sheet


def pile(
    module_px: float,
    angle_deg: float | None,
    rng: np.random.Generator,
    *,
    count: int = 12,
    serial: int = 1,
    hardship: Hardship = NONE,
) -> Pile:
    """A 12-megapixel photo of ``count`` labels; ``angle_deg`` None turns each label by an angle of its own."""
    width, height = 4000, 3000
    (chance,) = rng.spawn(1)
    photo = board((height, width), rng)
    columns, rows = 4, -(-count // 4)
    labels = []
    for number in range(count):
        text = sscc_text(serial + number)
        print_ = label_image(text, rng)
        turn = angle_deg + rng.normal(0, 1.5) if angle_deg is not None else rng.uniform(0, 360)
        cell = (width / columns, height / rows)
        cx = (number % columns + 0.5) * cell[0] + rng.uniform(-60, 60)
        cy = (number // columns + 0.5) * cell[1] + rng.uniform(-60, 60)
        _paste(photo, print_, (cx, cy), turn, module_px / PRINT_PX, rng)
        if chance.random() < hardship.covered:
            _cover(photo, (cx, cy), print_.shape[1] * module_px / PRINT_PX, chance)
        labels.append((text, cx, cy))
    if hardship.lean:
        photo, labels = _leaning(photo, labels, hardship.lean, chance)
    shade = cv2.resize(
        rng.uniform(0.7, 1.05, (3, 4)).astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC
    )
    photo = photo * shade
    for _ in range(hardship.glare):
        photo += _spot(photo.shape, chance)
    photo = cv2.GaussianBlur(photo, (0, 0), 0.7) + rng.normal(0, 4, photo.shape).astype(np.float32)
    out = io.BytesIO()
    Image.fromarray(np.clip(photo, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=85)
    gray = np.asarray(Image.open(io.BytesIO(out.getvalue())))
    return Pile(out.getvalue(), gray, tuple(labels))


def _cover(photo: NDArray[np.float32], centre: tuple[float, float], width: float, chance: np.random.Generator) -> None:
    """A carton's corner or a strap in front of up to a third of a label, from any side."""
    angle, depth = chance.uniform(0, 2 * np.pi), chance.uniform(0.15, 0.33) * width
    across = np.array([np.cos(angle), np.sin(angle)])
    along = np.array([-across[1], across[0]])
    edge = np.array(centre) + across * (width / 2 - depth)
    far = across * width * 0.6
    corners = [edge - along * width * 0.6, edge + along * width * 0.6, edge + along * width * 0.6 + far]
    corners.append(edge - along * width * 0.6 + far)
    cv2.fillPoly(photo, [np.array(corners).round().astype(np.int32)], float(chance.uniform(60, 150)))


def _leaning(
    photo: NDArray[np.float32], labels: list[tuple[str, float, float]], lean: float, chance: np.random.Generator
) -> tuple[NDArray[np.float32], list[tuple[str, float, float]]]:
    """The photo taken askew: one of its sides, any, is farther away."""
    height, width = photo.shape
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    inward = np.array([[1, 0], [-1, 0], [0, 0], [0, 0]], np.float32) * lean / 2 * width
    if chance.random() < 0.5:
        inward = np.array([[0, 1], [0, 0], [0, 0], [0, -1]], np.float32) * lean / 2 * height
    turn = cv2.getPerspectiveTransform(corners, corners + inward)
    seen = cv2.warpPerspective(photo, turn, (width, height), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REFLECT)
    middles = cv2.perspectiveTransform(np.array([[[x, y] for _, x, y in labels]], np.float64), turn)[0]
    return seen, [(text, float(x), float(y)) for (text, _, _), (x, y) in zip(labels, middles, strict=True)]


def _spot(shape: tuple[int, int], chance: np.random.Generator) -> NDArray[np.float32]:
    """Light that tape or film reflects: an ellipse, burnt out in its middle."""
    height, width = shape
    middle = (chance.uniform(0, width), chance.uniform(0, height))
    reach = chance.uniform(60, 250, 2)
    turn = chance.uniform(0, np.pi)
    y, x = np.mgrid[:height:4, :width:4].astype(np.float32)
    x, y = x - middle[0], y - middle[1]
    along, down = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    spot = 300 * np.exp(-((along / reach[0]) ** 2 + (down / reach[1]) ** 2) / 2)
    return np.asarray(cv2.resize(spot.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR))


def _paste(
    photo: NDArray[np.float32],
    print_: NDArray[np.uint8],
    centre: tuple[float, float],
    angle_deg: float,
    scale: float,
    rng: np.random.Generator,
) -> None:
    """Lay the print on the photo; it is averaged over a pixel's area before it is sampled, as a lens does."""
    paper, ink = rng.uniform(205, 240), rng.uniform(25, 50)
    soft = cv2.GaussianBlur(print_.astype(np.float32), (0, 0), 0.35 / scale)
    tone = ink + soft / 255 * (paper - ink)
    turn = cv2.getRotationMatrix2D((print_.shape[1] / 2, print_.shape[0] / 2), angle_deg, scale)
    reach = int(np.hypot(*print_.shape) * scale / 2) + 4
    left, top = int(centre[0]) - reach, int(centre[1]) - reach
    turn[:, 2] += (centre[0] - left - print_.shape[1] / 2, centre[1] - top - print_.shape[0] / 2)
    size = (2 * reach, 2 * reach)
    laid = cv2.warpAffine(tone, turn, size, flags=cv2.INTER_LINEAR)
    mask = cv2.warpAffine(np.ones_like(tone), turn, size, flags=cv2.INTER_LINEAR)
    x0, y0, x1, y1 = max(0, left), max(0, top), min(photo.shape[1], left + size[0]), min(photo.shape[0], top + size[1])
    part = (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
    photo[y0:y1, x0:x1] += mask[part] * (laid[part] / np.maximum(mask[part], 1e-3) - photo[y0:y1, x0:x1])
