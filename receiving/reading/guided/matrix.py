"""A GS1 Data Matrix of one SSCC that no decoder reads, by comparing its modules with those that are expected.

FNC1 and twenty digits have one encodation that fits 16 x 16 modules: eleven codewords of the ASCII scheme and one pad
(ISO/IEC 16022, 5.2), so that any printer's symbol is the same. Symbols of neighbouring serials differ in about fifty
modules: one other digit changes most codewords of the error correction.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import zxingcpp
from numpy.typing import NDArray

from receiving.model import ExpectedCode, Quad, Symbol
from receiving.reading.acceptance import is_sscc_alone
from receiving.reading.decoders import mapped_quad
from receiving.reading.region import BarRegion
from receiving.reading.upright import grid_turns_deg, lay_upright

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

MODULES, DATA = 16, slice(1, 15)
"""Modules a side, and those inside the finder and clock track, which all symbols share."""

LOOK_PX, MAX_SCALE, QUIET_ZONE = 6.0, 3.0, 0.35
"""Pixels a module of an attempt at a place that the symbol fills; the quiet zone around it, in longer sides."""

SIDES = tuple(0.34 * 1.06**k for k in range(24))
ASPECTS = (0.9, 1.0, 1.1)
"""Sides of the symbol that are tried, in longer sides of its place, and how far it may be from a square."""

POSES, ROUNDS, FIRST_STEP = 8, 3, 0.6
"""Places of the finder that are looked at closely, and rounds and first step, in modules, that move its corners."""

LEAST_AGREEMENT = 0.5
"""Correlation over the 196 data modules. Modules of a random payload give 0 with a deviation of 0.071: seven of those
are passed once in 10^12 tries, and an attempt makes fewer than 10^5, so less than once in 10^6 attempts."""

LEAST_LEAD = 0.2
"""How much the second of the expected codes stays behind. Negatives among 40 neighbours reached 0.12 where they agreed
enough, and 0.17 at all (186 attempts, median 0.05); none of 687 more was read (``tests/bench/guided_matrix.py``)."""

CONFIDENCE = 0.995
"""One less the upper 95 % bound, rounded up, of negatives that are read: 0 of 873 attempts."""


@dataclass(frozen=True)
class Bank:
    """Expected codes, their data modules (codes, 196), light high, of mean 0 and length 1, and the mean (16, 16)."""

    codes: tuple[ExpectedCode, ...]
    data: Floats
    mean: Floats


@dataclass(frozen=True)
class MatrixFit:
    """How far each expected code agrees with a place, best first, and the corners of the symbol in the photo."""

    codes: tuple[ExpectedCode, ...]
    agreement: tuple[float, ...]
    quad_px: Quad

    @property
    def lead(self) -> float:
        """What the second code stays behind."""
        return self.agreement[0] - self.agreement[1] if len(self.agreement) > 1 else self.agreement[0]

    @property
    def is_read(self) -> bool:
        """True when the best code fits as no random payload does, and no other comes near."""
        return self.agreement[0] >= LEAST_AGREEMENT and self.lead >= LEAST_LEAD


def guided_matrix(gray: NDArray[np.uint8], place: BarRegion, expected: Sequence[ExpectedCode]) -> Symbol | None:
    """The expected SSCC whose GS1 Data Matrix stands at a place of ``gray`` (height, width), or None where not sure."""
    fit = matrix_fit(gray, place, expected)
    if fit is None or not fit.is_read:
        return None
    return Symbol(fit.codes[0].raw, "]d2", fit.quad_px, "guided", guided=True, confidence=CONFIDENCE)


def matrix_fit(gray: NDArray[np.uint8], place: BarRegion, expected: Sequence[ExpectedCode]) -> MatrixFit | None:
    """The best fit of the expected SSCCs at a place; None where no finder can be laid on it."""
    bank = _bank(tuple(code for code in expected if code.symbology == "]C1" and is_sscc_alone(code.raw)))
    if bank is None:
        return None
    side = max(place.length_px, place.height_px)
    scale = min(MAX_SCALE, LOOK_PX * MODULES / side)
    crop, to_photo = lay_upright(gray, place, grid_turns_deg(gray, place), scale, QUIET_ZONE * side)
    # Divided by the light around it: a shadow changes white and black by the same share. The 8 keeps noise in the dark
    # low.
    soft = cv2.GaussianBlur(crop.astype(np.float32), (0, 0), 0.8)
    light: Floats = np.asarray(soft / (cv2.GaussianBlur(soft, (0, 0), 1.5 * MODULES) + 8), np.float32)
    found = [_refined(light, corners, bank) for corners in _finders(light, bank.mean, side * scale)]
    if not found:
        return None
    agreement, corners = max(found, key=lambda f: float(f[0].max()))
    order = np.argsort(-agreement)
    codes = tuple(bank.codes[k] for k in order)
    return MatrixFit(codes, tuple(agreement[order].tolist()), mapped_quad(corners.tolist(), to_photo))


@lru_cache(maxsize=8)
def _bank(codes: tuple[ExpectedCode, ...]) -> Bank | None:
    if not codes:
        return None
    modules = np.array([symbol_modules(code.raw) for code in codes], np.float32)
    return Bank(codes, _normed(modules[:, DATA, DATA].reshape(len(codes), -1)), np.asarray(modules.mean(0), np.float32))


def symbol_modules(raw: str) -> NDArray[np.bool_]:
    """The modules (16, 16) of the symbol, True where light."""
    # Drawn by the library that reads them elsewhere: an encoder of our own could share a fault with the comparison.
    symbol = zxingcpp.create_barcode(
        f"({raw[:2]}){raw[2:]}", zxingcpp.BarcodeFormat.DataMatrix, gs1=True, force_square=True
    )
    return np.asarray(np.asarray(symbol.to_image(scale=1, add_quiet_zones=False, add_hrt=False)) >= 128)


def _finders(light: Floats, mean: Floats, side_px: float) -> Iterator[Doubles]:
    """Corners (4, 2), clockwise from the symbol's own top left, of the places where the common modules fit best."""
    found = []
    for turn in range(4):
        shape = np.pad(np.rot90(mean, turn), 1, constant_values=1)
        for side, aspect in ((s * side_px, a) for s in SIDES for a in ASPECTS):
            wide, high = side * aspect, side / aspect
            size = (round(wide * (1 + 2 / MODULES)), round(high * (1 + 2 / MODULES)))
            if min(size) < MODULES or size[0] > light.shape[1] or size[1] > light.shape[0]:
                continue
            drawn = cv2.resize(shape, size, interpolation=cv2.INTER_LINEAR)
            _, best, _, (x, y) = cv2.minMaxLoc(cv2.matchTemplate(light, drawn, cv2.TM_CCOEFF_NORMED))
            left, top = x + wide / MODULES, y + high / MODULES
            found.append((best, turn, left, top, left + wide, top + high))
    for _, turn, left, top, right, bottom in sorted(found, key=lambda f: -f[0])[:POSES]:
        corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
        # rot90 turns anticlockwise: the symbol's top left goes to the bottom left of the picture.
        yield np.roll(corners, turn, axis=0)


def _refined(light: Floats, corners: Doubles, bank: Bank) -> tuple[Floats, Doubles]:
    """The agreement of each code once the corners are moved to where the best agrees most, and those corners."""
    best = bank.data @ _sampled(light, corners)
    step = FIRST_STEP * float(np.linalg.norm(corners[1] - corners[0])) / MODULES
    for _ in range(ROUNDS):
        # Direct search (Hooke & Jeeves 1961): it needs no slope, and each corner moves alone, as in perspective.
        for corner, axis, sign in ((c, a, s) for c in range(4) for a in range(2) for s in (-1, 1)):
            moved = corners.copy()
            moved[corner, axis] += sign * step
            agreement = bank.data @ _sampled(light, moved)
            if agreement.max() > best.max():
                corners, best = moved, agreement
        step *= FIRST_STEP
    return best, corners


def _sampled(light: Floats, corners: Doubles) -> Floats:
    """The light in the middle of each data module (196,), of mean 0 and length 1."""
    flat = np.array([[0, 0], [MODULES, 0], [MODULES, MODULES], [0, MODULES]], np.float32)
    to_look = cv2.getPerspectiveTransform(flat, corners.astype(np.float32))
    middles = np.arange(MODULES)[DATA] + 0.5
    grid = np.stack(np.meshgrid(middles, middles), -1).reshape(1, -1, 2)
    at = cv2.perspectiveTransform(grid, to_look)[0].astype(np.float32)
    values = cv2.remap(light, at[:, 0], at[:, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return _normed(np.asarray(values.ravel(), np.float32))


def _normed(values: Floats) -> Floats:
    centred = values - values.mean(-1, keepdims=True)
    return np.asarray(centred / (np.linalg.norm(centred, axis=-1, keepdims=True) + 1e-9), np.float32)
