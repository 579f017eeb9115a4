"""The exact bar pattern of an expected code, for each way in which it may have been printed."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, chain

from receiving.model import ExpectedCode, has_valid_check_digit
from receiving.reading.guided import code128, upce

LINEAR = ("]C1", "]E0", "]E4", "]I1", "]I0", "]C0", "]A0")
"""AIM identifiers (ISO/IEC 15424) of the symbologies that guided reading renders, the likeliest on cartons first
(common practice, no source)."""

# Set A of EAN/UPC, element widths space first; sets B and C follow from it. ISO/IEC 15420, table 1.
_EAN = ("3211", "2221", "2122", "1411", "1132", "1231", "1114", "1312", "1213", "3112")
# Which of the left digits come from set B, by the first digit. ISO/IEC 15420, table 2.
_PARITY = ("AAAAAA", "AABABB", "AABBAB", "AABBBA", "ABAABB", "ABBAAB", "ABBBAA", "ABABAB", "ABABBA", "ABBABA")
# Interleaved 2 of 5, wide elements marked 1. ISO/IEC 16390, table 1.
_ITF = ("00110", "10001", "01001", "11000", "00101", "10100", "01100", "00011", "10010", "01010")
# Code 39, bars and spaces in turn, wide elements marked 1. ISO/IEC 16388, table 1.
_CODE39 = {
    "0": "000110100", "1": "100100001", "2": "001100001", "3": "101100000", "4": "000110001", "5": "100110000",
    "6": "001110000", "7": "000100101", "8": "100100100", "9": "001100100", "A": "100001001", "B": "001001001",
    "C": "101001000", "D": "000011001", "E": "100011000", "F": "001011000", "G": "000001101", "H": "100001100",
    "I": "001001100", "J": "000011100", "K": "100000011", "L": "001000011", "M": "101000010", "N": "000010011",
    "O": "100010010", "P": "001010010", "Q": "000000111", "R": "100000110", "S": "001000110", "T": "000010110",
    "U": "110000001", "V": "011000001", "W": "111000000", "X": "010010001", "Y": "110010000", "Z": "011010000",
    "-": "010000101", ".": "110000100", " ": "011000100", "$": "010101000", "/": "010100010", "+": "010001010",
    "%": "000101010", "*": "010010100",
}  # fmt: skip
WIDE_RATIOS = (2.0, 2.5, 3.0)
CODE39_CHARACTERS = "".join(sorted(set(_CODE39) - {"*"}))


@dataclass(frozen=True)
class Pattern:
    """One printed form of a code: where bars begin and end, in modules from the first bar's left edge.

    ``family`` names the printed form; patterns of one family and length can be compared sample by sample.
    """

    raw: str
    symbology: str
    family: str
    edges: tuple[float, ...]

    @property
    def modules(self) -> float:
        """The length of the symbol without quiet zones, in modules."""
        return self.edges[-1]


@lru_cache(maxsize=65536)
def patterns(code: ExpectedCode) -> tuple[Pattern, ...]:
    """Every printed form of the code that is searched for; empty where the symbology cannot carry it."""
    forms: list[tuple[str, tuple[float, ...]]] = []
    raw = code.raw
    if code.symbology in ("]C0", "]C1"):
        for number, characters in enumerate(code128.encodings(raw, gs1=code.symbology == "]C1")):
            forms.append((f"128-{number}", code128.widths(code128.complete(characters))))
    elif code.symbology == "]E0" and len(raw) in (12, 13) and has_valid_check_digit(raw):
        forms.append(("ean13", _ean13(raw.zfill(13))))
        if short := upce.suppressed(raw[-12:]) if raw.zfill(13)[:2] == "00" else None:
            forms.append(("upce", _upce(short, int(raw[-1]))))
    elif code.symbology == "]E4" and len(raw) == 8 and has_valid_check_digit(raw):
        forms.append(("ean8", _ean8(raw)))
    elif code.symbology in ("]I0", "]I1") and len(raw) % 2 == 0 and raw.isascii() and raw.isdigit():
        forms.extend((f"itf-{ratio}", _itf(raw, ratio)) for ratio in WIDE_RATIOS)
    elif code.symbology == "]A0" and raw and set(raw) <= set(CODE39_CHARACTERS):
        forms.extend((f"39-{ratio}", _code39(raw, ratio)) for ratio in WIDE_RATIOS)
    return tuple(Pattern(raw, code.symbology, family, tuple(accumulate(w, initial=0.0))) for family, w in forms)


def ean_sets(first: int) -> str:
    """The sets of the twelve digits that follow this first digit of an EAN-13."""
    return _PARITY[first] + "CCCCCC"


def ean_widths(digit: int, kind: str) -> tuple[float, ...]:
    """Element widths of an EAN digit; set B is set A mirrored, set C has the widths of set A."""
    return tuple(map(float, _EAN[digit][::-1] if kind == "B" else _EAN[digit]))


def itf_pair_widths(pair: str, ratio: float) -> tuple[float, ...]:
    """Element widths of two interleaved digits: the first in the bars, the second in the spaces."""
    bars, spaces = (_ITF[int(digit)] for digit in pair)
    return tuple(ratio if mark == "1" else 1.0 for both in zip(bars, spaces, strict=True) for mark in both)


def code39_widths(character: str, ratio: float) -> tuple[float, ...]:
    """Element widths of one character of Code 39, without the gap behind it."""
    return tuple(ratio if mark == "1" else 1.0 for mark in _CODE39[character])


def _ean_digits(digits: str, sets: str) -> tuple[float, ...]:
    return tuple(chain.from_iterable(ean_widths(int(d), s) for d, s in zip(digits, sets, strict=True)))


def _ean13(digits: str) -> tuple[float, ...]:
    left, right = _ean_digits(digits[1:7], _PARITY[int(digits[0])]), _ean_digits(digits[7:], "CCCCCC")
    return (*[1.0] * 3, *left, *[1.0] * 5, *right, *[1.0] * 3)


def _ean8(digits: str) -> tuple[float, ...]:
    left, right = _ean_digits(digits[:4], "AAAA"), _ean_digits(digits[4:], "CCCC")
    return (*[1.0] * 3, *left, *[1.0] * 5, *right, *[1.0] * 3)


def _upce(digits: str, check: int) -> tuple[float, ...]:
    return (*[1.0] * 3, *_ean_digits(digits, upce.CHECK_SETS[check]), *[1.0] * 6)


def _itf(digits: str, ratio: float) -> tuple[float, ...]:
    pairs = (itf_pair_widths(digits[at : at + 2], ratio) for at in range(0, len(digits), 2))
    return (*[1.0] * 4, *chain.from_iterable(pairs), ratio, 1.0, 1.0)


def _code39(text: str, ratio: float) -> tuple[float, ...]:
    *first, last = (code39_widths(character, ratio) for character in f"*{text}*")
    return (*chain.from_iterable((*widths, 1.0) for widths in first), *last)
