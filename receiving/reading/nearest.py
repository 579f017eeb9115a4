"""The expected codes nearest to a printed text, by an edit distance that knows which shapes OCR confuses.

The codes share the rows of the dynamic program for the beginnings that they share, so that codes of one series
cost little more than one. Source of the method: Wagner and Fischer, "The String-to-String Correction Problem",
Journal of the ACM 21(1), 1974; rows shared along a sorted list are common practice.
"""

from collections.abc import Iterable

CONFUSION = 0.25
"""The cost of taking one shape for its like; any other mistake (wrong, lost or added character) costs 1."""

_LIKE = {"0": "OQDo", "1": "Il|!i", "2": "Zz", "4": "A", "5": "Ss", "6": "Gb", "7": "T", "8": "B", "9": "gq"}
_DIGIT = {shape: digit for digit, shapes in _LIKE.items() for shape in shapes}
_LETTER = {digit: shapes[0] for digit, shapes in _LIKE.items()} | {"|": "I", "!": "I"}


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
