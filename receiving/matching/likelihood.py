"""How well a partly read label fits a carton, in nats: 0 fits in all that is said, each doubt adds its cost.

The costs are minus the logarithm of how often the thing happens. The rates are set by hand and held against a
stochastic model of shipments (tests/bench/shipment_model.py); common practice, no published source.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from math import log

from receiving.matching.catalogue import Catalogue, codes_of
from receiving.matching.pieces import Piece
from receiving.model import Carton, CartonKind, LabelRead, SizeClass

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

CAUTION_BY_EYE = log(5)
"""A size tells a label from a known carton seen again only where that is 100 times as likely; a tap is soon wrong."""

SHORTEST_PART = 4
"""Fewer characters of a code than this fit by chance."""
LONG_PART = 6
LONGEST_NUMBER = 10
PART = re.compile(r"[0-9A-Za-z*?._/-]{4,40}")
WORD_GAP = re.compile(r"[\s,;:|]+")


@dataclass(frozen=True)
class Statement:
    """What a partly read label says, in sets; ``doubts`` are the checks that it calls for."""

    piece: Piece
    catalogue: Catalogue
    parts: tuple[str, ...]
    items: frozenset[str]
    numbers: frozenset[tuple[int, int | None]]
    ids: frozenset[str]
    kinds: frozenset[str]
    sections: frozenset[str]
    size: SizeClass | None
    doubts: tuple["Doubt", ...]

    def cost(self, carton: Carton) -> float:
        """What must have gone wrong for this label to be this carton's, in nats; 0 when nothing must."""
        return sum([doubt(self, carton) for doubt in self.doubts])


Doubt = Callable[[Statement, Carton], float]


def statement(piece: Piece, catalogue: Catalogue) -> Statement:
    """What this label says of its carton, besides whole codes."""
    claims = piece.claims
    parts, items = code_parts(piece, catalogue), items_said(piece, catalogue)
    numbers = frozenset([(claim.carton_n, claim.carton_total) for claim in claims if claim.carton_n is not None])
    ids = frozenset([claim.carton for claim in claims if claim.carton])
    kinds = kinds_said(piece)
    sections = frozenset([claim.section.casefold() for claim in claims if claim.section])
    size = piece.size_said
    doubts: list[Doubt] = []
    for said, doubt in (
        (piece.addresses, _address_doubt),
        (parts, _code_doubt),
        (ids, _id_doubt),
        (numbers and not ids, _number_doubt),
        (kinds, _kind_doubt),
        (sections, _section_doubt),
        (items, _item_doubt),
        (size, _size_doubt),
        (any(claim.open_first for claim in claims), _open_first_doubt),
    ):
        if said:
            doubts.append(doubt)
    return Statement(piece, catalogue, parts, items, numbers, ids, kinds, sections, size, tuple(doubts))


def candidates(said: Statement) -> tuple[tuple[str, float], ...]:
    """The cartons that something on the label points to, with their costs, in manifest order."""
    pointed, by_id = _pointed_to(said), said.catalogue.by_id
    costs = [(name, said.cost(by_id[name])) for name in by_id if name in pointed]
    return tuple([(name, nats) for name, nats in costs if nats <= TOO_DEAR])


def of_its_kind(said: Statement) -> tuple[str, ...]:
    """The cartons of the kind that the label names, within the section and of about the size that go with it.

    None where it names no kind.
    """
    if not said.kinds:
        return ()
    doubts = [doubt for doubt in (_kind_doubt, _section_doubt, _size_doubt) if doubt in said.doubts]
    fits = [(name, sum([doubt(said, carton) for doubt in doubts])) for name, carton in said.catalogue.by_id.items()]
    return tuple([name for name, nats in fits if nats < ASK_BELOW])


def code_parts(piece: Piece, catalogue: Catalogue) -> tuple[str, ...]:
    """The texts on the label that are a part of some code of the manifest.

    Only what a person typed or what was read from print counts: a symbol carries its whole code.
    """
    texts = dict.fromkeys(
        [read.claim.barcode or read.raw.raw.strip() for read in printed(piece) if not read.claim.sscc]
    )
    if not texts:
        return ()
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


def kinds_said(piece: Piece) -> frozenset[str]:
    """The kinds that the label names, folded."""
    kinds = [claim.kind.casefold() for claim in piece.claims if claim.kind]
    return frozenset([*kinds, *(CartonKind.OUTER.value for claim in piece.claims if claim.outer)])


def kind_cost(kinds: frozenset[str], carton: Carton) -> float:
    """What it costs that the label names these kinds."""
    return WRONG_KIND if kinds and not kinds & {carton.kind.value, carton.kind.words} else 0.0


def _pointed_to(said: Statement) -> set[str]:
    catalogue = said.catalogue
    found = {name for address in said.piece.addresses for name in catalogue.at(address)}
    if said.parts:
        found.update(n for code, names in catalogue.codes.items() for n in names if _fits_any(code, said.parts))
    found.update(name for word in said.items for name in catalogue.items[word])
    if said.numbers:
        number_doubt = _id_doubt if said.ids else _number_doubt
        found.update(name for name, carton in catalogue.by_id.items() if not number_doubt(said, carton))
    return found


def _fits_any(code: str, parts: tuple[str, ...]) -> bool:
    return any(fits_part(code, part) for part in parts)


def _known(part: str) -> int:
    return sum(c not in "*?" for c in part)


def _address_doubt(said: Statement, carton: Carton) -> float:
    stated = [line.address for line in carton.contents if line.address is not None]
    fits = any(address.fits(own) for address in said.piece.addresses for own in stated)
    return 0.0 if fits else WRONG_ADDRESS


def _code_doubt(said: Statement, carton: Carton) -> float:
    codes = codes_of(carton)
    return WRONG_CODE if codes and not any(_fits_any(code, said.parts) for code in codes) else 0.0


def _id_doubt(said: Statement, carton: Carton) -> float:
    return 0.0 if carton.carton in said.ids else WRONG_NUMBER


def _number_doubt(said: Statement, carton: Carton) -> float:
    name = carton.carton
    number = int(name) if name.isascii() and name.isdigit() and len(name) < LONGEST_NUMBER else None
    cartons = len(said.catalogue.by_id)
    totals = {None, cartons, cartons - said.catalogue.outer_count}
    told = {n for n, total in said.numbers if total in totals}
    return WRONG_NUMBER if told and number not in told else 0.0


def _kind_doubt(said: Statement, carton: Carton) -> float:
    return kind_cost(said.kinds, carton)


def _section_doubt(said: Statement, carton: Carton) -> float:
    own = {section.casefold() for section in carton.sections}
    return WRONG_SECTION if own and not said.sections & own else 0.0


def _item_doubt(said: Statement, carton: Carton) -> float:
    return 0.0 if any(carton.carton in said.catalogue.items[word] for word in said.items) else WRONG_ITEM


def _size_doubt(said: Statement, carton: Carton) -> float:
    return 0.0 if said.size is None else -log(said.catalogue.sizes.chance(said.size, carton))


def _open_first_doubt(said: Statement, carton: Carton) -> float:
    return 0.0 if carton.open_first else NOT_OPEN_FIRST
