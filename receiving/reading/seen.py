"""What is believed and what is refused on one photo while its attempts go on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from receiving.model import ExpectedCode, Quad, Symbol
from receiving.reading.acceptance import GS, Proof, has_check, is_part_of, is_sscc_alone, proof_of, same_text
from receiving.reading.attempts import Attempt
from receiving.reading.decoders import Decoded
from receiving.reading.grouping import as_decoded, bars_of_named_labels, label_numbers, names_carton
from receiving.reading.places import near, same_bars
from receiving.reading.region import BarRegion, covers


class Seen:
    """Answers of decoders that are believed or refused, and guided symbols, on one photo; ``expected`` may be on it."""

    def __init__(self, expected: Sequence[ExpectedCode]) -> None:
        self.believed: list[Decoded] = []
        self.refused: list[Decoded] = []
        self.guided: list[Symbol] = []
        self._expected = {_key(code): code for code in expected}

    @property
    def expected(self) -> tuple[ExpectedCode, ...]:
        """The codes that may be on the photo, each once."""
        return tuple(self._expected.values())

    @property
    def quads(self) -> list[Quad]:
        """Where all that was read stands."""
        return [*(b.quad_px for b in self.believed), *(g.quad_px for g in self.guided)]

    def sure(self, answer: Decoded) -> bool:
        """True for an answer that proves itself or is expected."""
        return proof_of(answer) is Proof.OWN or _key(answer) in self._expected

    def is_scrap(self, answer: Decoded) -> bool:
        """True for a part of a longer answer on the same bars."""
        return any(is_part_of(answer, other) and same_bars(answer, other) for other in (*self.believed, *self.refused))

    def believe(self, answer: Decoded) -> None:
        """Take the answer for what is printed; one place carries a text once."""
        self.refused = [r for r in self.refused if not (same_text(r, answer) and near(r.quad_px, answer.quad_px))]
        if not any(same_text(b, answer) and near(b.quad_px, answer.quad_px) for b in self.believed):
            self.believed.append(answer)

    def believe_sure(self, answers: Sequence[Decoded]) -> bool:
        """Believe those that prove themselves or are expected; True when there are any."""
        found = [answer for answer in answers if self.sure(answer)]
        for answer in found:
            self.believe(answer)
        return bool(found)

    def refuse(self, answer: Decoded) -> None:
        """Keep the answer as one that was not believed, each text once."""
        if not any(same_text(r, answer) for r in (*self.refused, *self.believed)):
            self.refused.append(answer)

    def has_read(self, region: BarRegion) -> bool:
        """True when a symbol was read in the region."""
        return any(covers(quad, region) for quad in self.quads)

    def has_read_bars(self, quad: Quad) -> bool:
        """True when the bars at this place were read already: one label is not two."""
        bars = (*(b.quad_px for b in self.believed if b.linear), *(g.quad_px for g in self.guided))
        return any(near(quad, other) for other in bars)

    def beside_named_matrix(self, regions: Sequence[BarRegion]) -> tuple[BarRegion, ...]:
        """Bars of labels whose matrix code names the carton: they need no further attempt, and no closer photo."""
        named = [names_carton(b.raw) != "" or _key(b) in self._expected for b in self.believed]
        return bars_of_named_labels(regions, self.believed, named)

    def symbols(self) -> Iterator[Symbol]:
        """All symbols with the number of their label; what was expected as it was expected."""
        numbers = label_numbers([*self.believed, *map(as_decoded, self.guided)])
        for answer, number in zip(self.believed, numbers, strict=False):
            code = self._expected.get(_key(answer))
            raw, symbology = (code.raw, code.symbology) if code else (answer.raw, _symbology(answer))
            yield Symbol(raw, symbology, answer.quad_px, answer.reader, label=number)
        for symbol, number in zip(self.guided, numbers[len(self.believed) :], strict=True):
            yield replace(symbol, label=number)


def _symbology(answer: Decoded) -> str:
    """The AIM identifier of an answer; ZBar keeps no FNC1, which an SSCC alone tells all the same."""
    return "]C1" if answer.reader == "zbar" and is_sscc_alone(answer.raw) else answer.symbology


def agreed(answer: Decoded, answers: Sequence[Decoded], attempt: Attempt, *, plain: bool) -> bool:
    """True when a second reader or a second strip of the attempt says the same.

    ``plain`` tells that the attempt's pixels are as the camera gave them: what has no check is believed only then. ZBar
    alone is believed in an SSCC, whose own check digit is right as well.
    """
    if not (plain or has_check(answer)) or proof_of(answer) is not Proof.NEEDS_SECOND:
        return False
    if answer.reader == "zbar" and not is_sscc_alone(answer.raw):
        return False
    if answer.format == "ITF" and not attempt.ends_free():
        return False
    if any(same_text(answer, other) and other.reader != answer.reader for other in answers):
        return True
    return strips_agree(answer, attempt)


def strips_agree(answer: Decoded, attempt: Attempt) -> bool:
    """True when two strips that share no pixels give the same to the answer's reader, and none anything else.

    Never for a UPC-E: it is so short that blur makes the same right-looking text of every strip.
    """
    if answer.format == "UPCE":
        return False
    agreeing = 0
    for strip in attempt.strips():
        found = strip.zbar() if answer.reader == "zbar" else strip.zxing((answer.format,))
        if not all(same_text(answer, other) for other in found):
            return False
        agreeing += bool(found)
        if agreeing == 2:
            return True
    return False


def _key(code: Decoded | ExpectedCode) -> tuple[str, str]:
    """Symbology and text to compare by: ZBar drops FNC1, and an UPC-A is an EAN-13 with a leading zero."""
    text = code.raw.replace(GS, "")
    return code.symbology[:2], text.zfill(13) if code.symbology == "]E0" else text
