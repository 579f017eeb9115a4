"""Attempts at one place of a photo: upright, enlarged, averaged along its bars; each more expensive than the last."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.reading.decoders import LINEAR, MATRIX, STACKED, Decoded, map_to_photo, zbar_symbols, zxing_symbols
from receiving.reading.region import BarRegion, bar_crop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

ELEMENT_PX = 5.0
"""Mean width of a bar or space in a crop: about 2.5 pixels a module, where both decoders read best."""

QUIET_ELEMENTS = 8.0
"""Ground left and right of the bars, in mean elements: more than the 10 modules of ISO/IEC 15417."""

SECOND_ATTEMPT_PX = 64

MOST_EDGES_BESIDE = 2
"""Light/dark changes that the quiet zone beside a symbol may have: a label's edge and the carton's, no bars."""

MOST_SKEW_DEG = 5
"""Bars of usual height are crossed from end to end up to this angle."""

MATRIX_ATTEMPT_PX = 400
"""Longer side up to which a crop of a matrix code is also looked at twice as large."""

STRIPS_AT, STRIP_PX = (0.5, 0.3, 0.7), 10
"""Where along the bars the strips of a second attempt lie, and how thick they are, pixels of the crop."""


@dataclass(frozen=True)
class Attempt:
    """A crop with its bars upright, and the 2 x 3 map from it to photo pixels."""

    gray: Gray
    to_photo: NDArray[np.float64]

    def matrix(self, *, invert: bool = True) -> tuple[Decoded, ...]:
        """zxing-cpp's answers in stacked and matrix codes, turned ones too, corners in photo pixels."""
        found = zxing_symbols(self.gray, STACKED + MATRIX, downscale=False, invert=invert)
        return tuple(map_to_photo(answer, self.to_photo) for answer in found)

    def zxing(self, formats: tuple[str, ...] = LINEAR) -> tuple[Decoded, ...]:
        """zxing-cpp's answers, corners in photo pixels."""
        found = zxing_symbols(self.gray, formats, rotate=False, downscale=False, invert=False)
        return tuple(map_to_photo(answer, self.to_photo) for answer in found)

    def zbar(self) -> tuple[Decoded, ...]:
        """ZBar's answers, corners in photo pixels."""
        return tuple(map_to_photo(answer, self.to_photo) for answer in zbar_symbols(self.gray))

    def ends_free(self) -> bool:
        """True when no further bars stand left or right of the bars: then they are a whole symbol, not a part."""
        third = self.gray.shape[0] // 3
        profile = self.gray[third : -third or None].mean(0, dtype=np.float32)
        quiet_zone = int(QUIET_ELEMENTS * ELEMENT_PX)
        bars = profile[quiet_zone:-quiet_zone]
        if len(bars) < quiet_zone:
            return False
        dark, light = np.sort(bars)[[len(bars) // 10, -len(bars) // 10]]
        sides = [part > (dark + light) / 2 for part in (profile[: quiet_zone - 4], profile[4 - quiet_zone :])]
        return max(int(np.count_nonzero(side[1:] != side[:-1])) for side in sides) <= MOST_EDGES_BESIDE

    def is_square(self) -> bool:
        """True when the bars stand upright in the attempt: a line askew leaves the bars before their end."""
        dx, dy = (cv2.Sobel(self.gray, cv2.CV_32F, *axes) for axes in ((1, 0), (0, 1)))
        turn = 0.5 * np.arctan2(2 * float((dx * dy).sum()), float((dx * dx).sum() - (dy * dy).sum()))
        return abs(float(np.degrees(turn))) < MOST_SKEW_DEG

    def strips(self) -> Iterator[Attempt]:
        """Thin strips across the bars that share no row of pixels."""
        height = self.gray.shape[0]
        thick = min(STRIP_PX, height // len(STRIPS_AT))
        for place in STRIPS_AT if thick else ():
            top = int(place * height - thick / 2)
            shift = self.to_photo.copy()
            shift[:, 2] += self.to_photo[:, 1] * top
            yield Attempt(np.ascontiguousarray(self.gray[top : top + thick]), shift)


def first_attempt(gray: Gray, region: BarRegion) -> Attempt:
    """The region upright, at a size at which decoders are at their best."""
    element = _element_px(region)
    return Attempt(
        *bar_crop(
            gray,
            region,
            scale=min(3.0, max(0.5, ELEMENT_PX / element)),
            margin_length=QUIET_ELEMENTS * element,
            margin_height=0.0,
        )
    )


def second_attempt(gray: Gray, region: BarRegion) -> Attempt:
    """The middle of the region upright: rows enough for strips that share none, no more, as most photos need it."""
    element = _element_px(region)
    scale = min(3.0, max(0.5, ELEMENT_PX / element))
    spare = max(0.0, region.height_px / 2 - SECOND_ATTEMPT_PX / 2 / scale)
    quiet_zone = QUIET_ELEMENTS * element
    return Attempt(*bar_crop(gray, region, scale=scale, margin_length=quiet_zone, margin_height=-spare))


def with_quiet_zones(gray: Gray, region: BarRegion) -> Attempt:
    """The bars between strips of paper white, for labels cut or printed without their quiet zones."""
    element = _element_px(region)
    scale = min(3.0, max(0.5, ELEMENT_PX / element))
    crop, to_photo = bar_crop(
        gray, region, scale=scale, margin_length=1.5 * element, margin_height=-0.1 * region.height_px
    )
    paper = int(np.sort(crop, axis=None)[int(0.9 * crop.size)])
    quiet_zone = int(QUIET_ELEMENTS * ELEMENT_PX)
    wide = cv2.copyMakeBorder(crop, 0, 0, quiet_zone, quiet_zone, cv2.BORDER_CONSTANT, value=paper)
    shift = to_photo.copy()
    shift[:, 2] -= to_photo[:, 0] * quiet_zone
    return Attempt(wide, shift)


def closer_attempts(gray: Gray, region: BarRegion) -> Iterator[Attempt]:
    """The region larger and with a wider quiet zone, sharpened, and its rows averaged."""
    element = _element_px(region)
    crop, to_photo = bar_crop(
        gray,
        region,
        scale=min(5.0, max(1.0, 1.6 * ELEMENT_PX / element)),
        margin_length=2 * QUIET_ELEMENTS * element,
        margin_height=2 * element,
    )
    yield Attempt(crop, to_photo)
    soft = cv2.GaussianBlur(crop, (0, 0), 3)
    yield Attempt(cv2.addWeighted(crop, 2.5, soft, -1.5, 0), to_photo)
    yield from _averaged(crop, to_photo)


def _averaged(crop: Gray, to_photo: NDArray[np.float64]) -> Iterator[Attempt]:
    """Rows averaged over the middle, the upper and the lower part: noise and print across the bars go, bars stay."""
    height = crop.shape[0]
    for top, bottom in ((0.25, 0.75), (0.1, 0.45), (0.55, 0.9)):
        row = crop[int(top * height) : max(int(bottom * height), int(top * height) + 1)].mean(0, dtype=np.float32)
        row = 3.0 * row - 2.0 * cv2.GaussianBlur(row[None], (0, 0), 3)[0]
        low, high = np.percentile(row, (2, 98))
        row = np.clip((row - low) * 255 / max(float(high - low), 1.0), 0, 255)
        shift = to_photo.copy()
        shift[:, 2] += to_photo[:, 1] * (top + bottom) / 2 * height - to_photo[:, 1] * 12
        yield Attempt(np.repeat(row.astype(np.uint8)[None], 24, axis=0), shift)


def matrix_attempts(gray: Gray, region: BarRegion) -> Iterator[Attempt]:
    """The region of a stacked or matrix code upright with a quiet zone around it, as it is and twice as large."""
    quiet_zone = max(16.0, 0.12 * max(region.length_px, region.height_px))
    longest = max(region.length_px, region.height_px) + 2 * quiet_zone
    crop, to_photo = bar_crop(gray, region, scale=1.0, margin_length=quiet_zone, margin_height=quiet_zone)
    yield Attempt(crop, to_photo)
    if longest > MATRIX_ATTEMPT_PX:
        return
    crop, to_photo = bar_crop(gray, region, scale=2.0, margin_length=quiet_zone, margin_height=quiet_zone)
    yield Attempt(crop, to_photo)
    yield Attempt(cv2.GaussianBlur(crop, (0, 0), 1.5), to_photo)


def _element_px(region: BarRegion) -> float:
    """Mean width of a bar or space, photo pixels."""
    return max(1.0, region.length_px / max(region.alternations, 1))
