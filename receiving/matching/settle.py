"""Pieces that fit no carton or several by themselves, settled by all the other evidence.

The rule throughout: nothing is guessed. A label that gives only a position is the one carton still open there,
if every other carton of that position is proven by a code of its own; else a person is asked. Partly read labels
are settled together, by the one assignment that fits best, and only where it is far ahead of the next best.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import exp, log

from receiving.matching.assignment import Choice, Row, assign
from receiving.matching.catalogue import Catalogue, Listed
from receiving.matching.company import companions
from receiving.matching.evidence import Evidence
from receiving.matching.foreign import unlisted
from receiving.matching.likelihood import (
    ASK_BELOW,
    CAUTION_BY_EYE,
    SAME_LABEL,
    SEEN_AGAIN,
    SEEN_FROM_ASIDE,
    STRAY,
    STRAY_IN_COMPANY,
)
from receiving.matching.pieces import Piece, is_typed
from receiving.matching.verdicts import Proven, Stray, Unsure
from receiving.matching.wording import here_words, listed_words, prompt_of
from receiving.model import Carton, How

TOO_MANY = 6
MOST_NATS = 14.0
"""Odds above about a million to one are not told apart."""


@dataclass(frozen=True)
class Ask:
    """Pieces that a person must place, the cartons that they may be, and those of other shipments as well."""

    pieces: tuple[Piece, ...]
    cartons: tuple[str, ...]
    prompt: str
    visitors: tuple[Carton, ...] = ()


@dataclass(frozen=True)
class Again:
    """A piece that needs no carton: all that it fits are proven anyway."""

    piece: Piece
    sentence: str


@dataclass
class Ledger:
    """Who is proven by what so far, while the unsure pieces are settled."""

    catalogue: Catalogue
    evidence: Evidence = field(default_factory=Evidence)
    confirmed: frozenset[str] = frozenset()
    visitors: tuple[Listed, ...] = ()
    asks: list[Ask] = field(default_factory=list)
    again: list[Again] = field(default_factory=list)
    strays: list[Stray] = field(default_factory=list)

    def is_here(self, carton: str) -> bool:
        """Some evidence proves this carton."""
        return carton in self.confirmed or carton in self.evidence

    def by_own_label(self, carton: str) -> bool:
        """A machine read this carton's own code, so that its label is whole; a torn label is then another's."""
        return carton in self.evidence.plain or any(_shows_whole_label(f) for f in self.evidence.of(carton))

    def open(self, cartons: Iterable[str]) -> tuple[str, ...]:
        """Those of the cartons that nothing proves."""
        return tuple(c for c in cartons if not self.is_here(c))

    def add(self, piece: Piece, carton: str, how: How, sentence: str) -> None:
        """Record that this piece is that carton."""
        self.evidence.add(Proven(piece, carton, how, sentence))


def settle(ledger: Ledger, unsure: Sequence[Unsure]) -> None:
    """Settle every unsure piece into the ledger: shared codes first, then parts of labels, then what must be asked."""
    if not unsure:
        return
    order = {carton: n for n, carton in enumerate(ledger.catalogue.by_id)}
    groups: dict[tuple[int, tuple[int, ...], str, str], list[Unsure]] = defaultdict(list)
    for one in sorted(unsure, key=lambda one: one.piece.key):
        places = tuple(order[c] for c in one.cartons)
        groups[(len(places), places, one.code, one.ask)].append(one)
    in_order = [groups[key] for key in sorted(groups)]
    for group in (g for g in in_order if g[0].code and not g[0].ask):
        _count_labels(ledger, group)
    _fit_parts(ledger, [one for group in in_order for one in group if not one.code and not one.ask])
    for group in (g for g in in_order if g[0].ask):
        _ask_or_exclude(ledger, group)


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
                others = listed_words([c for c in cartons if c not in standing])
                sentence = f"Its blurred code fits carton {standing[0]} or {others}; {others} is elsewhere in the photo"
                ledger.add(one.piece, standing[0], How.GUIDED, sentence)
            else:
                left.append(one.piece)
        elif one.otherwise is not None:
            ledger.strays.append(one.otherwise)
        else:
            ledger.again.append(Again(one.piece, f"It {one.fits}: {here_words(cartons)}"))
    if group[0].otherwise is not None:
        cartons = ledger.open(cartons)
    if left:
        ledger.asks.append(Ask(tuple(left), cartons, prompt_of(cartons, group[0].ask)))


def _not_elsewhere_in_photo(ledger: Ledger, piece: Piece, cartons: Sequence[str]) -> tuple[str, ...]:
    return tuple(c for c in cartons if not any(piece.apart_from(found.piece) for found in ledger.evidence.of(c)))


def _count_labels(ledger: Ledger, group: Sequence[Unsure]) -> None:
    """A code that several cartons share: as many are here as one photo shows labels apart.

    Which of them does not matter where they hold the same; where they do not, a person is asked.
    """
    cartons = group[0].cartons
    still_open = ledger.open(cartons)
    pieces = [one.piece for one in group]
    if not still_open:
        ledger.again.extend(Again(piece, f"It {group[0].fits}: {here_words(cartons)}") for piece in pieces)
        return
    known = [found.piece for c in cartons for found in ledger.evidence.of(c)]
    apart = _most_apart([*known, *pieces])
    new = [piece for piece in apart if piece not in known][: len(still_open)]
    if len(new) < len(still_open) and not _alike(ledger.catalogue, still_open):
        new = []
    for piece, carton in zip(new, still_open, strict=False):
        counted = f"{len(apart)} such labels are in one photo" if len(apart) > 1 else f"counted as carton {carton}"
        ledger.add(piece, carton, How.BARCODE, f"It {group[0].fits}, as {len(cartons)} cartons do; {counted}")
    rest, unproven = [piece for piece in pieces if piece not in new], still_open[len(new) :]
    if rest and unproven:
        prompt = prompt_of(unproven, f"it {group[0].fits}, and so do {len(cartons)} cartons of the manifest")
        ledger.asks.extend(Ask(pieces, unproven, prompt) for pieces in _asked_together(rest))
    else:
        _spread(ledger, rest, still_open, group[0].fits)


def _asked_together(pieces: Sequence[Piece]) -> list[tuple[Piece, ...]]:
    """Each scan is an answer of its own; photos may all show one label and are looked at side by side."""
    photos = tuple(piece for piece in pieces if piece.photo)
    return [*([photos] if photos else []), *((piece,) for piece in pieces if not piece.photo)]


def _spread(ledger: Ledger, pieces: Iterable[Piece], cartons: Sequence[str], fits: str) -> None:
    for piece in pieces:
        ledger.again.append(Again(piece, f"It {fits}: one of cartons {listed_words(cartons)} seen again"))


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


def _fit_parts(ledger: Ledger, unsure: Sequence[Unsure]) -> None:
    """Parts of labels: a second look at what is known, or the best assignment, or a question."""
    left = [one for one in unsure if not _belongs_beside(ledger, one)]
    rivals = []
    for one in left:
        if ledger.open(one.cartons):
            rivals.append(one)
        else:
            _seen_again(ledger, one.piece, one.cartons, one.fits)
    labels = _labels(rivals)
    for label in (label for label in labels if _says_too_little(label[0])):
        _ask_about(ledger, label, label[0].cartons)
    labels = [label for label in labels if not _says_too_little(label[0])]
    rows = [_row(ledger, label, labels) for label in labels]
    for label, row, choice in zip(labels, rows, assign(rows, ASK_BELOW), strict=True):
        _take(ledger, label, row, choice)


def _says_too_little(one: Unsure) -> bool:
    """So many cartons fit about equally well that no assignment can be far ahead of the next."""
    best = min(one.costs)
    return sum(nats - best < ASK_BELOW for nats in one.costs) > TOO_MANY


def _ask_about(ledger: Ledger, label: Sequence[Unsure], may_be: tuple[str, ...]) -> None:
    why = f"the label {label[0].fits}, and nothing else can be read"
    others = companions(label[0].piece, ledger.visitors, ledger.catalogue)
    if others:
        why += f"; {others[0].words} has the same place, and a carton of that shipment is here"
    prompt = prompt_of(may_be, why)
    visitors = tuple(other.carton for other in others)
    ledger.asks.append(Ask(tuple(one.piece for one in label), may_be, prompt, visitors))


def _labels(unsure: Sequence[Unsure]) -> list[list[Unsure]]:
    """The pieces that may be views of one torn label: they say the same, and no photo shows them apart."""
    labels: list[list[Unsure]] = []
    for one in unsure:
        same = [
            label
            for label in labels
            if (label[0].cartons, label[0].costs, label[0].fits) == (one.cartons, one.costs, one.fits)
            and (len(one.cartons) == 1 or not any(one.piece.apart_from(other.piece) for other in label))
        ]
        if same:
            same[0].append(one)
        else:
            labels.append([one])
    return labels


def _row(ledger: Ledger, label: Sequence[Unsure], labels: Sequence[Sequence[Unsure]]) -> Row:
    own, shared = [], []
    known = sum(ledger.by_own_label(carton) for carton in label[0].cartons)
    for carton, nats in zip(label[0].cartons, label[0].costs, strict=True):
        if not ledger.is_here(carton):
            own.append((carton, nats))
            others = [other for other in labels if other is not label and carton in other[0].cartons]
            if any(not _apart(label, [one.piece for one in other]) for other in others):
                shared.append((carton, nats + SAME_LABEL))
        elif ledger.by_own_label(carton):
            shared.append((carton, nats + _again_cost(ledger, label, carton) - log(known)))
        elif not _apart(label, [found.piece for found in ledger.evidence.of(carton)]):
            shared.append((carton, nats + SAME_LABEL))
    by_eye = known > 0 and any(one.piece.size_said is not None for one in label)
    return Row(tuple(own), tuple(shared), _stray_cost(ledger, label[0]), CAUTION_BY_EYE if by_eye else 0.0)


def _stray_cost(ledger: Ledger, one: Unsure) -> float:
    """What it costs that this is no carton of the shipment; its size alone never makes a stray of it unasked."""
    sizes, size = ledger.catalogue.sizes, one.piece.size_said
    others = companions(one.piece, ledger.visitors, ledger.catalogue)
    known = [other.carton for other in others]
    if size is None:
        return STRAY_IN_COMPANY if known else STRAY
    if known:
        nats = STRAY_IN_COMPANY - log(max(sizes.chance(size, carton) for carton in known))
    else:
        nats = STRAY - log(sizes.chance_unknown(size))
    return max(nats, min(one.costs) - ASK_BELOW / 2)


def _again_cost(ledger: Ledger, label: Sequence[Unsure], carton: str) -> float:
    """What it costs that this is the whole label of a known carton, seen once more and badly.

    A photo of both labels tells them apart, unless the known one gives no position and this may be its other half;
    photos that show only one of the two do not.
    """
    views = [found.piece for found in ledger.evidence.of(carton) if found.piece.photo]
    if _apart(label, [piece for piece in views if not piece.addresses]):
        return SAME_LABEL
    in_photos = views and any(one.piece.photo for one in label)
    return SEEN_FROM_ASIDE if in_photos and not _apart(label, views) else SEEN_AGAIN


def _apart(label: Sequence[Unsure], pieces: Sequence[Piece]) -> bool:
    """Some photo shows this label and one of the pieces as two labels."""
    return any(one.piece.apart_from(piece) for one in label for piece in pieces)


def _take(ledger: Ledger, label: Sequence[Unsure], row: Row, choice: Choice) -> None:
    pieces, first = tuple(one.piece for one in label), label[0]
    if choice.margin < ASK_BELOW + row.caution:
        _ask_about(ledger, label, tuple(c for c in first.cartons if c == choice.carton or c in choice.rivals))
    elif not choice.carton:
        ledger.strays.extend(unlisted(piece, f"It {first.fits}, and fits no carton in all else") for piece in pieces)
    else:
        odds = exp(min(choice.margin, MOST_NATS))
        sentence = _fit_sentence(ledger, first, choice, odds)
        for piece in pieces:
            ledger.evidence.add(Proven(piece, choice.carton, first.how, sentence, odds=odds))


def _fit_sentence(ledger: Ledger, one: Unsure, choice: Choice, odds: float) -> str:
    start = f"The label {one.fits}: carton {choice.carton}"
    if choice.again:
        return f"{start} seen again"
    if len(one.cartons) == 1:
        return f"{start} is the only one of the manifest that fits"
    known = [c for c in one.cartons if c != choice.carton and ledger.is_here(c)]
    if len(known) == len(one.cartons) - 1:
        be = "is" if len(known) == 1 else "are"
        return f"{start} is the only one still open there; {listed_words(known)} {be} known otherwise"
    return f"{start} fits best, about {odds:.0f} times likelier than anything else"


def _belongs_beside(ledger: Ledger, one: Unsure) -> bool:
    """The position label of a carton whose code, without a position, is in the same photo: one each.

    Where the photo surely shows two labels and another carton is open there, it may be that carton's.
    """
    if not one.piece.addresses:
        return False
    for carton in one.cartons:
        beside = ledger.evidence.in_photo(carton, one.piece.photo)
        taken = any(f.how is How.ADDRESS and f.piece.addresses for f in beside)
        doubtful = ledger.open(one.cartons) and any(one.piece.apart_from(f.piece) for f in beside)
        if any(not f.piece.addresses for f in beside) and not taken and not doubtful:
            sentence = f"It {one.fits}: the position label of carton {carton}, whose code is in the same photo"
            ledger.add(one.piece, carton, How.ADDRESS, sentence)
            return True
    return False


def _seen_again(ledger: Ledger, piece: Piece, cartons: tuple[str, ...], fits: str) -> None:
    if len(cartons) == 1:
        ledger.add(piece, cartons[0], How.ADDRESS, f"It {fits}: carton {cartons[0]} is the only one there")
    else:
        ledger.again.append(Again(piece, f"It {fits}: {here_words(cartons)}"))
