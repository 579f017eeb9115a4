"""Reading one photo: the whole first, then only what stays unread, more expensive attempts last."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

from receiving.model import ExpectedCode, PhotoReading, UnreadRegion
from receiving.reading.acceptance import GS
from receiving.reading.advice import photo_advice
from receiving.reading.cascade import Cascade
from receiving.reading.comparison import compare_expected, compare_refused
from receiving.reading.image import gray_photo
from receiving.reading.region import BarRegion, is_printed, looks_like_a_label
from receiving.reading.seen import Seen

if TYPE_CHECKING:
    from receiving.reading.image import Gray

BUDGET_S = 6.0
"""CPU seconds a photo for all that comes after the attempt at the whole: then the rest is left to a closer photo."""


def read_photo(
    name: str, data: bytes, *, expected: Sequence[ExpectedCode] = (), budget_s: float = BUDGET_S
) -> PhotoReading:
    """All symbols on one photo; ``name`` is for messages, ``expected`` are the codes that may be in view.

    ``budget_s`` bounds the CPU time after the first attempt at the whole photo; what it leaves out is shown as unread.
    Raises NotAPhoto, PhotoTooLarge. An unread or doubtful label is a result: see `PhotoReading.unread`, `.refused`.
    """
    started = time.perf_counter()
    return read_gray(gray_photo(name, data), expected, started, budget_s)


def read_gray(
    gray: Gray, expected: Sequence[ExpectedCode] = (), started: float = 0.0, budget_s: float = BUDGET_S
) -> PhotoReading:
    """All symbols on gray levels, shape (height, width), as `read_photo`."""
    started = started or time.perf_counter()
    height, width = gray.shape
    seen = Seen(expected)
    unread = _read(gray, seen, budget_s)
    symbols = tuple(seen.symbols())
    return PhotoReading(
        width_px=width,
        height_px=height,
        symbols=symbols,
        unread=tuple(UnreadRegion(region.quad()) for region in unread),
        advice=photo_advice(gray, unread, len(symbols)),
        refused=tuple(f"{a.symbology}{a.raw.replace(GS, '<GS>')} ({a.reader})" for a in seen.refused),
        ms=(time.perf_counter() - started) * 1000,
    )


def _read(gray: Gray, seen: Seen, budget_s: float) -> tuple[BarRegion, ...]:
    """Fill ``seen``; the places that look like a label and were not read are left."""
    attempts = Cascade(gray, seen)
    attempts.at_whole()
    ends_s = time.thread_time() + budget_s

    def late() -> bool:
        return time.thread_time() > ends_s

    bars = attempts.at_places(late)
    compare_refused(gray, seen, late)
    bars = [region for region in bars if looks_like_a_label(region) and is_printed(gray, region)]
    named = seen.beside_named_matrix(bars)
    bars = [region for region in bars if region not in named and not seen.has_read(region)]
    compare_expected(gray, seen, bars, late)
    return tuple(region for region in bars if not seen.has_read(region))
