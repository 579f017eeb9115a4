"""Where the characters of a printed form stand, what else could stand there, and which sums must come out right."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from receiving.model import has_valid_check_digit
from receiving.reading.guided import patterns as code128
from receiving.reading.guided import patterns as upce
from receiving.reading.guided.patterns import (
    CODE39_CHARACTERS,
    Floats,
    Pattern,
    code39_widths,
    ean_sets,
    ean_widths,
    itf_pair_widths,
)

PER_MODULE = 4
CLASSES = 31
"""Values of a first sum that only tells texts apart: a prime, so that no place is without effect."""


@dataclass(frozen=True)
class Place:
    """One character: its left edge in modules, and the bars of each option (options, samples).

    ``adds`` is what each option adds to the sums: (options, 2), one column for each modulus of the layout.
    """

    start: float
    bars: Floats
    adds: NDArray[np.intp]


@dataclass(frozen=True)
class Layout:
    """All codes that a symbol of one shape can carry.

    The second sum must come to 0. Where there is a ``check`` place its option is the first sum; else that may be
    anything, and only tells texts apart.
    """

    places: tuple[Place, ...]
    moduli: tuple[int, int]
    begins: tuple[int, int]
    check: Place | None
    spelled: Callable[[Sequence[int]], str]


@lru_cache(maxsize=256)
def layouts(pattern: Pattern) -> tuple[Layout, ...]:
    """The layouts that have the shape of this pattern."""
    if pattern.symbology in ("]C0", "]C1"):
        return (_code128_layout(pattern),)
    if pattern.family == "upce":
        return tuple(_upce_layout(check, last, len(pattern.raw)) for check in range(10) for last in upce.LAST_DIGITS)
    if pattern.symbology == "]E0":
        return tuple(_ean13_layout(first, len(pattern.raw)) for first in range(10 if len(pattern.raw) == 13 else 1))
    if pattern.symbology == "]E4":
        return (_ean8_layout(),)
    if pattern.symbology in ("]I0", "]I1"):
        return (_itf_layout(pattern),)
    return (_code39_layout(pattern),) if pattern.symbology == "]A0" else ()


def is_sscc(pattern: Pattern) -> bool:
    """True for an SSCC in GS1-128: long, with one printed form, so that its layout is the only one of its shape."""
    raw = pattern.raw
    of_sscc = pattern.symbology == "]C1" and len(raw) == 20 and raw.isdigit() and raw[:2] == "00"
    return of_sscc and has_valid_check_digit(raw[2:])


@lru_cache(maxsize=64)
def _alphabet(widths: tuple[tuple[float, ...], ...], dark_first: bool) -> Floats:
    """Bars (1) and spaces (0) of characters of one length, from their element widths."""
    rows = []
    for elements in widths:
        edges = np.rint(np.cumsum((0.0, *elements)) * PER_MODULE).astype(int)
        row = np.zeros(edges[-1], np.float32)
        for number in range(0 if dark_first else 1, len(elements), 2):
            row[edges[number] : edges[number + 1]] = 1
        rows.append(row)
    return np.array(rows)


def _place(start: float, widths: Sequence[Sequence[float]], dark_first: bool, *adds: Sequence[int]) -> Place:
    columns = [*adds, *[[0] * len(widths)] * (2 - len(adds))]
    return Place(start, _alphabet(tuple(map(tuple, widths)), dark_first), np.array(columns, np.intp).T)


def _ean13_layout(first: int, length: int) -> Layout:
    """EAN-13 with this first digit, which the sets of the left half spell; its weight in the sum is 1."""
    places = []
    for number, kind in enumerate(ean_sets(first)):
        start = 3 + 7 * number + (5 if number >= 6 else 0)
        weight = 3 if number % 2 == 0 else 1
        widths = [ean_widths(digit, kind) for digit in range(10)]
        # The check digit is a place like the others, with weight 1: the sum over all thirteen comes to 0.
        places.append(_place(start, widths, kind == "C", _classes(number, 10), [weight * d % 10 for d in range(10)]))
    lead = str(first) if length == 13 else ""
    return Layout(tuple(places), (CLASSES, 10), (0, first), None, lambda chosen: lead + "".join(map(str, chosen)))


def _ean8_layout() -> Layout:
    places = []
    for number, kind in enumerate("AAAACCCC"):
        widths = [ean_widths(digit, kind) for digit in range(10)]
        sums = [(3 if number % 2 == 0 else 1) * digit % 10 for digit in range(10)]
        start = 3 + 7 * number + (5 if number >= 4 else 0)
        places.append(_place(start, widths, kind == "C", _classes(number, 10), sums))
    return Layout(tuple(places), (CLASSES, 10), (0, 0), None, lambda chosen: "".join(map(str, chosen)))


def _upce_layout(check: int, last: str, length: int) -> Layout:
    """UPC-E with this check digit, which the sets spell, and one of these last digits, which place the others."""
    places = []
    for number, (kind, weight) in enumerate(zip(upce.CHECK_SETS[check], upce.weights(last[0]), strict=True)):
        digits = [int(digit) for digit in (last if number == 5 else "0123456789")]
        widths = [ean_widths(digit, kind) for digit in digits]
        sums = [weight * digit % 10 for digit in digits]
        classes = _classes(number, 10)
        places.append(_place(3 + 7 * number, widths, False, [classes[digit] for digit in digits], sums))

    def spelled(chosen: Sequence[int]) -> str:
        six = "".join(map(str, chosen[:5])) + last[chosen[5]]
        return (upce.expand_upce(six) + str(check)).zfill(length)

    return Layout(tuple(places), (CLASSES, 10), (0, check), None, spelled)


def _classes(number: int, options: int) -> list[int]:
    return [(number + 1) * option % CLASSES for option in range(options)]


def _pairs_mod_10() -> list[int]:
    return [(3 * (value // 10) + value % 10) % 10 for value in range(100)]


def _itf_layout(pattern: Pattern) -> Layout:
    ratio, pairs = float(pattern.family.removeprefix("itf-")), len(pattern.raw) // 2
    widths = [itf_pair_widths(f"{value:02d}", ratio) for value in range(100)]
    checked = len(pattern.raw) == 14 and has_valid_check_digit(pattern.raw)
    sums = _pairs_mod_10() if checked else [0] * 100
    places = tuple(_place(4 + n * sum(widths[0]), widths, True, _classes(n, 100), sums) for n in range(pairs))
    return Layout(
        places, (CLASSES, 10 if checked else 1), (0, 0), None, lambda chosen: "".join(f"{v:02d}" for v in chosen)
    )


def _code39_layout(pattern: Pattern) -> Layout:
    ratio = float(pattern.family.removeprefix("39-"))
    widths = [code39_widths(character, ratio) for character in CODE39_CHARACTERS]
    step, many = sum(widths[0]) + 1, len(widths)
    places = tuple(_place(step * (n + 1), widths, True, _classes(n, many)) for n in range(len(pattern.raw)))
    return Layout(places, (CLASSES, 1), (0, 0), None, lambda chosen: "".join(CODE39_CHARACTERS[c] for c in chosen))


def _code128_layout(pattern: Pattern) -> Layout:
    """The symbol with its code sets and function characters kept; an SSCC's check digit is a sum as well."""
    gs1, raw = pattern.symbology == "]C1", pattern.raw
    sscc = is_sscc(pattern)
    number = int(pattern.family.removeprefix("128-"))
    characters = code128.encodings(raw, gs1=gs1)[number]
    places, pieces, begins = [], [], characters[0]
    for place, (value, code_set) in enumerate(_with_sets(characters), 1):
        if not code_set or (sscc and place == 2):
            begins += place * value
            pieces.append("00" if code_set else "\x1d" if value == code128.FNC1 and place > gs1 else "")
            continue
        # Function characters and switches are not tried as text: they would change the code set of all that follows.
        options = range(100 if code_set == "C" else 95 if code_set == "B" else 96)
        adds = [place * option % 103 for option in options]
        widths = [code128.widths((option,)) for option in options]
        places.append(_place(11 * place, widths, True, adds, _pairs_mod_10() if sscc else [0] * len(options)))
        pieces.append(code_set)
    check = _place(11 * len(characters), [code128.widths((value,)) for value in range(103)], True)
    moduli = (103, 10 if sscc else 1)
    return Layout(tuple(places), moduli, (begins % 103, 0), check, lambda chosen: _spelled(pieces, chosen))


def _with_sets(characters: tuple[int, ...]) -> Iterator[tuple[int, str]]:
    """Values behind the start character, each with its code set; '' for those that carry no text."""
    sets = {code128.START_A: "A", code128.START_B: "B", code128.START_C: "C"}
    switches = {code128.CODE_A: "A", code128.CODE_B: "B", code128.CODE_C: "C"}
    here = sets[characters[0]]
    for value in characters[1:]:
        # 99 is the pair of digits in code set C, and the switch to it in A and B (ISO/IEC 15417, table 1).
        switched = switches.get(value, here) if value > 98 and not (here == "C" and value == 99) else here
        if switched != here or value == code128.FNC1:
            yield value, ""
        else:
            yield value, here
        here = switched


def _spelled(pieces: Sequence[str], chosen: Sequence[int]) -> str:
    """The text of the chosen values, with what does not vary between them."""
    values = iter(chosen)
    letters = {
        "A": lambda value: chr(value + 32 if value < 64 else value - 64),
        "B": lambda value: chr(value + 32),
        "C": lambda value: f"{value:02d}",
    }
    return "".join(letters[piece](next(values)) if piece in letters else piece for piece in pieces)
