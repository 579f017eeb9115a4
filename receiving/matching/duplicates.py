"""One code on two physical labels: in one photo, or at two places at once."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from itertools import combinations, pairwise

from receiving.matching.evidence import Evidence, Plain
from receiving.matching.pieces import Piece
from receiving.matching.verdicts import Proven
from receiving.model import Duplicate, LabelRead, Place

AT_ONCE = timedelta(seconds=30)
"""Shorter than it takes to put a carton down elsewhere and read it again; common practice, no source."""


def duplicates(evidence: Evidence) -> tuple[Duplicate, ...]:
    """The cartons whose code is on more than one physical label, in order of carton and time."""
    plain, proven = evidence.plain, evidence.proven
    looked_at = plain.items() if _at_several_places(plain.values()) else _crowded(plain)
    several = [name for name, labels in looked_at if len(labels.reads) > 1 and _may_be_two(labels.reads)]
    several += [name for name in proven if name not in several and _pieces_may_be_two(plain.get(name), proven[name])]
    found = [dup for name in sorted(several) for dup in _of_carton(name, [f.piece for f in evidence.of(name)])]
    return tuple(found)


def _crowded(plain: Mapping[str, Plain]) -> list[tuple[str, Plain]]:
    """Those that some photo shows more than once, and those that were scanned."""
    return [(name, labels) for name, labels in plain.items() if len(labels.photos) < len(labels.reads)]


def _at_several_places(plain: Iterable[Plain]) -> bool:
    """Not all of the shipment was read at one place."""
    places = [read.raw.place for labels in plain for read in labels.reads]
    return bool(places) and places.count(places[0]) < len(places)


def _pieces_may_be_two(labels: Plain | None, others: Sequence[Proven]) -> bool:
    first = [*(labels.reads if labels else ()), *[found.piece.reads[0] for found in others]]
    return len(first) > 1 and _may_be_two(first, [read for found in others for read in found.piece.reads[1:]])


def _may_be_two(labels: Sequence[LabelRead], more: Sequence[LabelRead] = ()) -> bool:
    """One photo has two of its labels, or it was read at two places: else there is nothing to look into.

    ``labels`` has one read of each label, ``more`` the others.
    """
    photos = [read.raw.photo for read in labels if read.raw.photo]
    if len(set(photos)) < len(photos):
        return True
    places = [read.raw.place for read in (*labels, *more)]
    return places.count(places[0]) < len(places) and len(set(places) - {Place.OTHER}) > 1


def _of_carton(carton: str, pieces: Sequence[Piece]) -> list[Duplicate]:
    ordered = sorted(pieces, key=lambda piece: (piece.reads[0].raw.read_at, piece.key))
    by_photo: dict[str, list[Piece]] = {}
    for piece in ordered:
        by_photo.setdefault(piece.photo, []).append(piece)
    crowded = [shown for photo, shown in by_photo.items() if photo and len(shown) > 1]
    found = [dup for shown in crowded if (dup := _in_photo(carton, shown))]
    elsewhere = _at_two_places(carton, ordered)
    return [*found, elsewhere] if elsewhere else found


def _in_photo(carton: str, pieces: Sequence[Piece]) -> Duplicate | None:
    twice = [pair for pair in combinations(pieces, 2) if pair[0].apart_from(pair[1]) and _same_label(*pair)]
    if not twice:
        return None
    read_ids = dict.fromkeys(r for pair in twice for piece in pair for r in piece.read_ids)
    raw = _shared_raw(*twice[0]) or twice[0][0].reads[0].raw.raw
    why = (
        f"One photo shows more than one label of carton {carton}: "
        "two cartons with one code, or one carton labelled on two sides. Look at the carton."
    )
    return Duplicate(carton, raw, tuple(read_ids), why)


def _same_label(one: Piece, two: Piece) -> bool:
    """They carry the same text, or both state the position, so that they are not two halves of one marking."""
    return bool(_shared_raw(one, two)) or bool(one.addresses and two.addresses)


def _shared_raw(one: Piece, two: Piece) -> str:
    of_two = {(read.raw.raw, read.raw.symbology) for read in two.reads}
    return next((read.raw.raw for read in one.reads if (read.raw.raw, read.raw.symbology) in of_two), "")


def _at_two_places(carton: str, pieces: Sequence[Piece]) -> Duplicate | None:
    reads = sorted((r for piece in pieces for r in piece.reads), key=lambda r: (r.raw.read_at, r.read_id))
    placed = [read for read in reads if read.raw.place is not Place.OTHER]
    for one, two in pairwise(placed):
        if one.raw.place is not two.raw.place and two.raw.read_at - one.raw.read_at <= AT_ONCE:
            return Duplicate(carton, two.raw.raw, (one.read_id, two.read_id), _two_places_words(carton, one, two))
    return None


def _two_places_words(carton: str, one: LabelRead, two: LabelRead) -> str:
    seconds = int((two.raw.read_at - one.raw.read_at).total_seconds())
    return (
        f"Carton {carton} was read at {one.raw.place.words} and {seconds} s later at {two.raw.place.words}: "
        "two cartons with one code, or a place noted wrongly. Look at both places."
    )
