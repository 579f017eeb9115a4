"""One cell's text -> a value, or ValueError with words that say what was expected."""

import re
from datetime import date
from decimal import Decimal
from difflib import get_close_matches

from receiving.errors import words_of_error
from receiving.expected.table import AS_TEXT
from receiving.messages import Text, figure, joined, message
from receiving.model import CartonKind, Sscc, has_valid_check_digit
from receiving.model.hidden_characters import hidden_character_words
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


def quote(text: str) -> str:
    """The text as a message quotes it: at most 40 characters."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def parse_id(text: str) -> str:
    """An identifier: one line, at most `MAX_ID` characters. A barcode may hold U+001D.

    Says so when a spreadsheet has turned a long number into a rounded one.
    """
    if _ROUNDED.fullmatch(text):
        raise ValueError(
            joined(
                message("{text} was damaged by a spreadsheet, its last digits are lost", text=repr(text)),
                AS_TEXT,
                separator="; ",
            )
        )
    if bad := _CONTROL.search(text):
        raise ValueError(
            message(
                "{text} holds the control character U+{code}; an identifier is one line",
                text=quote(text),
                code=format(ord(bad[0]), "04X"),
            )
        )
    _refuse_hidden_characters(text.replace("\x1d", ""))
    if len(text) > MAX_ID:
        raise ValueError(
            message(
                "{text} has {number} characters; at most {most} are accepted",
                text=quote(text),
                number=figure(len(text)),
                most=MAX_ID,
            )
        )
    return text


def _refuse_hidden_characters(text: str) -> None:
    if hidden := hidden_character_words(text):
        raise ValueError(message("{text} cannot be used: {fault}", text=quote(text), fault=hidden))


def parse_ids(text: str) -> tuple[str, ...]:
    """Several identifiers in one cell, each once: ``1Z5; 1Z6``."""
    return tuple(dict.fromkeys(parse_id(part.strip()) for part in text.split(";") if part.strip()))


def parse_text(text: str) -> str:
    """Free text of at most `MAX_TEXT` characters."""
    if len(text) > MAX_TEXT:
        raise ValueError(
            message(
                "the cell holds {number} characters; at most {most} are accepted; is a quote missing?",
                number=figure(len(text)),
                most=figure(MAX_TEXT),
            )
        )
    _refuse_hidden_characters(text)
    return text


def parse_count(text: str) -> int:
    """A whole number of at least 1 and at most nine digits, 0-9."""
    if text.isascii() and text.isdecimal() and len(text.lstrip("0")) > _MOST_DIGITS:
        raise ValueError(
            message(
                "{text} is more than {most}; is it another column's?",
                text=quote(text),
                most=figure(LARGEST_QUANTITY),
            )
        )
    if not _INTEGER.fullmatch(text) or int(text) < 1:
        raise ValueError(
            joined(
                message("{text} is not a whole number of at least 1", text=quote(text)),
                _whole_hint(text),
                separator="; ",
            )
        )
    return int(text)


def _whole_hint(text: str) -> Text:
    """What a number with a mark in it may mean; three digits behind one mark may be thousands, so both are named."""
    if thousands := re.fullmatch(r"[1-9][0-9]{0,2}(?:([.,' \u00a0\u202f])[0-9]{3})(?:\1[0-9]{3})*", text):
        plain = text.replace(thousands[1], "")
        whole = text.split(thousands[1])[0]
        unsure = thousands[1] in ".," and text.count(thousands[1]) == 1
        return (
            message("write {number} or {other}, whichever is meant", number=plain, other=whole)
            if unsure
            else message("write {number}", number=plain)
        )
    whole_number = re.fullmatch(r"([1-9][0-9]{0,8})[.,]0{1,9}", text)
    return message("write {number}", number=whole_number[1]) if whole_number else ""


def parse_position(text: str) -> int:
    """A column or row of a planogram: 1 to 9999."""
    number = parse_count(text)
    if number > 9999:
        raise ValueError(message("{text} is beyond 9999; no fixture has this many columns or rows", text=text))
    return number


def parse_measure(text: str) -> float:
    """A decimal number above 0, with a point."""
    if not _DECIMAL.fullmatch(text):
        comma = text.replace(",", ".", 1)
        hint: Text = message("write {number}", number=comma) if _DECIMAL.fullmatch(comma) else ""
        raise ValueError(
            joined(message("{text} is not a decimal number above 0", text=quote(text)), hint, separator="; ")
        )
    if Decimal(text) <= 0:
        raise ValueError(message("{text} is not above 0; leave the cell empty when it is not known", text=quote(text)))
    return float(text)


def parse_yes_no(text: str) -> bool:
    """``yes`` or ``no``, in any case."""
    word = text.casefold()
    if word not in ("yes", "no"):
        raise ValueError(message("{text} is neither 'yes' nor 'no'", text=quote(text)))
    return word == "yes"


def parse_date(text: str) -> date:
    """An ISO 8601 calendar date, e.g. 2026-03-09."""
    try:
        if _DATE.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        raise ValueError(message("{text} is not a day of the calendar", text=repr(text))) from None
    raise ValueError(message("{text} is not a date like 2026-03-09 (year-month-day)", text=quote(text)))


def parse_kind(text: str) -> CartonKind:
    """A carton kind by its word in the contract, in any case, with spaces or underscores."""
    word = "_".join(text.casefold().replace("_", " ").split())
    try:
        return CartonKind(word)
    except ValueError:
        near = get_close_matches(word[:40], [k.value for k in CartonKind], n=1)
        hint = (
            message("did you mean {kind}?", kind=repr(near[0]))
            if near
            else message("the kinds are {kinds}", kinds=", ".join(k.value for k in CartonKind))
        )
        raise ValueError(joined(message("kind {kind} is not known", kind=quote(text)), hint, separator="; ")) from None


def parse_sscc(text: str) -> Sscc:
    """An SSCC of 18 digits, also as labels print it: in groups, behind ``(00)`` or ``00``.

    Says so when a spreadsheet has turned it into a rounded number.
    """
    if _SCIENTIFIC.fullmatch(text):
        raise ValueError(
            joined(
                message("SSCC {text} was damaged by a spreadsheet, its last digits are lost", text=repr(text)),
                AS_TEXT,
                separator="; ",
            )
        )
    text = text.translate(_SPACES).removeprefix("(00)")
    if len(text) == 20 and text.startswith("00"):
        text = text[2:]
    if text.isascii() and text.isdigit() and text.endswith("000") and not has_valid_check_digit(text):
        raise ValueError(
            joined(
                message(
                    "SSCC {text} has a wrong check digit and ends in 000: a spreadsheet damaged it", text=repr(text)
                ),
                AS_TEXT,
                separator="; ",
            )
        )
    try:
        return Sscc(text)
    except ValueError as wrong:
        digits = len(text) == 18 and text.isascii() and text.isdigit()
        hint: Text = ""
        if digits:
            hint = message("where the label shows exactly this number, put it into the column barcode")
        raise ValueError(joined(words_of_error(wrong), hint, separator="; ")) from None


def parse_references(text: str) -> tuple[tuple[str, str], ...]:
    """References of a shipment, ``purchase order=4711`` on each line of the cell -> pairs in that order."""
    pairs = []
    for entry in text.split("\n"):
        name, equals, value = (part.strip() for part in entry.partition("="))
        if not (name and equals and value):
            raise ValueError(
                message("{entry} is not like 'purchase order=4711', one on each line of the cell", entry=quote(entry))
            )
        pairs.append((parse_id(name), parse_id(value)))
    return tuple(pairs)


def write_references(references: tuple[tuple[str, str], ...]) -> str:
    """The cell that `parse_references` reads."""
    return "\n".join(f"{name}={value}" for name, value in references)
