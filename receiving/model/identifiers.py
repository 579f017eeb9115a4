"""Identifiers: SSCC, GTIN check digits, planogram addresses, and the forms in which one number is written."""

import re
from dataclasses import dataclass
from functools import lru_cache

from receiving.messages import Message, message


def mod10_check_digit(digits: str) -> str:
    """Check digit for ``digits`` (without it), weights 3,1,3,… from the right.

    Source: GS1 General Specifications, section 7.9.1.

    >>> mod10_check_digit("10614141123456789")
    '7'
    """
    if not digits or not (digits.isascii() and digits.isdigit()):
        raise ValueError(f"{digits!r} is not a run of digits 0-9")
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def has_valid_check_digit(digits: str) -> bool:
    """True when ``digits`` are ASCII digits whose last one is the GS1 mod-10 check digit."""
    return len(digits) > 1 and digits.isascii() and digits.isdigit() and mod10_check_digit(digits[:-1]) == digits[-1]


def fault_of_sscc(digits: str) -> Message | None:
    """Why these digits are not an SSCC; None where they are one."""
    if not (digits.isascii() and digits.isdigit()):
        return message("SSCC {text} holds something other than digits 0-9; an SSCC is 18 digits", text=repr(digits))
    if len(digits) != 18:
        return message("SSCC {text} has {number} digits; an SSCC has 18", text=repr(digits), number=len(digits))
    right = mod10_check_digit(digits[:-1])
    if right == digits[-1]:
        return None
    return message(
        "SSCC {text} has check digit {digit}; its first 17 digits give {right}",
        text=repr(digits),
        digit=digits[-1],
        right=right,
    )


@dataclass(frozen=True, order=True, slots=True)
class Sscc:
    """A serial shipping container code: 18 digits with a right check digit; cannot exist wrong.

    >>> str(Sscc("106141411234567897"))
    '106141411234567897'
    """

    digits: str

    def __post_init__(self) -> None:
        fault = fault_of_sscc(self.digits)
        if fault:
            raise ValueError(fault)

    def __str__(self) -> str:
        return self.digits


@dataclass(frozen=True, order=True, slots=True)
class Address:
    """A place in the planogram, always in this order: section, column, row.

    ``section`` is empty where a label or a one-section manifest does not name it.
    """

    section: str
    column: int
    row: int

    def __post_init__(self) -> None:
        if self.column < 1 or self.row < 1:
            raise ValueError(message("column {column}, row {row}: both count from 1", column=self.column, row=self.row))

    def fits(self, other: "Address") -> bool:
        """Same column and row, and the same section unless one of the two does not name it."""
        same_cell = (self.column, self.row) == (other.column, other.row)
        named = bool(self.section and other.section)
        return same_cell and (not named or self.section.casefold() == other.section.casefold())

    def __str__(self) -> str:
        cell = f"column {self.column}, row {self.row}"
        return f"{self.section}, {cell}" if self.section else cell


# The ways in which one and the same carton number is written: on a manifest, in a symbol, in print.
#
# Sources: ANSI MH10.8.2 (data identifiers J, 1J to 6J before a license plate of ISO/IEC 15459-1); GS1 General
# Specifications (AI 00 and 18 digits, also in a symbol without FNC1; AI 420 and the postal code before a parcel number;
# AI 01 with GTIN-8, -12 and -13 in 14 digits); the lengths and places of parcel numbers in longer bar contents as the
# open collection tracking_number_data (MIT) gives them: 34 digits that end in a number of 12, 14 or 15 digits, 22
# digits from 96 on that end in one of 15.


GTIN_LENGTHS = (8, 12, 13, 14)
SHORTEST_FOLDED = 6
"""Shorter codes are compared as they are: case and spaces may be all that tells them apart."""

_SPACES = str.maketrans("", "", " -\u00a0\u2009\u202f")
_NUMBERED_IDENTIFIER = re.compile(r"[1-6]J(?=[A-Z0-9]{4})")
_PLAIN_IDENTIFIER = re.compile(r"J(?=[A-Z]{2}[A-Z0-9]*[0-9])")


def padded_gtin(code: str) -> str:
    """The code, or, where it has the length of a GTIN, its 14 digits with zeros in front.

    A reader gives a UPC-A of 12 digits as 13 or 14.

    >>> padded_gtin("036000291452"), padded_gtin("KX-1")
    ('00036000291452', 'KX-1')
    """
    return code.zfill(14) if len(code) in GTIN_LENGTHS and code.isascii() and code.isdigit() else code


@lru_cache(maxsize=16384)
def listed_forms(code: str) -> tuple[str, ...]:
    """The forms under which a code of a manifest is found, itself first: folded, and without a data identifier.

    >>> listed_forms("1z 999 aa1 01 2345 6784"), listed_forms("1JUN123456789A1")
    (('1z 999 aa1 01 2345 6784', '1Z999AA10123456784'), ('1JUN123456789A1', 'UN123456789A1'))
    """
    folded = code.translate(_SPACES).upper() if len(code) >= SHORTEST_FOLDED else code
    bare = _PLAIN_IDENTIFIER.sub("", _NUMBERED_IDENTIFIER.sub("", folded, count=1), count=1)
    return tuple(dict.fromkeys((padded_gtin(code), padded_gtin(folded), bare)))


@lru_cache(maxsize=16384)
def shown_forms(code: str) -> tuple[str, ...]:
    """The forms that a code of a label may have on the manifest, itself first; a long one holds a shorter number.

    >>> shown_forms("420123459405511899223197428490")[-1]
    '9405511899223197428490'
    """
    folded = code.translate(_SPACES).upper()
    inner: list[str] = []
    if folded.isascii() and folded.isdigit():
        if len(folded) == 20 and folded.startswith("00"):
            inner.append(folded[2:])
        if len(folded) == 34:
            inner += [folded[-12:], folded[-14:].lstrip("0"), folded[-15:]]
        if len(folded) == 22 and folded.startswith("96"):
            inner.append(folded[-15:])
        inner += [folded[found.end() :] for found in _postal_starts(folded)]
    return tuple(dict.fromkeys((*listed_forms(code), *(padded_gtin(number) for number in inner if number))))


def _postal_starts(digits: str) -> list[re.Match[str]]:
    """Both lengths of a postal code are tried where both fit."""
    shapes = (r"420[0-9]{5}(?=9[0-9]{19,25}$)", r"420[0-9]{9}(?=9[0-9]{19,25}$)")
    return [found for shape in shapes if (found := re.match(shape, digits))]
