"""The edge to the decoders: zxing-cpp and ZBar (through pyzbar), their oddities mapped here and nowhere else."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import zxingcpp

from receiving.model import Quad

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

LINEAR = ("Code128", "Code39", "Code93", "ITF", "EAN13", "EAN8", "UPCA", "UPCE")
STACKED = ("PDF417",)
MATRIX = ("QRCode", "DataMatrix")
CARTON_FORMATS = LINEAR + STACKED + MATRIX
"""Symbologies that are printed on cartons and their labels (common practice, no source); no other is looked for.

Each one left out is one that cannot be misread: Codabar's four bars a character turn up in any print.
"""

_ZBAR_FORMATS = {
    "CODE128": ("Code128", "]C0"),
    "CODE39": ("Code39", "]A0"),
    "I25": ("ITF", "]I0"),
    "EAN13": ("EAN13", "]E0"),
    "EAN8": ("EAN8", "]E4"),
    "QRCODE": ("QRCode", "]Q1"),
}
"""ZBar's names of the symbologies that we take from it. Its UPC-A arrives as EAN13 with a leading zero."""


@dataclass(frozen=True)
class Decoded:
    """One decoder's answer: text with GS kept, AIM identifier, format (zxing-cpp's name), corners in pixels.

    ``spare`` is the unused share of the error correction (ISO/IEC 15415): at 0 a wrong text may look corrected.
    """

    raw: str
    symbology: str
    format: str
    quad_px: Quad
    reader: str
    spare: float = 1.0

    @property
    def linear(self) -> bool:
        """True for one row of bars, False for a stacked or matrix code, which corrects errors."""
        return self.format in LINEAR


@functools.cache
def zbar_available() -> bool:
    """True when pyzbar finds the shared library of ZBar on this machine."""
    try:
        import pyzbar.pyzbar
    except (ImportError, OSError):
        return False
    return bool(pyzbar.pyzbar)


@functools.cache
def _zxing_formats(names: tuple[str, ...]) -> Any:
    return zxingcpp.BarcodeFormats([getattr(zxingcpp.BarcodeFormat, name) for name in names])


def zxing_symbols(
    gray: Gray,
    formats: tuple[str, ...] = CARTON_FORMATS,
    *,
    rotate: bool = True,
    downscale: bool = True,
    invert: bool = True,
    global_threshold: bool = False,
) -> tuple[Decoded, ...]:
    """What zxing-cpp reads on ``gray`` (height, width); never two answers for one place."""
    if min(gray.shape) < 3:
        return ()
    binarizer = zxingcpp.Binarizer.GlobalHistogram if global_threshold else zxingcpp.Binarizer.LocalAverage
    found = zxingcpp.read_barcodes(
        gray,
        formats=_zxing_formats(formats),
        try_rotate=rotate,
        try_downscale=downscale,
        try_invert=invert,
        binarizer=binarizer,
        text_mode=zxingcpp.TextMode.Plain,
    )
    return tuple(_from_zxing(code) for code in found if code.valid)


def _from_zxing(code: Any) -> Decoded:
    place = code.position
    corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
    return Decoded(
        raw=code.text,
        symbology=code.symbology_identifier,
        format=code.format.name,
        quad_px=_quad((float(c.x), float(c.y)) for c in corners),
        reader="zxing-cpp",
        spare=float(code.extra.get("UEC", 1.0)) if isinstance(code.extra, dict) else 1.0,
    )


def zbar_symbols(gray: Gray) -> tuple[Decoded, ...]:
    """What ZBar reads on ``gray`` (height, width); one answer per value, so use it on crops when counting labels.

    ZBar drops FNC1 and the symbology identifier: a GS1-128 arrives as ``]C0`` without separators.
    """
    if not zbar_available() or min(gray.shape) < 3:
        return ()
    from pyzbar import pyzbar

    wanted = [getattr(pyzbar.ZBarSymbol, name) for name in _ZBAR_FORMATS]
    return tuple(_from_zbar(code) for code in pyzbar.decode(gray, symbols=wanted))


def _from_zbar(code: Any) -> Decoded:
    name, symbology = _ZBAR_FORMATS[code.type]
    left, top, width, height = code.rect
    box = ((left, top), (left + width, top), (left + width, top + height), (left, top + height))
    corners = [(p.x, p.y) for p in code.polygon] if len(code.polygon) == 4 else box
    return Decoded(
        raw=code.data.decode("utf-8", "replace"),
        symbology=symbology,
        format=name,
        quad_px=_quad((float(x), float(y)) for x, y in corners),
        reader="zbar",
    )


def map_to_photo(answer: Decoded, to_photo: NDArray[np.float64]) -> Decoded:
    """The answer with its corners moved from a crop to the photo by a 2 x 3 affine map."""
    return replace(answer, quad_px=mapped_quad(answer.quad_px, to_photo))


def mapped_quad(corners: Sequence[Sequence[float]], to_photo: NDArray[np.float64]) -> Quad:
    """Four corners moved from a crop to the photo by a 2 x 3 affine map."""
    (a, b, c), (d, e, f) = to_photo.tolist()
    return _quad((a * x + b * y + c, d * x + e * y + f) for x, y in corners)


def middle(quad: Quad) -> tuple[float, float]:
    """The mean of the corners."""
    return sum(x for x, _ in quad) / 4, sum(y for _, y in quad) / 4


def reading_angle_deg(quad: Quad) -> float:
    """The direction from a symbol's left to its right, degrees, y down."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = quad
    return math.degrees(math.atan2(by + cy - ay - dy, bx + cx - ax - dx))


def _quad(corners: Any) -> Quad:
    """Four corners, clockwise as seen on the photo, from the symbol's own top left where the decoder tells it."""
    a, b, c, d = corners
    area = (c[0] - a[0]) * (d[1] - b[1]) - (d[0] - b[0]) * (c[1] - a[1])
    return (a, b, c, d) if area >= 0 else (b, a, d, c)
