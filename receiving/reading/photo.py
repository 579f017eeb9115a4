"""The cascade that reads one photo: the whole first, then only what stays unread, dearer looks last."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from receiving.model import ExpectedCode, PhotoReading, Quad, Symbol, UnreadRegion
from receiving.reading.acceptance import GS, MIN_SPARE, Proof, has_check, is_part_of, proof_of, same_text
from receiving.reading.advice import photo_advice
from receiving.reading.decoders import (
    CARTON_FORMATS,
    LINEAR,
    MATRIX,
    STACKED,
    Decoded,
    zxing_symbols,
)
from receiving.reading.grouping import as_decoded, bars_of_named_labels, label_numbers, names_carton
from receiving.reading.image import gray_photo
from receiving.reading.joined import told_apart
from receiving.reading.looks import Look, closer_looks, first_look, matrix_looks, second_look, with_quiet_zones
from receiving.reading.places import near, placed, region_of, same_bars
from receiving.reading.region import BarRegion, covers, is_printed
from receiving.reading.regions import bar_regions, matrix_regions
from receiving.reading.upright import upright_looks, whole_photo

if TYPE_CHECKING:
    from receiving.reading.image import Gray

LARGE_PX = 2_500_000
"""Photos above are searched for matrix codes place by place: on the whole it would take most of the time."""

MIN_ELEMENTS = 24
"""Light/dark changes that a region must have for the dearer looks: less is a word more often than a symbol."""

LINEAR_AGREEMENT = 0.9
"""Unread bars that run through as these do are linear: the photo is not searched for tilted stacked codes as well."""

MOST_COMPARED = 30
"""Unread regions a photo, the largest first, that are compared with what is expected; grilles and cloth have more."""

BUDGET_S = 6.0
"""CPU seconds a photo for all that comes after the look at the whole: then the rest is left to a closer photo."""

MOST_DOUBTFUL = 4
"""Refused texts a photo that get the third look, which takes about as long as reading a small photo."""


def read_photo(
    name: str, data: bytes, *, expected: Sequence[ExpectedCode] = (), budget_s: float = BUDGET_S
) -> PhotoReading:
    """All symbols on one photo; ``name`` is for messages, ``expected`` are the codes that may be in view.

    ``budget_s`` bounds the CPU time after the first look at the whole photo; what it leaves out is shown as unread.
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
    reading = _Cascade(gray, expected, budget_s)
    reading.run()
    symbols = tuple(reading.symbols())
    return PhotoReading(
        width_px=width,
        height_px=height,
        symbols=symbols,
        unread=tuple(UnreadRegion(region.quad()) for region in reading.unread),
        advice=photo_advice(gray, reading.unread, len(symbols)),
        refused=tuple(f"{a.symbology}{a.raw.replace(GS, '<GS>')} ({a.reader})" for a in reading.refused),
        ms=(time.perf_counter() - started) * 1000,
    )


class _Cascade:
    """What is believed, refused and unread on one photo while the looks go on."""

    def __init__(self, gray: Gray, expected: Sequence[ExpectedCode], budget_s: float) -> None:
        self.gray = gray
        self.budget_s = budget_s
        self.believed: list[Decoded] = []
        self.refused: list[Decoded] = []
        self.unread: list[BarRegion] = []
        self.guided: list[Symbol] = []
        self._expected = {_key(code): code for code in expected}

    def run(self) -> None:
        large = self.gray.size > LARGE_PX
        formats = (*LINEAR, "QRCode") if large else CARTON_FORMATS
        whole = zxing_symbols(self.gray, formats, invert=not large)
        for joined in sorted(whole, key=lambda a: -len(a.raw)):
            for answer in told_apart(self.gray, joined):
                self._weigh(answer)
        self._ends_s = time.thread_time() + self.budget_s
        self._read_regions(large)
        if not (self.believed or self._late() or any(r.agreement >= LINEAR_AGREEMENT for r in self.unread)):
            self._read_turned()
        self._compare_refused()
        self.unread = [r for r in self.unread if is_printed(self.gray, r)]
        self._leave_named_labels()
        self._compare_with_expected()
        self.unread = [r for r in self.unread if _looks_like_a_label(r) and not self._read_in(r)]

    def _late(self) -> bool:
        return time.thread_time() > self._ends_s

    def _read_regions(self, large: bool) -> None:
        for region in bar_regions(self.gray, [b.quad_px for b in self.believed]):
            if self._late():
                self.unread += [region] if region.is_bars else []
            elif not self._read_in(region):
                self._escalate(region)
        if large or not self.believed:
            for region in matrix_regions(self.gray, [b.quad_px for b in self.believed]):
                if self._late():
                    return
                self._read_matrix(region)
        if large and not self.believed:
            for answer in zxing_symbols(self.gray, STACKED + MATRIX):
                self._weigh(answer)

    def _leave_named_labels(self) -> None:
        """Bars of a label whose matrix code names the carton need no further look, and no closer photo."""
        named = [names_carton(b.raw) != "" or _key(b) in self._expected for b in self.believed]
        known = bars_of_named_labels(list(filter(_looks_like_a_label, self.unread)), self.believed, named)
        self.unread = [region for region in self.unread if region not in known]

    def _read_in(self, region: BarRegion) -> bool:
        return any(
            covers(quad, region) for quad in (*(b.quad_px for b in self.believed), *(g.quad_px for g in self.guided))
        )

    def _compare_refused(self) -> None:
        """A third look: draw the bars of a refused text, and believe it when no neighbouring text fits as well."""
        doubtful = [a for a in self.refused if a.linear and proof_of(a) is Proof.NEEDS_SECOND]
        for answer in doubtful[:MOST_DOUBTFUL]:
            from receiving.reading.guided import guided_symbols

            if self._late() or any(near(answer.quad_px, b.quad_px) for b in self.believed):
                continue
            code = ExpectedCode(answer.raw, answer.symbology)
            (fitted,) = guided_symbols(self.gray, [region_of(answer).quad()], [code])
            if fitted is not None and not fitted.alternatives:
                self._believe(replace(answer, quad_px=fitted.quad_px))

    def _compare_with_expected(self) -> None:
        """Hand what no decoder reads to guided reading, which knows what to look for."""
        if not self._expected:
            return
        from receiving.reading.guided import candidate_regions, guided_symbols

        quads = [r.quad() for r in self.unread[:MOST_COMPARED]]
        if not (self.believed or quads):
            quads = candidate_regions(self.gray)
        codes, levels = tuple(self._expected.values()), self.gray.astype("float32")
        for quad in quads:
            if self._late():
                return
            # One place at a time, so that what was found is kept when the time is over.
            (symbol,) = (None,) if self._shown(quad) else guided_symbols(levels, [quad], codes)
            if symbol is not None and not self._shown(symbol.quad_px):
                self.guided.append(symbol)

    def _shown(self, quad: Quad) -> bool:
        """True when the bars at this place were read already: one label is not two."""
        bars = (*(b.quad_px for b in self.believed if b.linear), *(g.quad_px for g in self.guided))
        return any(near(quad, other) for other in bars)

    def symbols(self) -> Iterator[Symbol]:
        numbers = label_numbers([*self.believed, *map(as_decoded, self.guided)])
        for answer, number in zip(self.believed, numbers, strict=False):
            code = self._expected.get(_key(answer))
            raw, symbology = (code.raw, code.symbology) if code else (answer.raw, answer.symbology)
            yield Symbol(raw, symbology, answer.quad_px, answer.reader, label=number)
        for symbol, number in zip(self.guided, numbers[len(self.believed) :], strict=True):
            yield replace(symbol, label=number)

    def _believe(self, answer: Decoded) -> bool:
        self.refused = [r for r in self.refused if not (same_text(r, answer) and near(r.quad_px, answer.quad_px))]
        if not any(same_text(b, answer) and near(b.quad_px, answer.quad_px) for b in self.believed):
            self.believed.append(answer)
        return True

    def _refuse(self, answer: Decoded) -> bool:
        if not any(same_text(r, answer) for r in (*self.refused, *self.believed)):
            self.refused.append(answer)
        return False

    def _weigh(self, answer: Decoded) -> bool:
        """Believe an answer from the whole photo when it proves itself, is expected, or a second look agrees."""
        if any(is_part_of(answer, other) and same_bars(answer, other) for other in (*self.believed, *self.refused)):
            return self._refuse(answer)
        if self._sure(answer) or (proof_of(answer) is Proof.NEEDS_SECOND and self._confirmed(answer)):
            return self._believe(answer)
        return self._refuse(answer)

    def _sure(self, answer: Decoded) -> bool:
        return proof_of(answer) is Proof.OWN or _key(answer) in self._expected

    def _confirmed(self, answer: Decoded) -> bool:
        region = region_of(answer)
        if not answer.linear:
            seen = (other for look in matrix_looks(self.gray, region) for other in look.matrix())
            return any(same_text(answer, other) and other.spare >= MIN_SPARE for other in seen)
        look = second_look(self.gray, region)
        if answer.format == "ITF" and not (look.is_square() and look.ends_free()):
            return False
        return _strips_agree(answer, look) or any(same_text(answer, other) for other in look.zbar())

    def _escalate(self, region: BarRegion) -> None:
        if region.is_bars and self._read_bars(region):
            return
        if region.alternations >= 20 and region.agreement < 0.9:
            # Rows of short bars: a stacked symbol, which zxing-cpp reads only when it stands upright.
            found = [a for a in next(matrix_looks(self.gray, region)).zxing(STACKED) if self._sure(a)]
            for answer in found:
                self._believe(answer)
            if found:
                return
        if region.is_bars:
            self.unread.append(region)

    def _read_matrix(self, region: BarRegion) -> bool:
        for look in matrix_looks(self.gray, region):
            found = [answer for answer in look.matrix() if self._sure(answer)]
            for answer in found:
                self._believe(answer)
            if found:
                return True
        return False

    def _read_turned(self) -> None:
        """Stacked and matrix codes of few pixels a module, which zxing-cpp reads only when they stand upright."""
        for look in upright_looks(self.gray, whole_photo(self.gray)):
            found = [answer for answer in look.matrix(downscale=True) if self._sure(answer)]
            for answer in found:
                self._believe(answer)
            if found or self._late():
                return

    def _read_bars(self, region: BarRegion) -> bool:
        for plain, look in self._looks(region):
            seen: tuple[Decoded, ...] = ()
            for decode in (look.zxing, look.zbar):
                # A decoder tells only where its scan lines ran, ZBar often a single point: the region is known better.
                seen = (*seen, *(placed(answer, region) for answer in decode()))
                good = [a for a in seen if self._sure(a) or ((plain or has_check(a)) and self._agreed(a, seen, look))]
                for answer in good:
                    self._believe(answer)
                if good:
                    return True
            for answer in seen:
                self._refuse(answer)
        return False

    def _looks(self, region: BarRegion) -> Iterator[tuple[bool, Look]]:
        """Looks, each with whether the pixels are as the camera gave them: what has no check is believed only then."""
        yield True, first_look(self.gray, region)
        yield True, with_quiet_zones(self.gray, region)
        if region.alternations >= MIN_ELEMENTS and region.agreement >= 0.7:
            for look in closer_looks(self.gray, region):
                yield False, look

    def _agreed(self, answer: Decoded, answers: Sequence[Decoded], look: Look) -> bool:
        if proof_of(answer) is not Proof.NEEDS_SECOND or answer.reader == "zbar":
            return False
        if answer.format == "ITF" and not look.ends_free():
            return False
        if any(same_text(answer, other) and other.reader != answer.reader for other in answers):
            return True
        return _strips_agree(answer, look)


def _looks_like_a_label(region: BarRegion) -> bool:
    """True for bars worth going back for; blur leaves fewer changes, but straighter ones than any print."""
    return region.alternations >= MIN_ELEMENTS or (
        region.agreement >= 0.9 and region.height_px > 0.2 * region.length_px
    )


def _key(code: Decoded | ExpectedCode) -> tuple[str, str]:
    """Symbology and text to compare by: ZBar drops FNC1, and an UPC-A is an EAN-13 with a leading zero."""
    text = code.raw.replace(GS, "")
    return code.symbology[:2], text.zfill(13) if code.symbology == "]E0" else text


def _strips_agree(answer: Decoded, look: Look) -> bool:
    """True when two strips that share no pixels read the same, and none reads anything else."""
    agreed = 0
    for strip in look.strips():
        found = strip.zxing((answer.format,))
        if not all(same_text(answer, other) for other in found):
            return False
        agreed += bool(found)
        if agreed == 2:
            return True
    return False
