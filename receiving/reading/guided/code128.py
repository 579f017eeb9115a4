"""Code 128 symbol characters for a text, by several usual choices of code set (ISO/IEC 15417)."""

import re
from collections.abc import Iterator
from itertools import chain

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


def complete(characters: tuple[int, ...]) -> tuple[int, ...]:
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
    """The shortest characters within these code sets, in linear time; ``odd_digit_last`` settles ties."""
    links: dict[tuple[int, str], tuple[int, str, tuple[int, ...]]] = {}
    cost: dict[tuple[int, str], float] = {(0, s): 0.0 for s in sets}
    for at in range(len(symbols)):
        for code_set in sets:
            if (at, code_set) not in cost:
                continue
            for value, used in _steps(symbols, at, code_set):
                for after in sets:
                    switch = () if after == code_set or at + used == len(symbols) else (_SWITCH[after],)
                    tie = 1e-6 * (at if code_set == "C" else 0) * (1 if odd_digit_last else -1)
                    total = cost[at, code_set] + 1 + len(switch) + tie
                    if total < cost.get((at + used, after), float("inf")):
                        cost[at + used, after] = total
                        links[at + used, after] = (at, code_set, (value, *switch))
    ends = [(cost[len(symbols), s], s) for s in sets if (len(symbols), s) in cost]
    if not ends or not symbols:
        return ()
    at, code_set = len(symbols), min(ends)[1]
    path: list[int] = []
    while at:
        at, code_set, values = links[at, code_set]
        path[:0] = values
    return (_START[code_set], *path)
