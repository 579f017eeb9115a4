"""Pieces that fit no carton or several by themselves, settled by all the other evidence.

The rule throughout: nothing is guessed. A label that gives only a position is the one carton still open there,
if every other carton of that position is proven by a code of its own; else a person is asked.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from receiving.matching.catalogue import Catalogue
from receiving.matching.identify import Proven, Unsure
from receiving.matching.pieces import Piece, is_typed
from receiving.model import How


@dataclass(frozen=True)
class Ask:
    """Pieces that a person must place, and the cartons that they may be."""

    pieces: tuple[Piece, ...]
    cartons: tuple[str, ...]
    prompt: str


@dataclass(frozen=True)
class Again:
    """A piece that fits several cartons, all of which are proven anyway."""

    piece: Piece
    sentence: str


@dataclass
class Ledger:
    """Who is proven by what so far, while the unsure pieces are settled."""

    catalogue: Catalogue
    proven: dict[str, list[Proven]] = field(default_factory=lambda: defaultdict(list))
    confirmed: frozenset[str] = frozenset()
    asks: list[Ask] = field(default_factory=list)
    again: list[Again] = field(default_factory=list)

    def is_here(self, carton: str) -> bool:
        """Some evidence proves this carton."""
        return carton in self.confirmed or bool(self.proven.get(carton))

    def by_own_label(self, carton: str) -> bool:
        """A machine read this carton's own code, so that its label is whole; a torn label is then another's."""
        return any(_shows_whole_label(found) for found in self.proven.get(carton, ()))

    def open(self, cartons: Iterable[str]) -> tuple[str, ...]:
        """Those of the cartons that nothing proves."""
        return tuple(c for c in cartons if not self.is_here(c))

    def add(self, piece: Piece, carton: str, how: How, sentence: str) -> None:
        """Record that this piece is that carton."""
        self.proven[carton].append(Proven(piece, carton, how, sentence))


def settle(ledger: Ledger, unsure: Sequence[Unsure]) -> None:
    """Settle every unsure piece into the ledger, those that fit the fewest cartons first."""
    order = {carton: n for n, carton in enumerate(ledger.catalogue.by_id)}
    groups: dict[tuple[int, bool, tuple[int, ...], str, str], list[Unsure]] = defaultdict(list)
    for one in unsure:
        places = tuple(order[c] for c in one.cartons)
        groups[(len(places), bool(one.ask), places, one.code, one.ask)].append(one)
    for key in sorted(groups):
        group = sorted(groups[key], key=lambda one: one.piece.key)
        if group[0].ask:
            _ask_or_exclude(ledger, group)
        elif group[0].code:
            _count_labels(ledger, group)
        else:
            _by_position(ledger, group)


def _shows_whole_label(found: Proven) -> bool:
    codes = [read for read in found.piece.reads if read.claim.sscc or read.claim.barcode or read.claim.carton]
    machine = any(not is_typed(read) and not read.raw.guided for read in codes)
    return machine and not found.by_person and found.how is not How.ADDRESS


def _ask_or_exclude(ledger: Ledger, group: Sequence[Unsure]) -> None:
    """Blurred or contradicting labels: a question, unless all they fit is here, or the photo leaves one."""
    left: list[Piece] = []
    cartons = group[0].cartons
    for one in group:
        standing = _not_elsewhere_in_photo(ledger, one.piece, cartons)
        if not cartons or ledger.open(cartons):
            if one.code == "blurred" and len(standing) == 1 and len(cartons) > 1:
                others = _listed([c for c in cartons if c not in standing])
                sentence = f"Its blurred code fits carton {standing[0]} or {others}; {others} is elsewhere in the photo"
                ledger.add(one.piece, standing[0], How.GUIDED, sentence)
            else:
                left.append(one.piece)
        else:
            ledger.again.append(Again(one.piece, f"It {one.fits}: {_here(cartons)}"))
    if left:
        ledger.asks.append(Ask(tuple(left), cartons, _prompt(cartons, group[0].ask)))


def _not_elsewhere_in_photo(ledger: Ledger, piece: Piece, cartons: Sequence[str]) -> tuple[str, ...]:
    return tuple(c for c in cartons if not any(piece.apart_from(found.piece) for found in ledger.proven.get(c, ())))


def _count_labels(ledger: Ledger, group: Sequence[Unsure]) -> None:
    """A code that several cartons share: as many are here as one photo shows labels apart."""
    cartons = group[0].cartons
    still_open = ledger.open(cartons)
    pieces = [one.piece for one in group]
    if not still_open:
        ledger.again.extend(Again(piece, f"It {group[0].fits}: {_here(cartons)}") for piece in pieces)
        return
    known = [found.piece for c in cartons for found in ledger.proven.get(c, ())]
    apart = _most_apart([*known, *pieces])
    new = [piece for piece in apart if piece not in known][: len(still_open)]
    if len(new) < len(still_open) and (not _alike(ledger.catalogue, still_open) or len(pieces) > len(new)):
        if not _alike(ledger.catalogue, still_open):
            new = []
        prompt = f"it {group[0].fits}, and so do {len(cartons)} cartons of the manifest"
        left = tuple(piece for piece in pieces if piece not in new)
        ledger.asks.append(Ask(left, still_open[len(new) :], _prompt(still_open[len(new) :], prompt)))
    else:
        _spread(ledger, [piece for piece in pieces if piece not in new], still_open, group[0].fits)
    for piece, carton in zip(new, still_open, strict=False):
        sentence = f"It {group[0].fits}, as {len(cartons)} cartons do; {len(apart)} such labels are in one photo"
        ledger.add(piece, carton, How.BARCODE, sentence)


def _spread(ledger: Ledger, pieces: Iterable[Piece], cartons: Sequence[str], fits: str) -> None:
    for piece in pieces:
        ledger.again.append(Again(piece, f"It {fits}: one of cartons {_listed(cartons)} seen again"))


def _alike(catalogue: Catalogue, cartons: Sequence[str]) -> bool:
    """The cartons hold the same, so that it is all one which of them is here."""
    kinds = {(c.kind, c.contents, c.outer, c.open_first) for c in (catalogue.by_id[name] for name in cartons)}
    return len(kinds) == 1


def _most_apart(pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces of the one photo that shows most labels apart, oldest first; one piece where none does."""
    best: list[Piece] = []
    for photo in sorted({piece.photo for piece in pieces}):
        apart: list[Piece] = []
        for piece in (p for p in pieces if p.photo == photo):
            if all(piece.apart_from(other) for other in apart):
                apart.append(piece)
        best = max(best, apart, key=len)
    return best


def _by_position(ledger: Ledger, group: Sequence[Unsure]) -> None:
    """Labels that give only a position: the one open carton there, a second look at a known one, or a question."""
    cartons, fits = group[0].cartons, group[0].fits
    pieces = [one.piece for one in group if not _belongs_beside(ledger, one)]
    still_open = ledger.open(cartons)
    if not still_open:
        for piece in pieces:
            _seen_again(ledger, piece, cartons, fits)
        return
    doubtful = tuple(c for c in cartons if ledger.is_here(c) and not ledger.by_own_label(c))
    left: list[Piece] = []
    for piece in pieces:
        if len(still_open) == 1 and not _not_elsewhere_in_photo(ledger, piece, doubtful):
            ledger.add(piece, still_open[0], How.ADDRESS, _position_sentence(fits, still_open[0], cartons))
        else:
            left.append(piece)
    if left:
        may_be = tuple(c for c in cartons if c in still_open or c in doubtful)
        ledger.asks.append(Ask(tuple(left), may_be, _prompt(may_be, f"the label {fits}, and nothing else can be read")))


def _belongs_beside(ledger: Ledger, one: Unsure) -> bool:
    """The position label of a carton whose code label, without a position, is in the same photo: one each."""
    for carton in one.cartons:
        found = ledger.proven.get(carton, [])
        bare = [f for f in found if f.piece.photo and f.piece.photo == one.piece.photo and not f.piece.addresses]
        beside = [f for f in found if f.piece.photo == one.piece.photo and f.how is How.ADDRESS and f.piece.addresses]
        if bare and not beside:
            sentence = f"It {one.fits}: the position label of carton {carton}, whose code is in the same photo"
            ledger.add(one.piece, carton, How.ADDRESS, sentence)
            return True
    return False


def _seen_again(ledger: Ledger, piece: Piece, cartons: tuple[str, ...], fits: str) -> None:
    if len(cartons) == 1:
        ledger.add(piece, cartons[0], How.ADDRESS, f"It {fits}: carton {cartons[0]} is the only one there")
    else:
        ledger.again.append(Again(piece, f"It {fits}: {_here(cartons)}"))


def _position_sentence(fits: str, carton: str, cartons: tuple[str, ...]) -> str:
    if len(cartons) == 1:
        return f"The label {fits}: carton {carton} is the only one of the manifest there"
    others = _listed([c for c in cartons if c != carton])
    return f"The label {fits}: carton {carton} is the only one still open there; {others} is known by its own code"


def _prompt(cartons: Sequence[str], why: str) -> str:
    start = f"{why[:1].upper()}{why[1:]}."
    if not cartons:
        return f"{start} Which carton is it, or none of this shipment?"
    if len(cartons) == 1:
        return f"{start} Is it carton {cartons[0]}, or none of this shipment?"
    return f"{start} Is it carton {_listed(cartons, 'or')}, or none of this shipment?"


def _here(cartons: Sequence[str]) -> str:
    both = "both are here" if len(cartons) == 2 else "all of them are here"
    return f"carton {cartons[0]} is here" if len(cartons) == 1 else f"cartons {_listed(cartons)}, {both}"


def _listed(cartons: Sequence[str], word: str = "and") -> str:
    if len(cartons) < 2:
        return "".join(cartons)
    return f"{', '.join(cartons[:-1])} {word} {cartons[-1]}"
