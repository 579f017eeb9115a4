"""The exact bar pattern of an expected code for each way of printing it: Code 128, EAN, UPC-E, ITF, as templates."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, chain, product
from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from receiving.model import ExpectedCode, has_valid_check_digit

# Code 128 symbol characters for a text, by several usual choices of code set (ISO/IEC 15417).


GS = "\x1d"
START_A, START_B, START_C, STOP = 103, 104, 105, 106
CODE_A, CODE_B, CODE_C, FNC1 = 101, 100, 99, 102
_START = {"A": START_A, "B": START_B, "C": START_C}
_SWITCH = {"A": CODE_A, "B": CODE_B, "C": CODE_C}

# Element widths of the symbol characters 0 to 105, six each, bar first, and the stop; ISO/IEC 15417, table 1.
_TABLE = (
    "212222222122222221121223121322131222122213122312132212221213221312231212112232122132122231113222123122123221"
    "223211221132221231213212223112312131311222321122321221312212322112322211212123212321232121111323131123131321"
    "112313132113132311211313231113231311112133112331132131113123113321133121313121211331231131213113213311213131"
    "311123311321331121312113312311332111314111221411431111111224111422121124121421141122141221112214112412122114"
    "122411142112142211241211221114413111241112134111111242121142121241114212124112124211411212421112421211212141"
    "214121412121111143111341131141114113114311411113411311113141114131311141411131211412211214211232"
)
WIDTHS = (*(_TABLE[at : at + 6] for at in range(0, len(_TABLE), 6)), "2331112")
_ELEMENTS = tuple(tuple(map(float, widths)) for widths in WIDTHS)


def check_character(characters: tuple[int, ...]) -> int:
    """The modulo-103 check character of a start character and its data (ISO/IEC 15417, annex A)."""
    return (characters[0] + sum(place * value for place, value in enumerate(characters[1:], 1))) % 103


def add_check_and_stop(characters: tuple[int, ...]) -> tuple[int, ...]:
    """The characters with check and stop characters behind them."""
    return (*characters, check_character(characters), STOP)


def widths(characters: tuple[int, ...]) -> tuple[float, ...]:
    """Element widths in modules, bar first."""
    return tuple(chain.from_iterable(_ELEMENTS[value] for value in characters))


def encodings(text: str, gs1: bool) -> tuple[tuple[int, ...], ...]:
    """Start and data characters of ``text`` as different encoders choose them, shortest first.

    With ``gs1`` an FNC1 follows the start character and GS stands for FNC1. Empty where a character cannot be
    encoded. Besides the shortest path, encoders differ in where a run of digits of odd length leaves code set C,
    some take every run of digits for itself, and plain ones stay in code set B (not for GS1, which asks for the
    shortest: General Specifications, 5.4.7.7).
    """
    if gs1 and len(text) % 2 == 0 and text.isascii() and text.isdigit():
        # All in code set C: nothing is as short. An SSCC is this, and its neighbours come by the thousand.
        return ((START_C, FNC1, *(int(text[at : at + 2]) for at in range(0, len(text), 2))),)
    symbols = [*([FNC1] if gs1 else []), *text]
    found: dict[tuple[int, ...], None] = {}
    for odd_digit_last in (True, False):
        for sets in ("C", "BC", "ABC") if gs1 else ("C", "BC", "ABC", "B"):
            path = _shortest(symbols, sets, odd_digit_last)
            if path:
                found.setdefault(path)
        for first in () if gs1 else (2, 4):
            path = _by_runs(text, first, odd_digit_last)
            if path:
                found.setdefault(path)
    return tuple(sorted(found, key=len))


def _steps(symbols: list[int | str], at: int, code_set: str) -> Iterator[tuple[int, int]]:
    """(character value, symbols consumed) that this code set allows at this place."""
    here = symbols[at]
    if here in (FNC1, GS):
        yield FNC1, 1
        return
    if not isinstance(here, str):
        return
    if code_set == "C":
        pair = here + str(symbols[at + 1]) if at + 1 < len(symbols) and isinstance(symbols[at + 1], str) else ""
        if len(pair) == 2 and pair.isascii() and pair.isdigit():
            yield int(pair), 2
    elif code_set == "B" and 32 <= ord(here) <= 127:
        yield ord(here) - 32, 1
    elif code_set == "A" and ord(here) < 96:
        yield (ord(here) - 32 if ord(here) >= 32 else ord(here) + 64), 1


def _by_runs(text: str, first: int, odd_digit_last: bool) -> tuple[int, ...]:
    """Code set C for each run of four digits or more, at the start of ``first`` or more, code set B for the rest.

    ISO/IEC 15417, annex E, but run by run and not the shortest: empty where a character is not in code set B.
    """
    if not text or not all(" " <= character <= "~" for character in text):
        return ()
    sets = ["B"] * len(text)
    for run in re.finditer(f"^[0-9]{{{first},}}|[0-9]{{4,}}", text):
        odd = len(run[0]) % 2
        start, end = run.start() + (0 if odd_digit_last else odd), run.end() - (odd if odd_digit_last else 0)
        sets[start:end] = "C" * (end - start)
    path, at, now = [_START[sets[0]]], 0, sets[0]
    while at < len(text):
        if sets[at] != now:
            now = sets[at]
            path.append(_SWITCH[now])
        value, used = next(_steps(list(text[at : at + 2]), 0, now))
        path.append(value)
        at += used
    return tuple(path)


def _shortest(symbols: list[int | str], sets: str, odd_digit_last: bool) -> tuple[int, ...]:
    """The shortest characters within these code sets, in linear time; ``odd_digit_last`` settles ties.

    Dijkstra's algorithm without a queue: a state is (symbols written, code set), and every character leads onward.
    """
    end = len(symbols)
    cost: dict[tuple[int, str], float] = {(0, code_set): 0.0 for code_set in sets}
    came_from: dict[tuple[int, str], tuple[int, str, tuple[int, ...]]] = {}
    for at, code_set in product(range(end), sets):
        if (at, code_set) not in cost:
            continue
        # Of equally short ways those in code set C late cost a little more, or less, but never as much as a character.
        tie = 1e-6 * (at if code_set == "C" else 0) * (1 if odd_digit_last else -1)
        for (value, used), after in product(_steps(symbols, at, code_set), sets):
            behind = (at + used, after)
            switch = () if after == code_set or at + used == end else (_SWITCH[after],)
            total = cost[at, code_set] + 1 + len(switch) + tie
            if total < cost.get(behind, inf):
                cost[behind] = total
                came_from[behind] = (at, code_set, (value, *switch))
    ends = [(cost[end, code_set], code_set) for code_set in sets if (end, code_set) in cost]
    if not ends or not symbols:
        return ()
    at, code_set = end, min(ends)[1]
    path: list[int] = []
    while at:
        at, code_set, written = came_from[at, code_set]
        path[:0] = written
    return (_START[code_set], *path)


# UPC-E: six digits that stand for a UPC-A whose number holds a run of zeros (ISO/IEC 15420, zero suppression).
#
# The number system is 0, as the standard has it; the check digit is not printed but told by the sets of the six digits.


CHECK_SETS = ("BBBAAA", "BBABAA", "BBAABA", "BBAAAB", "BABBAA", "BAABBA", "BAAABB", "BABABA", "BABAAB", "BAABAB")
"""Sets of the six digits by the check digit of the UPC-A. ISO/IEC 15420, number set encodation of UPC-E."""

_PLACES = dict.fromkeys("012", "abf0000cde") | {"3": "abc00000de", "4": "abcd00000e"}
_PLACES |= dict.fromkeys("56789", "abcde0000f")

LAST_DIGITS = ("012", "3", "4", "56789")
"""Last digits that put the other five at the same places of the UPC-A."""


def expand_upce(six: str) -> str:
    """The first eleven digits of the UPC-A that six digits of a UPC-E stand for.

    >>> expand_upce("654321")  # the worked example of Wikipedia, Universal Product Code: 065100004327 (from memory)
    '06510000432'
    """
    return "0" + "".join(six["abcdef".index(place)] if place != "0" else "0" for place in _PLACES[six[-1]])


def suppress_zeros(upca: str) -> str | None:
    """The six digits that stand for this UPC-A (12 digits); None where it has no such run of zeros.

    >>> suppress_zeros("065100004327"), suppress_zeros("071831007995")
    ('654321', None)
    """
    company, item = upca[1:6], upca[6:11]
    tries = (
        company[:2] + item[2:] + company[2],
        company[:3] + item[3:] + "3",
        company[:4] + item[4] + "4",
        company + item[4],
    )
    return next((six for six in tries if expand_upce(six) == upca[:11]), None)


def weights(last: str) -> tuple[int, ...]:
    """Weight of each of the six digits in the modulo 10 sum of the UPC-A, where the last one is this."""
    places = "0" + _PLACES[last]
    return tuple((0 if at < 0 else 1 if at % 2 else 3) for at in map(places.find, "abcdef"))


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
        for number, characters in enumerate(encodings(raw, gs1=code.symbology == "]C1")):
            forms.append((f"128-{number}", widths(add_check_and_stop(characters))))
    elif code.symbology == "]E0" and len(raw) in (12, 13) and has_valid_check_digit(raw):
        forms.append(("ean13", _ean13(raw.zfill(13))))  # a UPC-A is the EAN-13 with a 0 before it
        if short := suppress_zeros(raw[-12:]) if raw.zfill(13)[:2] == "00" else None:
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
    return (*[1.0] * 3, *_ean_digits(digits, CHECK_SETS[check]), *[1.0] * 6)


def _itf(digits: str, ratio: float) -> tuple[float, ...]:
    pairs = (itf_pair_widths(digits[at : at + 2], ratio) for at in range(0, len(digits), 2))
    return (*[1.0] * 4, *chain.from_iterable(pairs), ratio, 1.0, 1.0)


def _code39(text: str, ratio: float) -> tuple[float, ...]:
    *first, last = (code39_widths(character, ratio) for character in f"*{text}*")
    return (*chain.from_iterable((*widths, 1.0) for widths in first), *last)


# What the camera would see of a pattern: sampled bars under a family of blurs.


Floats = NDArray[np.float32]


def render_patterns(patterns: Sequence[Pattern], per_module: int, quiet: float) -> Floats:
    """Darkness, 1 on bars and 0 on spaces: (patterns, samples), with ``quiet`` modules of quiet zone at each end.

    All patterns must have one length. Edges lie on whole samples, so ``per_module`` is even for half modules.
    """
    edges = np.array([p.edges for p in patterns])
    at = np.rint((edges + quiet) * per_module).astype(int)
    length = round((patterns[0].modules + 2 * quiet) * per_module)
    steps = np.zeros((len(patterns), length + 1), np.float32)
    signs = np.where(np.arange(at.shape[1]) % 2 == 0, 1.0, -1.0)
    np.put_along_axis(steps, at, np.broadcast_to(signs, at.shape).astype(np.float32), axis=1)
    return np.cumsum(steps, axis=1)[:, :-1]


def blur_rows(rows: Floats, sigma: float) -> Floats:
    """The rows under a Gaussian point spread of ``sigma`` samples."""
    return gaussian_filter1d(rows, sigma, axis=-1, mode="nearest") if sigma > 0 else rows


def normalise_rows(rows: Floats) -> Floats:
    """The rows with mean 0 and length 1."""
    centred = rows - rows.mean(-1, keepdims=True)
    return np.asarray(centred / (np.linalg.norm(centred, axis=-1, keepdims=True) + 1e-9), np.float32)
