"""The edge to optical character recognition, for labels whose symbol is gone: lines of print to suggest from.

An optional extra (RapidOCR on ONNX Runtime, models in its wheel). What it reads is never taken for true: a person
confirms it; see `printed_text` for what the lines may say.
"""

from __future__ import annotations

import functools
import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2

from receiving.errors import MissingLibrary
from receiving.messages import message
from receiving.model import Quad
from receiving.reading.decoders import middle, reading_angle_deg
from receiving.reading.image import gray_photo
from receiving.reading.printed_text import ocr_available
from receiving.reading.region import BarRegion, bar_crop

if TYPE_CHECKING:
    from receiving.reading.image import Gray

MAX_SIDE_PX = 1600
LABEL_LENGTHS, LABEL_HEIGHTS = 1.4, 1.5
"""How far a label reaches around its bars: across in lengths, and up and down in lengths too (a 4 x 6 inch label)."""

MOST_REGIONS = 8


@dataclass(frozen=True)
class PrintedLine:
    """One printed line: its text, where it stands in pixels of the upright photo, and how sure the recogniser is."""

    text: str
    quad_px: Quad
    confidence: float


def printed_lines(name: str, data: bytes, regions: Sequence[Quad] = ()) -> tuple[PrintedLine, ...]:
    """The printed lines around ``regions`` (unread bars) of a photo, or on all of it, top to bottom as recognised.

    Raises MissingLibrary when the extra is not installed, NotAPhoto and PhotoTooLarge as `read_photo`.
    """
    if not ocr_available():
        raise MissingLibrary(
            message(
                "Reading printed text needs the optional libraries rapidocr and onnxruntime, which are not installed."
            ),
            next_step=message('Install them with: pip install "shipment-receiving[ocr]", or type what the label says.'),
        )
    gray = gray_photo(name, data)
    return tuple(line for crop, to_photo in _crops(gray, regions) for line in _lines(crop, to_photo))


def _crops(gray: Gray, regions: Sequence[Quad]) -> Iterator[tuple[Gray, Any]]:
    """Each label turned upright, with the 2 x 3 map to photo pixels."""
    height, width = gray.shape
    places = [_label_around(quad) for quad in regions[:MOST_REGIONS]]
    for place in places or [BarRegion(width / 2 - 0.5, height / 2 - 0.5, 0.0, width, height)]:
        scale = min(1.0, MAX_SIDE_PX / max(place.length_px, place.height_px))
        yield bar_crop(gray, place, scale=scale, margin_length=0, margin_height=0)


def _label_around(quad: Quad) -> Any:
    (ax, ay), (bx, by), _, _ = quad
    length = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
    return BarRegion(*middle(quad), reading_angle_deg(quad), LABEL_LENGTHS * length, 2 * LABEL_HEIGHTS * length)


@functools.cache
def _recogniser() -> Any:
    from rapidocr import RapidOCR

    logging.getLogger("RapidOCR").setLevel(logging.ERROR)  # it tells of every model that it loads
    return RapidOCR()


def _lines(crop: Gray, to_photo: Any) -> Iterator[PrintedLine]:
    found = _recogniser()(cv2.cvtColor(crop, cv2.COLOR_GRAY2BGR))
    if found.txts is None:
        return
    (a, b, c), (d, e, f) = to_photo.tolist()
    for text, score, box in zip(found.txts, found.scores, found.boxes, strict=True):
        p, q, r, s = ((a * x + b * y + c, d * x + e * y + f) for x, y in box.tolist())
        yield PrintedLine(str(text), (p, q, r, s), float(score))
