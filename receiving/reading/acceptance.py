"""Which decoder answers are believed on one photo, and which of them stand on one physical label.

A wrong label is worse than none, and good decoders misread: modulo 103 lets one blurred Code 128 in a hundred through,
ITF and Code 39 have no check at all, and a part of an ITF symbol is a shorter ITF symbol (ISO/IEC 16390, annex on
partial scans). So an answer must bring its own proof, or a second, independent attempt must say the same, or the
manifest must expect it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import Enum
from functools import lru_cache

from receiving.model import ExpectedCode, Quad, Symbol, has_valid_check_digit
from receiving.reading.attempts import Attempt
from receiving.reading.decoders import Decoded, middle, reading_angle_deg
from receiving.reading.region import BarRegion, covers, is_near, same_bars

MIN_CODE39, MIN_ITF, MIN_CODE128 = 4, 6, 2
"""Characters below which an answer of the symbology is taken for a scrap of print."""

MIN_SPARE = 0.1
"""Unused error correction below which a text may have been corrected to a wrong one; real photos keep 0.16 and more."""

GS = "\x1d"


class Proof(Enum):
    """What one decoder answer brings along."""

    OWN = "error correction, or a GS1 key with its check digit"
    NEEDS_SECOND = "a second attempt must agree"
    NONE = "never without the manifest"


@lru_cache(maxsize=4096)  # each pair of symbols of a photo is asked for it
def sscc_of(raw: str) -> str:
    """The 18 digits of AI 00 with a right check digit at the start of an element string, else ''."""
    digits = raw[2:20]
    return digits if raw[:2] == "00" and len(digits) == 18 and has_valid_check_digit(digits) else ""


def is_sscc_alone(raw: str) -> bool:
    """True for AI 00 and a right SSCC, and nothing else: such a text is printed as GS1-128, with FNC1 first."""
    return len(raw) == 20 and sscc_of(raw) != ""


def proof_of(answer: Decoded) -> Proof:
    """What this answer proves by itself."""
    raw = answer.raw
    if not answer.linear:
        # ZBar guesses the character set of a QR code; its plain ASCII is safe, the rest is not.
        plain = answer.reader != "zbar" or raw.isascii()
        return (Proof.OWN if answer.spare >= MIN_SPARE else Proof.NEEDS_SECOND) if plain else Proof.NONE
    if answer.format == "Code128":
        gs1 = sscc_of(raw) or (raw[:2] in ("01", "02") and has_valid_check_digit(raw[2:16]))
        if gs1 and answer.symbology == "]C1":
            return Proof.OWN
        return Proof.NEEDS_SECOND if len(raw) >= MIN_CODE128 else Proof.NONE
    if answer.format == "ITF":
        return Proof.NEEDS_SECOND if len(raw) >= MIN_ITF else Proof.NONE
    if answer.format == "Code39":
        return Proof.NEEDS_SECOND if len(raw) >= MIN_CODE39 else Proof.NONE
    return Proof.NEEDS_SECOND


def has_check(answer: Decoded) -> bool:
    """True when the symbology, or the text's own check digit, tells most wrong texts from right ones."""
    if answer.format == "ITF":
        return len(answer.raw) == 14 and has_valid_check_digit(answer.raw)
    return answer.format != "Code39"


def same_text(a: Decoded, b: Decoded) -> bool:
    """True when two answers name one content: ZBar drops FNC1, and an UPC-A is an EAN-13 with a leading zero."""
    if _family(a) != _family(b):
        return False
    return _plain(a) == _plain(b)


def is_part_of(answer: Decoded, whole: Decoded) -> bool:
    """True when the answer is a scrap of a longer one: what a scan line gives that leaves the bars half way."""
    return answer.format == whole.format and answer.raw != whole.raw and answer.raw in whole.raw


def _family(answer: Decoded) -> str:
    return "EANUPC" if answer.symbology.startswith("]E") else answer.format


def _plain(answer: Decoded) -> str:
    text = answer.raw.replace(GS, "")
    return text.zfill(13) if answer.symbology.startswith("]E") else text


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
        self.refused = [r for r in self.refused if not (same_text(r, answer) and is_near(r.quad_px, answer.quad_px))]
        if not any(same_text(b, answer) and is_near(b.quad_px, answer.quad_px) for b in self.believed):
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
        return any(is_near(quad, other) for other in bars)

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


def is_agreed(answer: Decoded, answers: Sequence[Decoded], attempt: Attempt, *, plain: bool) -> bool:
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


SAME_DIRECTION_DEG, SAME_CARTON_DEG = 12, 25
"""Directions of two symbols of one label differ by less: perspective turns them, and may more when one carton's number
on both tells that they belong together."""

REACH = 0.75
"""How far beside each other two symbols of one label stand, in lengths of the longer one (a logistic label is about
as high as its bars are long: GS1 General Specifications, 6.6)."""

NAMED_REACH = 0.4
"""The same for bars that are left alone because the symbol beside them was read: nothing else tells whose they are."""

_LINK_SSCC = re.compile(r"/00/([0-9]{18})(?![0-9])")
"""AI 00 in the path of a GS1 Digital Link (GS1 Digital Link Standard, URI Syntax)."""

_FORMATS = {"]C": "Code128", "]I": "ITF", "]A": "Code39", "]E": "EAN13", "]d": "DataMatrix"}


@lru_cache(maxsize=4096)
def names_carton(raw: str) -> str:
    """The SSCC that an element string or a GS1 Digital Link names, with a right check digit, else ''."""
    link = _LINK_SSCC.search(raw)
    if link and has_valid_check_digit(link[1]):
        return link[1]
    return sscc_of(raw)


def as_decoded(symbol: Symbol) -> Decoded:
    """A guided symbol as one that a decoder gave: it stands on a label like any other."""
    form = _FORMATS.get(symbol.symbology[:2], "Code128")
    return Decoded(symbol.raw, symbol.symbology, form, symbol.quad_px, symbol.reader)


def bars_of_named_labels(
    regions: Sequence[BarRegion], symbols: Sequence[Decoded], named: Sequence[bool]
) -> tuple[BarRegion, ...]:
    """The unread bars that stand beside a matrix code that names their carton: one region a label, the nearest.

    ``named`` tells which of the symbols do. A label on which bars were read has none left.
    """
    labels = label_numbers(symbols)
    taken = {label for symbol, label in zip(symbols, labels, strict=True) if symbol.linear}
    pairs = []
    for place, region in enumerate(regions):
        bars = Decoded("", "", "Code128", region.quad(), "")
        for symbol, label, names in zip(symbols, labels, named, strict=True):
            if names and not symbol.linear and _beside(symbol, bars, NAMED_REACH):
                pairs.append((_gap(symbol, bars), place, label))
    found: set[int] = set()
    for _, place, label in sorted(pairs):
        if place not in found and label not in taken:
            found.add(place)
            taken.add(label)
    return tuple(regions[place] for place in sorted(found))


def label_numbers(symbols: Sequence[Decoded]) -> tuple[int, ...]:
    """The number, from 1, of the physical label that each symbol stands on.

    Neighbours that are printed in one direction share a label, unless they name two cartons, or the same code in the
    same symbology twice: those are two labels.
    """
    labels: list[list[Decoded]] = []
    numbers = []
    for symbol in symbols:
        near = [n for n, label in enumerate(labels) if _belongs(symbol, label)]
        if near:
            nearest = min(near, key=lambda n: min(_gap(symbol, other) for other in labels[n]))
            labels[nearest].append(symbol)
            numbers.append(nearest + 1)
        else:
            labels.append([symbol])
            numbers.append(len(labels))
    return tuple(numbers)


def _belongs(symbol: Decoded, label: Sequence[Decoded]) -> bool:
    return any(_beside(symbol, other) for other in label) and not any(_apart(symbol, other) for other in label)


def _apart(a: Decoded, b: Decoded) -> bool:
    """True when the two cannot stand on one label."""
    keys = {names_carton(a.raw), names_carton(b.raw)} - {""}
    return len(keys) > 1 or (a.format == b.format and a.raw == b.raw)


def _beside(a: Decoded, b: Decoded, reach: float = REACH) -> bool:
    turn = abs((reading_angle_deg(a.quad_px) - reading_angle_deg(b.quad_px) + 180) % 360 - 180)
    # A matrix code may be printed turned by quarters; bars are read from either end.
    quarter = 180.0 if a.linear and b.linear else 90.0
    off = min(turn % quarter, quarter - turn % quarter)
    same = names_carton(a.raw) != "" and names_carton(a.raw) == names_carton(b.raw)
    return off <= (SAME_CARTON_DEG if same else SAME_DIRECTION_DEG) and _gap(a, b) <= reach * max(
        _length(a), _length(b)
    )


def _gap(a: Decoded, b: Decoded) -> float:
    """The free distance between two symbols, pixels: between their centres, less half their sizes along that line."""
    (ax, ay), (bx, by) = middle(a.quad_px), middle(b.quad_px)
    distance = math.hypot(bx - ax, by - ay)
    if distance == 0:
        return 0.0
    unit = ((bx - ax) / distance, (by - ay) / distance)
    return max(0.0, distance - _half(a, unit) - _half(b, unit))


def _half(symbol: Decoded, unit: tuple[float, float]) -> float:
    """Half the symbol's size along a direction: how far from its centre a line that way leaves it."""
    (ax, ay), (bx, by), (_, _), (dx, dy) = symbol.quad_px
    along = math.hypot(bx - ax, by - ay) or 1.0
    down = math.hypot(dx - ax, dy - ay) or 1.0
    u = abs(unit[0] * (bx - ax) + unit[1] * (by - ay)) / along
    v = abs(unit[0] * (dx - ax) + unit[1] * (dy - ay)) / down
    return min(along / 2 / max(u, 1e-9), down / 2 / max(v, 1e-9))


def _length(symbol: Decoded) -> float:
    (ax, ay), (bx, by), (cx, cy), _ = symbol.quad_px
    return max(math.hypot(bx - ax, by - ay), math.hypot(cx - bx, cy - by))
