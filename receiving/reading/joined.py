"""Equal symbols above each other, which zxing-cpp gives as one answer, told apart: two labels are not one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.decoders import Decoded
from receiving.reading.places import region_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from receiving.reading.image import Gray

VIEW_PX, MIN_VIEW_ROWS = 160, 56
"""Width at which an answer is looked at, and the height below which it is one symbol: bars a seventh as high as they
are long, twice, with clear paper between."""

ALIKE, LIVELY = 0.6, 0.4
"""A row shows the bars when it resembles the mean row so far, with so much of the usual contrast."""

MIN_GAP, MAX_UNEVEN = 0.05, 1.3
"""Ground between two labels, in lengths of the symbol, and how much equal prints may differ in height: glare, tape or
a crease across one symbol is thinner, or does not cut it in halves."""

Span = tuple[float, float]


def split_joined(gray: Gray, answer: Decoded) -> tuple[Decoded, ...]:
    """The answer, or one for each of the equal symbols that stand above each other between its corners."""
    region = region_of(answer)
    rows = round(region.height_px * VIEW_PX / region.length_px)
    if not answer.linear or not MIN_VIEW_ROWS <= rows <= 8 * VIEW_PX:
        return (answer,)
    spans = _barred(_upright(gray, answer.quad_px, rows))
    heights = [end - start for start, end in spans]
    if len(spans) < 2 or max(heights) > MAX_UNEVEN * min(heights):
        return (answer,)
    return tuple(replace(answer, quad_px=_part(answer.quad_px, start / rows, end / rows)) for start, end in spans)


def _upright(gray: Gray, quad: Quad, rows: int) -> NDArray[np.float32]:
    target = np.array([[0, 0], [VIEW_PX, 0], [VIEW_PX, rows], [0, rows]], np.float32)
    turn = cv2.getPerspectiveTransform(np.array(quad, np.float32), target)
    return cv2.warpPerspective(gray, turn, (VIEW_PX, rows), flags=cv2.INTER_LINEAR).astype(np.float32)


def _barred(view: NDArray[np.float32]) -> list[Span]:
    """First and last row (excluded) of each block of rows that show the bars, with clear paper between blocks."""
    view = view - view.mean(1, keepdims=True)
    mean = view.mean(0)
    size = np.linalg.norm(view, axis=1)
    alike = view @ mean / (size * float(np.linalg.norm(mean)) + 1e-6)
    shown = (alike > ALIKE) & (size > LIVELY * np.sort(size)[3 * len(size) // 4])
    edges = np.flatnonzero(np.diff(np.r_[False, shown, False].astype(np.int8))).tolist()
    spans: list[Span] = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if spans and start - spans[-1][1] < MIN_GAP * VIEW_PX:
            spans[-1] = (spans[-1][0], end)
        else:
            spans.append((start, end))
    return spans


def _part(quad: Quad, start: float, end: float) -> Quad:
    """The quad between two shares of its height."""
    a, b, c, d = quad

    def between(top: tuple[float, float], bottom: tuple[float, float], share: float) -> tuple[float, float]:
        return (top[0] + share * (bottom[0] - top[0]), top[1] + share * (bottom[1] - top[1]))

    return (between(a, d, start), between(b, c, start), between(b, c, end), between(a, d, end))
