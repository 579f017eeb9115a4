"""Identifiers: SSCC, GTIN check digits, planogram addresses."""

from dataclasses import dataclass

from receiving.messages import message


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


@dataclass(frozen=True, order=True, slots=True)
class Sscc:
    """A serial shipping container code: 18 digits with a right check digit; cannot exist wrong.

    >>> str(Sscc("106141411234567897"))
    '106141411234567897'
    """

    digits: str

    def __post_init__(self) -> None:
        text = self.digits
        if not (text.isascii() and text.isdigit()):
            raise ValueError(
                message("SSCC {text} holds something other than digits 0-9; an SSCC is 18 digits", text=repr(text))
            )
        if len(text) != 18:
            raise ValueError(
                message("SSCC {text} has {number} digits; an SSCC has 18", text=repr(text), number=len(text))
            )
        wanted = mod10_check_digit(text[:-1])
        if wanted != text[-1]:
            raise ValueError(
                message(
                    "SSCC {text} has check digit {digit}; its first 17 digits give {right}",
                    text=repr(text),
                    digit=text[-1],
                    right=wanted,
                )
            )

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
            raise ValueError(f"column {self.column}, row {self.row}: both count from 1")

    def fits(self, other: "Address") -> bool:
        """Same column and row, and the same section unless one of the two does not name it."""
        same_cell = (self.column, self.row) == (other.column, other.row)
        named = bool(self.section and other.section)
        return same_cell and (not named or self.section.casefold() == other.section.casefold())

    def __str__(self) -> str:
        cell = f"column {self.column}, row {self.row}"
        return f"{self.section}, {cell}" if self.section else cell
