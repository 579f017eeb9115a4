"""How well a partly read label fits a carton, in nats: 0 fits in all that is said, each doubt adds its cost.

The costs are minus the logarithm of how often the thing happens. The rates are set by hand and held against a
stochastic model of shipments (tests/bench/shipment_model.py); common practice, no published source.
"""

import re
from math import log

from receiving.matching.catalogue import Catalogue, codes_of
from receiving.matching.pieces import Piece
from receiving.model import Carton, CartonKind, LabelRead

STRAY = -log(0.005)
"""A label in the pile is of no carton of the manifest: one in 200."""
STRAY_IN_COMPANY = -log(0.1)
"""The same where another carton of a shipment is here that also has one for the label's place: one in 10, asked for."""
SEEN_AGAIN = -log(0.02)
"""The open carton is missing, and the label is a known one, scanned before and now read in part: one in 50."""
SEEN_FROM_ASIDE = -log(0.1)
"""The same where photos show the known label, none of them beside this one: one in 10, so that it is asked for."""
SAME_LABEL = -log(0.5)
"""Two views of a torn label, or a torn label of a carton that a person has already named: even odds."""
WRONG_ADDRESS = -log(0.0001)
WRONG_CODE = -log(0.00001)
WRONG_NUMBER = -log(0.005)
WRONG_KIND = -log(0.01)
WRONG_SECTION = -log(0.002)
WRONG_ITEM = -log(0.05)
NOT_OPEN_FIRST = -log(0.05)
TOO_DEAR = STRAY + SEEN_AGAIN
"""A carton that fits worse than this is no candidate."""
ASK_BELOW = log(20)
"""An answer less than 20 times as likely as the next best one is a question for a person."""

SHORTEST_PART = 4
"""Fewer characters of a code than this fit by chance."""
LONG_PART = 6
LONGEST_NUMBER = 10
PART = re.compile(r"[0-9A-Za-z*?._/-]{4,40}")
WORD_GAP = re.compile(r"[\s,;:|]+")


def cost(piece: Piece, carton: Carton, catalogue: Catalogue) -> float:
    """What must have gone wrong for this label to be this carton's, in nats; 0 when nothing must."""
    return (
        _address_cost(piece, carton)
        + _code_cost(piece, carton, catalogue)
        + _number_cost(piece, carton, catalogue)
        + kind_cost(piece, carton)
        + _section_cost(piece, carton)
        + _item_cost(piece, carton, catalogue)
        + _open_first_cost(piece, carton)
    )


def candidates(piece: Piece, catalogue: Catalogue) -> tuple[tuple[str, float], ...]:
    """The cartons that something on the label points to, with their costs, in manifest order."""
    pointed = _pointed_to(piece, catalogue)
    costs = ((name, cost(piece, catalogue.by_id[name], catalogue)) for name in catalogue.by_id if name in pointed)
    return tuple((name, nats) for name, nats in costs if nats <= TOO_DEAR)


def of_its_kind(piece: Piece, catalogue: Catalogue) -> tuple[str, ...]:
    """The cartons of the kind that the label names, within the section that it names; none where it names no kind."""
    if not piece.values("kind") and not any(claim.outer for claim in piece.claims):
        return ()
    fitting = (name for name, c in catalogue.by_id.items() if not kind_cost(piece, c) + _section_cost(piece, c))
    return tuple(fitting)


def code_parts(piece: Piece, catalogue: Catalogue) -> tuple[str, ...]:
    """The texts on the label that are a part of some code of the manifest.

    Only what a person typed or what was read from print counts: a symbol carries its whole code.
    """
    texts = dict.fromkeys(read.claim.barcode or read.raw.raw.strip() for read in printed(piece) if not read.claim.sscc)
    parts = (text for text in texts if PART.fullmatch(text) and _known(text) >= SHORTEST_PART)
    return tuple(part for part in parts if any(fits_part(code, part) for code in catalogue.codes))


def fits_part(code: str, part: str) -> bool:
    """True when ``part`` can be a piece of ``code``: ``*`` and ``?`` stand for what cannot be read.

    A part without such a mark is the end of the code, or, from six characters on, any piece of it.

    >>> fits_part("395200000000010048", "0048"), fits_part("395200000000010048", "3952*0048")
    (True, True)
    """
    code, part = code.casefold(), part.casefold()
    if not set(part) & set("*?"):
        return len(part) < len(code) and (code.endswith(part) or (len(part) >= LONG_PART and part in code))
    return re.fullmatch(_pattern(part), code) is not None


def _pattern(part: str) -> str:
    """The part as an expression that takes linear time: what lies between two stars is taken at its first place."""
    pieces = ["".join("." if c == "?" else re.escape(c) for c in piece) for piece in part.split("*")]
    if len(pieces) == 1:
        return pieces[0]
    middle = "".join(f"(?>.*?{piece})" for piece in pieces[1:-1])
    return f"{pieces[0]}{middle}.*{pieces[-1]}"


def printed(piece: Piece) -> tuple[LabelRead, ...]:
    """Its reads that are text, typed or read from print, and no symbol."""
    return tuple(read for read in piece.reads if not read.raw.symbology)


def items_said(piece: Piece, catalogue: Catalogue) -> frozenset[str]:
    """The manifest's item numbers that the label names or shows in print, folded."""
    words = {claim.item.casefold() for claim in piece.claims if claim.item}
    words.update(word for read in printed(piece) for word in WORD_GAP.split(read.raw.raw.casefold()))
    return frozenset(words & catalogue.items.keys()) if words else frozenset()


def _pointed_to(piece: Piece, catalogue: Catalogue) -> set[str]:
    found = {name for address in piece.addresses for name in catalogue.at(address)}
    parts = code_parts(piece, catalogue)
    words = items_said(piece, catalogue)
    if parts:
        found.update(name for code, names in catalogue.codes.items() for name in names if _fits_any(code, parts))
    found.update(name for word in words for name in catalogue.items[word])
    if any(claim.carton_n is not None for claim in piece.claims):
        found.update(name for name, c in catalogue.by_id.items() if not _number_cost(piece, c, catalogue))
    return found


def _fits_any(code: str, parts: tuple[str, ...]) -> bool:
    return any(fits_part(code, part) for part in parts)


def _known(part: str) -> int:
    return sum(c not in "*?" for c in part)


def _address_cost(piece: Piece, carton: Carton) -> float:
    if not piece.addresses or any(said.fits(own) for said in piece.addresses for own in carton.addresses):
        return 0.0
    return WRONG_ADDRESS


def _code_cost(piece: Piece, carton: Carton, catalogue: Catalogue) -> float:
    parts = code_parts(piece, catalogue) if printed(piece) else ()
    codes = codes_of(carton)
    if not parts or not codes or any(_fits_any(code, parts) for code in codes):
        return 0.0
    return WRONG_CODE


def _number_cost(piece: Piece, carton: Carton, catalogue: Catalogue) -> float:
    said = {(claim.carton_n, claim.carton_total) for claim in piece.claims if claim.carton_n is not None}
    ids = set(piece.values("carton"))
    if ids:
        return 0.0 if carton.carton in ids else WRONG_NUMBER
    if not said:
        return 0.0
    name = carton.carton
    number = int(name) if name.isascii() and name.isdigit() and len(name) < LONGEST_NUMBER else None
    totals = {None, len(catalogue.by_id), len(catalogue.by_id) - catalogue.outer_count}
    told = {n for n, total in said if total in totals}
    return WRONG_NUMBER if told and number not in told else 0.0


def kind_cost(piece: Piece, carton: Carton) -> float:
    """What it costs that the label names another kind than the carton's."""
    kinds = {kind.casefold() for kind in piece.values("kind")}
    if any(claim.outer for claim in piece.claims):
        kinds.add(CartonKind.OUTER.value)
    return WRONG_KIND if kinds and not kinds & {carton.kind.value, carton.kind.words} else 0.0


def _section_cost(piece: Piece, carton: Carton) -> float:
    named = {section.casefold() for section in piece.values("section")}
    own = {section.casefold() for section in carton.sections}
    return WRONG_SECTION if named and own and not named & own else 0.0


def _item_cost(piece: Piece, carton: Carton, catalogue: Catalogue) -> float:
    shown = items_said(piece, catalogue)
    return WRONG_ITEM if shown and not any(carton.carton in catalogue.items[word] for word in shown) else 0.0


def _open_first_cost(piece: Piece, carton: Carton) -> float:
    return NOT_OPEN_FIRST if not carton.open_first and any(claim.open_first for claim in piece.claims) else 0.0
