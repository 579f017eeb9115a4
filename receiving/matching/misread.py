"""SSCCs that cannot be: mistyped or misprinted digits, explained, and held against the cartons that were meant."""

import re
from collections.abc import Iterator

from receiving.matching.catalogue import Catalogue
from receiving.matching.pieces import Piece
from receiving.matching.verdicts import Finding, Stray, Unsure
from receiving.model import Claim, LabelRead, Source

SPACES = str.maketrans("", "", " -.()\u00a0\u2009\u202f")
SSCC_AI = "00"
SSCC_LENGTH = 18
NEAR_LENGTHS = range(SSCC_LENGTH - 1, SSCC_LENGTH + 2)


def faulty(piece: Piece) -> str:
    """What is wrong with a label that claims nothing but faulty data; empty where it claims anything."""
    if any(claims_something(claim) for claim in piece.claims):
        return ""
    return " ".join(dict.fromkeys(warning for claim in piece.claims for warning in claim.warnings))


def claims_something(claim: Claim) -> bool:
    """The claim holds a code, a place or a word of a carton."""
    named = (claim.sscc, claim.barcode, claim.gtin, claim.address, claim.carton, claim.carton_n)
    return any(named) or any((claim.shipment, claim.store, claim.kind, claim.open_first, claim.outer, claim.item))


def meant(piece: Piece, catalogue: Catalogue, otherwise: Finding) -> Finding:
    """A question, never a match, where digits on the label are no SSCC but one slip of the hand away from one.

    ``otherwise`` is what the label is without that: it stands where no carton is near, where the near ones are all
    here, and where it points to one of them too.
    """
    for digits in dict.fromkeys(digits for read in piece.reads for digits in _digits_of_no_sscc(read)):
        near = tuple(c.carton for c in catalogue.manifest if c.sscc and one_slip_apart(digits, c.sscc.digits))
        if near:
            fault = faulty(piece) or f"{digits} is no SSCC, which has {SSCC_LENGTH} digits."
            return _asked(piece, near, digits, f"{fault} An SSCC of the manifest is one slip away", otherwise)
    return otherwise


def one_slip_apart(typed: str, code: str) -> bool:
    """One character wrong, missing, too many, or two neighbours swapped, and nothing else.

    The slips that make up most errors in copied numbers (Damerau 1964, doi:10.1145/363958.363994).

    >>> one_slip_apart("395200000000010049", "395200000000010042"), one_slip_apart("3592", "3952")
    (True, True)
    """
    if typed == code or abs(len(typed) - len(code)) > 1:
        return False
    shorter = min(len(typed), len(code))
    start = next((n for n in range(shorter) if typed[n] != code[n]), shorter)
    one, two = typed[start:], code[start:]
    if len(one) != len(two):
        return one[1:] == two if len(one) > len(two) else one == two[1:]
    return one[1:] == two[1:] or (one[1::-1] + one[2:]) == two


def _asked(piece: Piece, near: tuple[str, ...], digits: str, ask: str, otherwise: Finding) -> Finding:
    fits = f"carries {digits}, one slip away from an SSCC of the manifest"
    if not isinstance(otherwise, Unsure):
        return Unsure(piece, near, fits, ask=ask, otherwise=otherwise if isinstance(otherwise, Stray) else None)
    if set(near) & set(otherwise.cartons):
        return otherwise
    return Unsure(piece, tuple(dict.fromkeys((*near, *otherwise.cartons))), fits, ask=ask)


def _digits_of_no_sscc(read: LabelRead) -> Iterator[str]:
    """The digits that stand where an SSCC should: of AI 00, or all that was typed."""
    claim = read.claim
    if claim.sscc is not None:
        return
    if claim.warnings:
        yield from (value for ai, value in claim.elements if ai == SSCC_AI and len(value) in NEAR_LENGTHS)
    typed = read.raw.source is not Source.PHOTO and not read.raw.symbology
    digits = (claim.barcode or read.raw.raw).translate(SPACES)
    if (typed or claim.warnings) and len(digits) in NEAR_LENGTHS and re.fullmatch("[0-9]+", digits):
        yield digits
