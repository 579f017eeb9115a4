"""What a piece of evidence can say: a carton, one of several, or none of this shipment."""

from dataclasses import dataclass

from receiving.matching.catalogue import Listed
from receiving.matching.pieces import Piece
from receiving.model import Claim, How, OverReason


@dataclass(frozen=True)
class Proven:
    """This piece is that carton; ``how`` says by what the label showed it, ``odds`` how far ahead of the next best."""

    piece: Piece
    carton: str
    how: How
    sentence: str
    by_person: bool = False
    odds: float | None = None


@dataclass(frozen=True)
class Unsure:
    """This piece fits these cartons (none, one or several); the other evidence must decide.

    ``costs`` say in nats how ill each fits, where only parts of a label speak. ``code`` is the code that several
    cartons share. ``ask`` is set where nothing but a person may decide, and says why; ``otherwise`` is what the piece
    is where none of these cartons is open.
    """

    piece: Piece
    cartons: tuple[str, ...]
    fits: str
    costs: tuple[float, ...] = ()
    how: How = How.ADDRESS
    code: str = ""
    ask: str = ""
    otherwise: "Stray | None" = None


@dataclass(frozen=True)
class Stray:
    """This piece is no carton of the manifest. Pieces with one ``key`` are one thing."""

    piece: Piece
    key: str
    raw: str
    why: OverReason
    sentence: str
    listed: Listed | None = None
    store: str = ""


Finding = Proven | Unsure | Stray


def said(code: str, how: How | None = None) -> str:
    """The code with the word for what it is; with ``how``, as the start of a sentence."""
    if code.startswith("carton "):
        return f"the printed {code}" if how is None else f"The printed {code}"
    word = "SSCC" if how is How.SSCC or (how is None and len(code) == 18 and code.isdigit()) else "barcode"
    return f"{word} {code}" if how is None or word == "SSCC" else f"Barcode {code}"


def codes_claimed(claim: Claim) -> tuple[str, ...]:
    """The codes that one symbol claims: SSCC, barcode, GTIN."""
    values = (getattr(claim, name) for name in ("sscc", "barcode", "gtin"))
    return tuple(str(value) for value in values if value)


def codes_of_piece(piece: Piece) -> tuple[str, ...]:
    """The codes on the whole label."""
    return tuple(code for claim in piece.claims for code in codes_claimed(claim))


def stray_key(piece: Piece) -> str:
    """What makes two unknown labels one thing: their code, or the whole text where there is none."""
    codes = codes_of_piece(piece)
    return codes[0] if codes else "|".join(sorted({read.raw.raw for read in piece.reads}))


def stray_raw(piece: Piece) -> str:
    """The text of the read that says most: with an SSCC, with another code, or the first."""
    for name in ("sscc", "barcode", "gtin", "address"):
        for read in piece.reads:
            if getattr(read.claim, name):
                return read.raw.raw
    return piece.reads[0].raw.raw
