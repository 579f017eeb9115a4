"""A range of SSCCs from the first to the last, each with its own check digit."""

from receiving.expected.edi_log import EdiLog
from receiving.model import has_valid_check_digit, mod10_check_digit

MOST = 10_000
"""Cartons that one range may name; more is taken for an error of the sender."""

MOST_IN_FILE = 100_000
"""Cartons that all ranges of a file may name together, so that a short file cannot ask for millions."""


def bare_sscc(text: str) -> str:
    """The 18 digits of an SSCC that is written with spaces, brackets or its application identifier 00."""
    plain = text.replace(" ", "").replace("-", "")
    if plain.startswith("(00)"):
        return plain[4:]
    return plain[2:] if len(plain) == 20 and plain.startswith("00") else plain


def counted_out(first: str, last: str, log: EdiLog, segment: int) -> list[str]:
    """The numbers that a mark names: one, or all of a range; a range that is none is listed, and its ends are kept."""
    if not last or last == first:
        return [first] if first else []
    numbers = sscc_range(first, last)
    if log.counted_out + len(numbers) > MOST_IN_FILE:
        numbers = []
    log.counted_out += len(numbers)
    if not numbers:
        log.list(segment, f"{first} to {last}", "the range of serial numbers cannot be counted out; its ends are kept")
    return numbers or [number for number in (first, last) if number]


def sscc_range(first: str, last: str) -> list[str]:
    """All SSCCs from ``first`` to ``last``; empty when they are no range (other prefix, wrong order, too many)."""
    start, end = bare_sscc(first), bare_sscc(last)
    if not (_sound(start) and _sound(end)):
        return []
    low, high = int(start[:-1]), int(end[:-1])
    if not low <= high < low + MOST:
        return []
    bodies = (f"{body:017d}" for body in range(low, high + 1))
    return [body + mod10_check_digit(body) for body in bodies]


def _sound(digits: str) -> bool:
    return len(digits) == 18 and has_valid_check_digit(digits)
