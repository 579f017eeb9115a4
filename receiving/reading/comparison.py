"""The step to guided reading: what no decoder reads, or reads without proof, is compared with what it may be."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from receiving.model import ExpectedCode, Quad
from receiving.reading.acceptance import Proof, proof_of
from receiving.reading.guided import candidate_regions, guided_matrix, guided_symbols
from receiving.reading.places import near, region_of
from receiving.reading.region import BarRegion
from receiving.reading.seen import Seen
from receiving.reading.upright import upright_places

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
        if late() or any(near(answer.quad_px, b.quad_px) for b in seen.believed):
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
        if symbol is not None and not any(near(symbol.quad_px, quad) for quad in seen.quads):
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
