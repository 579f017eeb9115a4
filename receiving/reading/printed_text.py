"""What the printed lines of a label may say, where no symbol could be read: suggestions for a person, never reads.

Lines come from optical character recognition (OCR), which confuses letters and digits of similar shape. The costs of
mistakes are common practice, no source: a confusion of like shapes is a quarter of any other mistake.
"""

import importlib.util
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from receiving.messages import Message, Text, message
from receiving.model import Carton, Claim, Manifest, Sscc, has_valid_check_digit
from receiving.reading.claims import claim_of
from receiving.reading.patterns import LabelPattern

# The expected codes nearest to a printed text, by an edit distance that knows which shapes OCR confuses.
#
# The codes share the rows of the dynamic program for the beginnings that they share, so that codes of one series
# cost little more than one. Source of the method: Wagner and Fischer, "The String-to-String Correction Problem",
# Journal of the ACM 21(1), 1974; rows shared along a sorted list are common practice.


CONFUSION = 0.25
"""The cost of taking one shape for its like; any other mistake (wrong, lost or added character) costs 1."""

_LIKE = {"0": "OQDo", "1": "Il|!i", "2": "Zz", "4": "A", "5": "Ss", "6": "Gb", "7": "T", "8": "B", "9": "gq"}
_DIGIT = {shape: digit for digit, shapes in _LIKE.items() for shape in shapes}
_LETTER = {digit: shapes[0] for digit, shapes in _LIKE.items()} | {"|": "I", "!": "I"}


def ocr_available() -> bool:
    """True when the optional libraries for printed text are installed."""
    return all(importlib.util.find_spec(name) is not None for name in ("rapidocr", "onnxruntime"))


def digits_of(text: str) -> str:
    """The text as digits where every character is one or looks like one, or an empty text.

    >>> digits_of("1O6l4"), digits_of("ROW")
    ('10614', '')
    """
    digits = "".join(_DIGIT.get(char, char) for char in text)
    return digits if digits.isascii() and digits.isdigit() else ""


def letters_of(text: str) -> str:
    """The text with letters for the digits that look like them.

    >>> letters_of("R0W")
    'ROW'
    """
    return "".join(_LETTER.get(char, char) for char in text)


class Nearest:
    """A set of codes that can be searched for those within some cost of a printed text."""

    def __init__(self, codes: Iterable[str]) -> None:
        self._codes = sorted(set(codes))

    def within(self, text: str, limit: float) -> list[tuple[float, str]]:
        """(cost, code) of every code at most ``limit`` away, nearest first.

        >>> Nearest(["KX-0147", "KX-0258"]).within("KX-O147", 1.0)
        [(0.25, 'KX-0147')]
        """
        rows = [[float(n) for n in range(len(text) + 1)]]
        found: list[tuple[float, str]] = []
        before, dead = "", 0
        for code in self._codes:
            shared = _shared(before, code)
            before = code
            if dead and shared >= dead:
                continue
            dead = 0
            del rows[shared + 1 :]
            for char in code[shared:]:
                rows.append(_next_row(rows[-1], char, text))
                if min(rows[-1]) > limit:
                    dead = len(rows) - 1
                    break
            else:
                if rows[-1][-1] <= limit:
                    found.append((rows[-1][-1], code))
        return sorted(found)


def _next_row(above: list[float], char: str, text: str) -> list[float]:
    row = [above[0] + 1]
    for n, printed in enumerate(text):
        row.append(min(above[n] + _difference(char, printed), above[n + 1] + 1, row[n] + 1))
    return row


def _difference(wanted: str, printed: str) -> float:
    if wanted == printed or (wanted.isalpha() and wanted.upper() == printed.upper()):
        return 0.0
    return CONFUSION if _DIGIT.get(wanted, wanted) == _DIGIT.get(printed, printed) else 1.0


def _shared(one: str, other: str) -> int:
    limit = min(len(one), len(other))
    return next((n for n in range(limit) if one[n] != other[n]), limit)


MOST_LINES = 200
MOST_RIVALS = 8
LONGEST_LINE = 200
SSCC_LIMIT = 2.0
"""The most that a printed SSCC may differ from an expected one: two wrong digits, or eight confusions."""

_SPACES = re.compile(r"[\s.\-_·]+")
_DIGIT_RUN = re.compile(r"[0-9A-Za-z|!]{16,24}")
_LEAST_TRUE_DIGITS = 10
_SHORTEST_BARCODE = 4
_KEYWORDS = frozenset(
    {"BOX", "CARTON", "COL", "COLUMN", "CTN", "FIRST", "HEADER", "KIND", "NO", "OF"}
    | {"OPEN", "OUTER", "PARTS", "ROW", "SECTION", "SHIPMENT", "STORE", "THIS", "TRAY"}
    | {"ABRIR", "CAJA", "COLUMNA", "DE", "FILA", "PRIMERO", "SECCION", "SECCIÓN"}
    | {"COLIS", "COLONNE", "EN", "OUVRIR", "PREMIER", "RANG", "RANGEE", "RANGÉE", "SUR"}
)
"""Words of labels in English, Spanish and French, as the patterns that come with the package know them."""

_PART = re.compile(r"([^0-9A-Za-zÀ-ÖØ-öø-ÿ|!]+)")


@dataclass(frozen=True)
class Suggestion:
    """What one printed line may say: ``text`` is what a person would type to confirm it.

    ``cost`` counts the mistakes that it takes (0: as printed). ``shipment`` and ``carton`` name the expected carton
    that carries this code; ``rivals`` are (shipment, carton) of the others that fit nearly as well, at most eight.
    """

    line: str
    text: str
    claim: Claim
    cost: float
    words: Text
    shipment: str = ""
    carton: str = ""
    rivals: tuple[tuple[str, str], ...] = ()


def claims_from_text(
    lines: Sequence[str], expected: Sequence[Manifest] = (), patterns: Sequence[LabelPattern] = ()
) -> tuple[Suggestion, ...]:
    """What these lines may say, cheapest first; ``expected`` are the shipments that may be in view.

    At most 200 lines of 200 characters are looked at. Raises nothing.
    """
    codes = _Expected(expected)
    found: list[Suggestion] = []
    for line in lines[:MOST_LINES]:
        text = line[:LONGEST_LINE]
        found.extend(_printed_sscc(text, codes))
        found.extend(_printed_barcode(text, codes))
        found.extend(_printed_words(text, patterns))
    unique = {(s.text, s.carton, s.shipment): s for s in sorted(found, key=lambda s: -s.cost)}
    return tuple(sorted(unique.values(), key=lambda s: (s.cost, found.index(s))))


class _Expected:
    """The codes of the expected cartons, SSCCs and plain barcodes apart, each with the cartons that carry it."""

    def __init__(self, manifests: Iterable[Manifest]) -> None:
        self.cartons: dict[str, list[tuple[Manifest, Carton]]] = {}
        ssccs, barcodes = set(), set()
        for manifest in manifests:
            for carton in manifest:
                if carton.sscc:
                    ssccs.add(str(carton.sscc))
                    self.cartons.setdefault(str(carton.sscc), []).append((manifest, carton))
                if len(carton.barcode) >= _SHORTEST_BARCODE:
                    barcodes.add(carton.barcode)
                    self.cartons.setdefault(carton.barcode, []).append((manifest, carton))
        self.ssccs, self.barcodes = Nearest(ssccs), Nearest(barcodes)

    def suggestion(self, line: str, near: list[tuple[float, str]], claim: Claim) -> Suggestion:
        """The nearest code's carton; cartons of codes that are less than one mistake farther are its rivals."""
        cost, code = near[0]
        owners = [owner for other, raw in near if other < cost + 1 for owner in self.cartons[raw]]
        (shipment, carton), *others = dict.fromkeys((manifest.shipment, found.carton) for manifest, found in owners)
        sure = _how_sure(cost)
        words = message("Barcode {code} of carton {carton}, {how_sure}", code=code, carton=carton, how_sure=sure)
        if claim.sscc:
            words = message("SSCC {code} of carton {carton}, {how_sure}", code=code, carton=carton, how_sure=sure)
        return Suggestion(line, code, claim, cost, words, shipment, carton, tuple(others[:MOST_RIVALS]))


def _printed_sscc(line: str, codes: _Expected) -> Iterator[Suggestion]:
    for run in _digit_runs(line):
        near = codes.ssccs.within(run, SSCC_LIMIT)
        if near:
            yield codes.suggestion(line, near, Claim(sscc=Sscc(near[0][1])))
            continue
        digits = digits_of(run)
        if len(digits) == 18 and has_valid_check_digit(digits):
            cost = CONFUSION * sum(a != b for a, b in zip(run, digits, strict=True))
            words = message("SSCC {code}: its check digit is right, and no expected carton has it", code=digits)
            yield Suggestion(line, digits, Claim(sscc=Sscc(digits)), cost, words)


def _digit_runs(line: str) -> Iterator[str]:
    """Runs of 16 to 20 characters that may all be digits, without the AI 00 or the word SSCC before them."""
    for part in re.split(r"[()\[\]{}:;,]", line):
        compact = _SPACES.sub("", re.sub(r"(?i)\bSSCC\b", "", part))
        for found in _DIGIT_RUN.finditer(compact):
            run = found[0]
            if digits_of(run[:2]) == "00" and len(run) >= 19:
                run = run[2:]
            if len(run) <= 20 and sum(char.isdigit() for char in run) >= _LEAST_TRUE_DIGITS and digits_of(run):
                yield run


def _printed_barcode(line: str, codes: _Expected) -> Iterator[Suggestion]:
    """The line, or one word of it, as a plain barcode; the shorter the code, the less may differ."""
    for text in dict.fromkeys(("".join(line.split()), *line.split())):
        near = codes.barcodes.within(text, min(2.0, len(text) / 8)) if len(text) >= _SHORTEST_BARCODE else []
        if near:
            yield codes.suggestion(line, near, Claim(barcode=near[0][1]))


def _printed_words(line: str, patterns: Sequence[LabelPattern]) -> Iterator[Suggestion]:
    texts = tuple(pattern for pattern in patterns if not pattern.element)
    found = [(text, claim_of(text, by_hand=False, patterns=texts)) for text in dict.fromkeys((line, _repaired(line)))]
    found = [(text, claim) for text, claim in found if claim.pattern]
    if not found:
        return
    # As printed, unless only the repaired line gives the row to a column: "COLUMN 3 ROW S" is more than a column.
    text, claim = max(found, key=lambda each: each[1].address is not None)
    cost = CONFUSION * sum(a != b for a, b in zip(line, text, strict=True))
    words = message("{pattern}, read as {text}", pattern=claim.pattern, text=repr(text.strip()))
    if text == line:
        words = message("{pattern}, as printed", pattern=claim.pattern)
    yield Suggestion(line, text.strip(), claim, cost, words)


def _repaired(line: str) -> str:
    """The line with the words of labels put right, and with digits for what stands behind such a word."""
    parts = _PART.split(line)
    after_word = False
    for n in range(0, len(parts), 2):
        word = letters_of(parts[n])
        if word.upper() in _KEYWORDS:
            parts[n], after_word = word, True
        elif parts[n]:
            digits = digits_of(parts[n])
            if after_word and digits and len(digits) <= 3:
                parts[n] = digits
            after_word = False
    return "".join(parts)


def _how_sure(cost: float) -> Message:
    if cost == 0:
        return message("as printed")
    if cost < 1:
        return message("with letters and digits of similar shape corrected (cost {cost})", cost=float(cost))
    return message("at a cost of {cost}", cost=float(cost))
