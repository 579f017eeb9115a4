"""Weights and lengths of EDI messages -> kilograms and centimetres; quantities -> whole numbers.

Units: UN/ECE Recommendation 20 (KGM, LBR, CMT ...) and the X12 element 355 codes (KG, LB, IN ...), from memory.
Factors: NIST Special Publication 811, appendix B (exact for pound, ounce, inch and foot).
"""

import re

_TO_KG = {
    **dict.fromkeys(("KG", "KGM", "KGS"), 1.0),
    **dict.fromkeys(("GR", "GRM", "G"), 0.001),
    **dict.fromkeys(("LB", "LBR", "LBS"), 0.45359237),
    **dict.fromkeys(("OZ", "ONZ"), 0.028349523125),
}
_TO_CM = {
    **dict.fromkeys(("CM", "CMT"), 1.0),
    **dict.fromkeys(("MM", "MMT"), 0.1),
    **dict.fromkeys(("MR", "MTR", "M"), 100.0),
    **dict.fromkeys(("IN", "INH"), 2.54),
    **dict.fromkeys(("FT", "FOT"), 30.48),
}
_NUMBER = re.compile(r"-?[0-9]{0,12}(?:[.,][0-9]{0,12})?")


def parse_number(text: str) -> float | None:
    """A number with a point or a comma as its decimal sign; None when it is no number."""
    if not _NUMBER.fullmatch(text) or not any("0" <= sign <= "9" for sign in text):
        return None
    return float(text.replace(",", "."))


def kilograms(value: str, unit: str) -> float | None:
    """A weight in kilograms to the gram; None for a unit that is not known or a value that is not above 0."""
    return _scaled(value, _TO_KG.get(unit.upper()))


def centimetres(value: str, unit: str) -> float | None:
    """A length in centimetres to the hundredth; None for an unknown unit or a value that is not above 0."""
    return _scaled(value, _TO_CM.get(unit.upper()))


def _scaled(value: str, factor: float | None) -> float | None:
    number = parse_number(value)
    if number is None or factor is None:
        return None
    return round(number * factor, 3) or None if number > 0 else None


def whole_quantity(text: str) -> int | None:
    """A quantity of at least 1 that is whole (``24``, ``24.0``); None otherwise."""
    number = parse_number(text)
    return int(number) if number is not None and number >= 1 and number == int(number) else None
