"""A range of SSCCs from the first to the last, each with its own check digit."""

from receiving.model import has_valid_check_digit, mod10_check_digit

MOST = 10_000
"""Cartons that one range may name; more is taken for an error of the sender."""


def bare_sscc(text: str) -> str:
    """The 18 digits of an SSCC that is written with spaces, brackets or its application identifier 00."""
    plain = text.replace(" ", "").replace("-", "")
    if plain.startswith("(00)"):
        return plain[4:]
    return plain[2:] if len(plain) == 20 and plain.startswith("00") else plain


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
