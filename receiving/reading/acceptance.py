"""Which decoder answers are believed: a wrong label is worse than none, and good decoders misread.

Modulo 103 lets one blurred Code 128 in a hundred through, ITF and Code 39 have no check at all, and a part of an ITF
symbol is a shorter ITF symbol (ISO/IEC 16390, annex on partial scans). So an answer must bring its own proof, or a
second, independent attempt must say the same, or the manifest must expect it.
"""

from __future__ import annotations

from enum import Enum
from functools import lru_cache

from receiving.model import has_valid_check_digit
from receiving.reading.decoders import Decoded

MIN_CODE39, MIN_ITF, MIN_CODE128 = 4, 6, 2
"""Characters below which an answer of the symbology is taken for a scrap of print."""

MIN_SPARE = 0.1
"""Unused error correction below which a text may have been corrected to a wrong one; real photos keep 0.16 and more."""

GS = "\x1d"


class Proof(Enum):
    """What one decoder answer brings along."""

    OWN = "error correction, or a GS1 key with its check digit"
    NEEDS_SECOND = "a second attempt must agree"
    NONE = "never without the manifest"


@lru_cache(maxsize=4096)  # each pair of symbols of a photo is asked for it
def sscc_of(raw: str) -> str:
    """The 18 digits of AI 00 with a right check digit at the start of an element string, else ''."""
    digits = raw[2:20]
    return digits if raw[:2] == "00" and len(digits) == 18 and has_valid_check_digit(digits) else ""


def is_sscc_alone(raw: str) -> bool:
    """True for AI 00 and a right SSCC, and nothing else: such a text is printed as GS1-128, with FNC1 first."""
    return len(raw) == 20 and sscc_of(raw) != ""


def proof_of(answer: Decoded) -> Proof:
    """What this answer proves by itself."""
    raw = answer.raw
    if not answer.linear:
        # ZBar guesses the character set of a QR code; its plain ASCII is safe, the rest is not.
        plain = answer.reader != "zbar" or raw.isascii()
        return (Proof.OWN if answer.spare >= MIN_SPARE else Proof.NEEDS_SECOND) if plain else Proof.NONE
    if answer.format == "Code128":
        gs1 = sscc_of(raw) or (raw[:2] in ("01", "02") and has_valid_check_digit(raw[2:16]))
        if gs1 and answer.symbology == "]C1":
            return Proof.OWN
        return Proof.NEEDS_SECOND if len(raw) >= MIN_CODE128 else Proof.NONE
    if answer.format == "ITF":
        return Proof.NEEDS_SECOND if len(raw) >= MIN_ITF else Proof.NONE
    if answer.format == "Code39":
        return Proof.NEEDS_SECOND if len(raw) >= MIN_CODE39 else Proof.NONE
    return Proof.NEEDS_SECOND


def has_check(answer: Decoded) -> bool:
    """True when the symbology, or the text's own check digit, tells most wrong texts from right ones."""
    if answer.format == "ITF":
        return len(answer.raw) == 14 and has_valid_check_digit(answer.raw)
    return answer.format != "Code39"


def same_text(a: Decoded, b: Decoded) -> bool:
    """True when two answers name one content: ZBar drops FNC1, and an UPC-A is an EAN-13 with a leading zero."""
    if _family(a) != _family(b):
        return False
    return _plain(a) == _plain(b)


def is_part_of(answer: Decoded, whole: Decoded) -> bool:
    """True when the answer is a scrap of a longer one: what a scan line gives that leaves the bars half way."""
    return answer.format == whole.format and answer.raw != whole.raw and answer.raw in whole.raw


def _family(answer: Decoded) -> str:
    return "EANUPC" if answer.symbology.startswith("]E") else answer.format


def _plain(answer: Decoded) -> str:
    text = answer.raw.replace(GS, "")
    return text.zfill(13) if answer.symbology.startswith("]E") else text
