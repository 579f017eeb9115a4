"""One sentence of advice per photo: why labels on it may not be readable, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from receiving.model import PHOTO_ADVICE
from receiving.reading.region import BarRegion, bar_crop

if TYPE_CHECKING:
    from receiving.reading.image import Gray

DARK, GLARE = 45, 250
"""Gray levels: the lighter tenth of a dark photo stays below the one, burnt-out paper above the other."""

GLARE_SHARE = 0.25
SMALL_ELEMENT_PX = 2.2
"""Mean width of a bar or space under which a module is about one pixel: less than decoders need."""

BLURRED_EDGE = 0.22
"""Steepest step between two pixels, as a share of the contrast, that a blurred edge stays below."""


def photo_advice(gray: Gray, unread: Sequence[BarRegion], read: int) -> str:
    """One sentence for the person with the camera; empty when nothing stayed unread or the photo looks fine.

    ``unread`` are the bar regions that no attempt could read, ``read`` is the number of symbols that were.
    """
    if not unread:
        return "" if read else _without_bars(gray)
    faults = [region_fault(gray, region) for region in unread]
    fault = max(set(faults), key=faults.count)
    return str(PHOTO_ADVICE[fault])


def region_fault(gray: Gray, region: BarRegion) -> str:
    """What is most likely wrong with an unread region: ``dark``, ``glare``, ``small``, ``blurred`` or ''."""
    crop, _ = bar_crop(gray, region, scale=1.0, margin_length=0, margin_height=-region.height_px / 10)
    low, high = np.percentile(crop, (5, 95))
    if high < DARK:
        return "dark"
    if float((crop >= GLARE).mean()) > GLARE_SHARE and _burnt_columns(crop) > 0.1:
        return "glare"
    if region.length_px / max(region.alternations, 1) < SMALL_ELEMENT_PX:
        return "small"
    profile = crop[crop.shape[0] // 3 : -(crop.shape[0] // 3) or None].mean(0, dtype=np.float32)
    steepest = float(np.sort(np.abs(np.diff(profile)))[-max(2, len(profile) // 20)])
    return "blurred" if steepest < BLURRED_EDGE * float(high - low) else ""


def _burnt_columns(crop: Gray) -> float:
    """Share of the width in which a run wider than any space is burnt out from top to bottom."""
    burnt = (crop >= GLARE).mean(0) > 0.9
    edges = np.flatnonzero(np.diff(np.r_[False, burnt, False].astype(np.int8)))
    runs = edges[1::2] - edges[::2]
    return float(runs.max() / len(burnt)) if len(runs) else 0.0


def _without_bars(gray: Gray) -> str:
    sample = gray[:: max(1, gray.shape[0] // 200), :: max(1, gray.shape[1] // 200)]
    if float(np.percentile(sample, 90)) < DARK:
        return str(PHOTO_ADVICE["all dark"])
    return str(PHOTO_ADVICE["no label"])
