"""The ways in which one and the same carton number is written: on a manifest, in a symbol, in print.

Sources: ANSI MH10.8.2 (data identifiers J, 1J to 6J before a license plate of ISO/IEC 15459-1); GS1 General
Specifications (AI 00 and 18 digits, also in a symbol without FNC1; AI 420 and the postal code before a parcel number;
AI 01 with GTIN-8, -12 and -13 in 14 digits); the lengths and places of parcel numbers in longer bar contents as the
open collection tracking_number_data (MIT) gives them: 34 digits that end in a number of 12, 14 or 15 digits, 22 digits
from 96 on that end in one of 15.
"""

import re
from functools import lru_cache

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
