"""Reading one photo: the whole first, then only what stays unread, more expensive attempts last.

The last is guided reading: what no decoder reads, or reads without proof, is compared with what it may be. One sentence
of advice says why labels may not be readable, and what to do about it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from receiving.model import PHOTO_ADVICE, ExpectedCode, PhotoReading, Quad, UnreadRegion
from receiving.reading.acceptance import GS, Proof, Seen, proof_of
from receiving.reading.cascade import Cascade
from receiving.reading.guided import candidate_regions, guided_matrix, guided_symbols
from receiving.reading.image import gray_photo
from receiving.reading.region import BarRegion, bar_crop, is_near, is_printed, looks_like_a_label, region_of
from receiving.reading.upright import upright_places

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


if TYPE_CHECKING:
    from receiving.reading.image import Gray

MOST_COMPARED = 30
"""Unread regions a photo, the largest first, that are compared with what is expected; grilles and cloth have more."""

MOST_MATRICES = 4
"""Places of a photo that gave nothing, the largest first, that are compared with expected Data Matrix symbols."""

MOST_DOUBTFUL = 4
"""Refused texts a photo that get the third attempt, which takes about as long as reading a small photo."""


def compare_refused(gray: Gray, seen: Seen, late: Callable[[], bool]) -> None:
    """A third attempt: draw the bars of a refused text, and believe it when no neighbouring text fits as well."""
    doubtful = [a for a in seen.refused if a.linear and proof_of(a) is Proof.NEEDS_SECOND]
    for answer in doubtful[:MOST_DOUBTFUL]:
        if late() or any(is_near(answer.quad_px, b.quad_px) for b in seen.believed):
            continue
        code = ExpectedCode(answer.raw, answer.symbology)
        (fitted,) = guided_symbols(gray, [region_of(answer).quad()], [code])
        if fitted is not None and not fitted.alternatives:
            seen.believe(replace(answer, quad_px=fitted.quad_px))


def compare_expected(gray: Gray, seen: Seen, unread: Sequence[BarRegion], late: Callable[[], bool]) -> None:
    """Compare what no decoder reads with what is expected; on a photo that gave nothing, any place that is striped."""
    if not seen.expected:
        return
    levels = gray.astype("float32")
    places = [region.quad() for region in unread[:MOST_COMPARED]]
    _compare(levels, seen, places, late)
    if not seen.quads:
        _compare_matrices(gray, seen, late)
    if not seen.quads:
        _compare(levels, seen, candidate_regions(gray, places), late)


def _compare_matrices(gray: Gray, seen: Seen, late: Callable[[], bool]) -> None:
    for place in upright_places(gray)[:MOST_MATRICES]:
        if late():
            return
        symbol = guided_matrix(gray, place, seen.expected)
        if symbol is not None and not any(is_near(symbol.quad_px, quad) for quad in seen.quads):
            seen.guided.append(symbol)


def _compare(levels: Gray, seen: Seen, quads: Sequence[Quad], late: Callable[[], bool]) -> None:
    """One place at a time, so that what was found is kept when the time is over."""
    for quad in quads:
        if late():
            return
        if not seen.has_read_bars(quad):
            (symbol,) = guided_symbols(levels, [quad], seen.expected)
            if symbol is not None and not seen.has_read_bars(symbol.quad_px):
                seen.guided.append(symbol)


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
