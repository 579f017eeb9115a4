"""One cell's text -> a value, or ValueError with words that say what was expected."""

import re
from datetime import date
from decimal import Decimal
from difflib import get_close_matches

from receiving.expected.table import AS_TEXT
from receiving.model import CartonKind, Sscc, has_valid_check_digit
from receiving.model.limits import LARGEST_QUANTITY

MAX_ID = 120
MAX_TEXT = 2000

_MOST_DIGITS = len(str(LARGEST_QUANTITY))
_INTEGER = re.compile(f"[0-9]{{1,{_MOST_DIGITS}}}")
_DECIMAL = re.compile(r"[0-9]{1,12}(\.[0-9]{1,17})?|\.[0-9]{1,17}")
_SCIENTIFIC = re.compile(r"[0-9](?:[.,][0-9]+)?[eE]\+?[0-9]{1,3}")
_ROUNDED = re.compile(r"[0-9](?:[.,][0-9]+)?[eE]\+[0-9]{2,3}")
_CONTROL = re.compile(r"[\x00-\x1c\x1e\x1f\x7f\u2028\u2029]")
_SPACES = str.maketrans("", "", " \u00a0\u2009\u202f")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def shown(text: str) -> str:
    """The text as a message quotes it: at most 40 characters."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def parse_id(text: str) -> str:
    """An identifier: one line, at most `MAX_ID` characters. A barcode may hold U+001D.

    Says so when a spreadsheet has turned a long number into a rounded one.
    """
    if _ROUNDED.fullmatch(text):
        raise ValueError(f"{text!r} was damaged by a spreadsheet, its last digits are lost; {AS_TEXT}")
    if bad := _CONTROL.search(text):
        raise ValueError(f"{shown(text)} holds the control character U+{ord(bad[0]):04X}; an identifier is one line")
    if len(text) > MAX_ID:
        raise ValueError(f"{shown(text)} has {len(text):,} characters; at most {MAX_ID} are taken")
    return text


def parse_ids(text: str) -> tuple[str, ...]:
    """Several identifiers in one cell, each once: ``1Z5; 1Z6``."""
    return tuple(dict.fromkeys(parse_id(part.strip()) for part in text.split(";") if part.strip()))


def parse_text(text: str) -> str:
    """Free text of at most `MAX_TEXT` characters."""
    if len(text) > MAX_TEXT:
        raise ValueError(
            f"the cell holds {len(text):,} characters; at most {MAX_TEXT:,} are taken; is a quote missing?"
        )
    return text


def parse_count(text: str) -> int:
    """A whole number of at least 1 and at most nine digits, 0-9."""
    if text.isascii() and text.isdecimal() and len(text.lstrip("0")) > _MOST_DIGITS:
        raise ValueError(f"{shown(text)} is more than {LARGEST_QUANTITY:,}; is it another column's?")
    if not _INTEGER.fullmatch(text) or int(text) < 1:
        raise ValueError(f"{shown(text)} is not a whole number of at least 1{_whole_hint(text)}")
    return int(text)


def _whole_hint(text: str) -> str:
    """What a number with a mark in it may mean; three digits behind one mark may be thousands, so both are named."""
    if thousands := re.fullmatch(r"[1-9][0-9]{0,2}(?:([.,' \u00a0\u202f])[0-9]{3})(?:\1[0-9]{3})*", text):
        plain = text.replace(thousands[1], "")
        whole = text.split(thousands[1])[0]
        unsure = thousands[1] in ".," and text.count(thousands[1]) == 1
        return f"; write {plain} or {whole}, whichever is meant" if unsure else f"; write {plain}"
    whole_number = re.fullmatch(r"([1-9][0-9]{0,8})[.,]0{1,9}", text)
    return f"; write {whole_number[1]}" if whole_number else ""


def parse_position(text: str) -> int:
    """A column or row of a planogram: 1 to 9999."""
    number = parse_count(text)
    if number > 9999:
        raise ValueError(f"{text} is beyond 9999; no fixture has so many columns or rows")
    return number


def parse_measure(text: str) -> float:
    """A decimal number above 0, with a point."""
    if not _DECIMAL.fullmatch(text):
        comma = text.replace(",", ".", 1)
        hint = f"; write {comma}" if _DECIMAL.fullmatch(comma) else ""
        raise ValueError(f"{shown(text)} is not a decimal number above 0{hint}")
    if Decimal(text) <= 0:
        raise ValueError(f"{shown(text)} is not above 0; leave the cell empty when it is not known")
    return float(text)


def parse_yes_no(text: str) -> bool:
    """``yes`` or ``no``, in any case."""
    word = text.casefold()
    if word not in ("yes", "no"):
        raise ValueError(f"{shown(text)} is neither 'yes' nor 'no'")
    return word == "yes"


def parse_date(text: str) -> date:
    """An ISO 8601 calendar date, e.g. 2026-03-09."""
    try:
        if _DATE.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a day of the calendar") from None
    raise ValueError(f"{shown(text)} is not a date like 2026-03-09 (year-month-day)")


def parse_kind(text: str) -> CartonKind:
    """A carton kind by its word in the contract, in any case, with spaces or underscores."""
    word = "_".join(text.casefold().replace("_", " ").split())
    try:
        return CartonKind(word)
    except ValueError:
        near = get_close_matches(word[:40], [k.value for k in CartonKind], n=1)
        hint = f"; did you mean {near[0]!r}?" if near else f"; the kinds are {', '.join(k.value for k in CartonKind)}"
        raise ValueError(f"kind {shown(text)} is not known{hint}") from None


def parse_sscc(text: str) -> Sscc:
    """An SSCC of 18 digits, also as labels print it: in groups, behind ``(00)`` or ``00``.

    Says so when a spreadsheet has turned it into a rounded number.
    """
    if _SCIENTIFIC.fullmatch(text):
        raise ValueError(f"SSCC {text!r} was damaged by a spreadsheet, its last digits are lost; {AS_TEXT}")
    text = text.translate(_SPACES).removeprefix("(00)")
    if len(text) == 20 and text.startswith("00"):
        text = text[2:]
    if text.isascii() and text.isdigit() and text.endswith("000") and not has_valid_check_digit(text):
        raise ValueError(f"SSCC {text!r} has a wrong check digit and ends in 000: a spreadsheet damaged it; {AS_TEXT}")
    try:
        return Sscc(text)
    except ValueError as wrong:
        digits = len(text) == 18 and text.isascii() and text.isdigit()
        hint = "; where the label shows exactly this number, put it into the column barcode" if digits else ""
        raise ValueError(f"{wrong}{hint}") from None


def parse_references(text: str) -> tuple[tuple[str, str], ...]:
    """References of a shipment, ``purchase order=4711`` on each line of the cell -> pairs in that order."""
    pairs = []
    for entry in text.split("\n"):
        name, equals, value = (part.strip() for part in entry.partition("="))
        if not (name and equals and value):
            raise ValueError(f"{shown(entry)} is not like 'purchase order=4711', one on each line of the cell")
        pairs.append((parse_id(name), parse_id(value)))
    return tuple(pairs)


def write_references(references: tuple[tuple[str, str], ...]) -> str:
    """The cell that `parse_references` reads."""
    return "\n".join(f"{name}={value}" for name, value in references)
