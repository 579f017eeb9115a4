"""The attempts of decoders at one photo: at the whole, then at each place that stays unread, the cheapest first.

Equal symbols above each other, which zxing-cpp gives as one answer, are told apart: two labels are not one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from receiving.model import Quad
from receiving.reading.acceptance import MIN_SPARE, Proof, Seen, is_agreed, proof_of, same_text, strips_agree
from receiving.reading.attempts import (
    Attempt,
    closer_attempts,
    first_attempt,
    matrix_attempts,
    second_attempt,
    with_quiet_zones,
)
from receiving.reading.bullseye import carrier_symbols
from receiving.reading.decoders import CARTON_FORMATS, LINEAR, MATRIX, STACKED, Decoded, zxing_symbols
from receiving.reading.region import MIN_ELEMENTS, BarRegion, place_at_region, region_of
from receiving.reading.regions import bar_regions, matrix_regions
from receiving.reading.upright import upright_attempts, upright_places

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


if TYPE_CHECKING:
    from receiving.reading.image import Gray

LARGE_PX = 2_500_000
"""Photos above are searched for matrix codes place by place: on the whole it would take most of the time."""


class Cascade:
    """Attempts at one photo of gray levels (height, width); what they give goes to ``seen``."""

    def __init__(self, gray: Gray, seen: Seen) -> None:
        self.gray = gray
        self.seen = seen
        self._large = gray.size > LARGE_PX

    def at_whole(self) -> None:
        """One attempt at the whole photo; at its negative, for light codes on dark, only when that gives nothing."""
        formats = (*LINEAR, "QRCode") if self._large else CARTON_FORMATS
        self._weigh_all(zxing_symbols(self.gray, formats, invert=False))
        if not (self._large or self.seen.believed):
            self._weigh_all(zxing_symbols(~self.gray, MATRIX, invert=False))

    def at_places(self, late: Callable[[], bool]) -> list[BarRegion]:
        """Attempts at all places that the attempt at the whole left unread; the bars that stay unread are returned."""
        regions = bar_regions(self.gray, self.seen.quads)
        unread = [region for region in regions if self._stays_unread(region, late) and region.is_bars]
        if self._large:
            self._at_matrix_places(late)
        if self._large and not self.seen.believed:
            for answer in zxing_symbols(self.gray, STACKED + MATRIX):
                self._weigh(answer)
        if not self.seen.believed:
            self._at_upright_places(late)
        for answer in carrier_symbols(self.gray, late):
            self.seen.believe_sure((answer,))
        return unread

    def _weigh_all(self, whole: Sequence[Decoded]) -> None:
        for joined in sorted(whole, key=lambda a: -len(a.raw)):
            for answer in split_joined(self.gray, joined):
                self._weigh(answer)

    def _weigh(self, answer: Decoded) -> None:
        """Believe an answer from the whole photo when it proves itself, is expected, or a second attempt agrees."""
        proven = self.seen.sure(answer) or (proof_of(answer) is Proof.NEEDS_SECOND and self._confirmed(answer))
        if proven and not self.seen.is_scrap(answer):
            self.seen.believe(answer)
        else:
            self.seen.refuse(answer)

    def _confirmed(self, answer: Decoded) -> bool:
        region = region_of(answer)
        if not answer.linear:
            found = (other for attempt in matrix_attempts(self.gray, region) for other in attempt.matrix())
            return any(same_text(answer, other) and other.spare >= MIN_SPARE for other in found)
        attempt = second_attempt(self.gray, region)
        if answer.format == "ITF" and not (attempt.is_square() and attempt.ends_free()):
            return False
        return strips_agree(answer, attempt) or any(same_text(answer, other) for other in attempt.zbar())

    def _stays_unread(self, region: BarRegion, late: Callable[[], bool]) -> bool:
        if self.seen.has_read(region):
            return False
        return late() or not ((region.is_bars and self._read_bars(region)) or self._read_rows(region))

    def _read_rows(self, region: BarRegion) -> bool:
        """Rows of short bars: a stacked symbol, which zxing-cpp reads only when it stands upright."""
        is_rows = region.alternations >= 20 and region.agreement < 0.9
        return is_rows and self.seen.believe_sure(next(matrix_attempts(self.gray, region)).zxing(STACKED))

    def _read_bars(self, region: BarRegion) -> bool:
        for plain, attempt in self._bar_attempts(region):
            answers: tuple[Decoded, ...] = ()
            for decode in (attempt.zxing, attempt.zbar):
                # A decoder tells only where its scan lines ran, ZBar often a single point: the region is known better.
                answers = (*answers, *(place_at_region(answer, region) for answer in decode()))
                good = [a for a in answers if self.seen.sure(a) or is_agreed(a, answers, attempt, plain=plain)]
                for answer in good:
                    self.seen.believe(answer)
                if good:
                    return True
            for answer in answers:
                self.seen.refuse(answer)
        return False

    def _bar_attempts(self, region: BarRegion) -> Iterator[tuple[bool, Attempt]]:
        """Looks, each with whether the pixels are as the camera gave them."""
        yield True, first_attempt(self.gray, region)
        yield True, with_quiet_zones(self.gray, region)
        if region.alternations >= MIN_ELEMENTS and region.agreement >= 0.7:
            for attempt in closer_attempts(self.gray, region):
                yield False, attempt

    def _at_matrix_places(self, late: Callable[[], bool]) -> None:
        for region in matrix_regions(self.gray, self.seen.quads):
            if late():
                return
            any(self.seen.believe_sure(attempt.matrix()) for attempt in matrix_attempts(self.gray, region))

    def _at_upright_places(self, late: Callable[[], bool]) -> None:
        """Stacked and matrix codes that are askew or of few pixels a module, which zxing-cpp reads upright only."""
        for place in upright_places(self.gray):
            if late():
                return
            any(self.seen.believe_sure(attempt.matrix(invert=False)) for attempt in upright_attempts(self.gray, place))
