"""One code on two physical labels: in one photo, or at two places at once."""

from collections.abc import Sequence
from datetime import timedelta
from itertools import combinations, pairwise

from receiving.matching.judgements import Matched
from receiving.matching.observations import Observation, when
from receiving.model import Duplicate, LabelRead, Place

AT_ONCE = timedelta(seconds=30)
"""Shorter than it takes to put a carton down elsewhere and read it again; common practice, no source."""


def duplicates_of(carton: str, matched: Sequence[Matched]) -> tuple[Duplicate, ...]:
    """Where this carton's code seems to be on more than one physical label, in order of time."""
    reads = [read for found in matched for read in found.observation.reads]
    if not _may_be_two(matched, reads):
        return ()
    ordered = sorted((found.observation for found in matched), key=lambda o: o.order)
    by_photo: dict[str, list[Observation]] = {}
    for observation in ordered:
        by_photo.setdefault(observation.photo, []).append(observation)
    crowded = [shown for photo, shown in by_photo.items() if photo and len(shown) > 1]
    found = [dup for shown in crowded if (dup := _in_photo(carton, shown))]
    elsewhere = _at_two_places(carton, sorted(reads, key=lambda read: when(read.raw)))
    return (*found, elsewhere) if elsewhere else tuple(found)


def _may_be_two(matched: Sequence[Matched], reads: Sequence[LabelRead]) -> bool:
    """One photo has two of its labels, or it was read at two places: else there is nothing to look into."""
    if len(reads) == 1:
        return False
    photos = [photo for found in matched if (photo := found.observation.photo)]
    if len(set(photos)) < len(photos):
        return True
    return len({read.raw.place for read in reads} - {Place.OTHER}) > 1


def _in_photo(carton: str, observations: Sequence[Observation]) -> Duplicate | None:
    twice = [pair for pair in combinations(observations, 2) if pair[0].apart_from(pair[1]) and _same_label(*pair)]
    if not twice:
        return None
    read_ids = dict.fromkeys(r for pair in twice for observation in pair for r in observation.read_ids)
    raw = _shared_raw(*twice[0]) or twice[0][0].reads[0].raw.raw
    why = (
        f"One photo shows more than one label of carton {carton}: "
        "two cartons with one code, or one carton labelled on two sides. Look at the carton."
    )
    return Duplicate(carton, raw, tuple(read_ids), why)


def _same_label(one: Observation, two: Observation) -> bool:
    """They carry the same text, or both state the position, so that they are not two halves of one marking."""
    return bool(_shared_raw(one, two)) or bool(one.addresses and two.addresses)


def _shared_raw(one: Observation, two: Observation) -> str:
    of_two = {(read.raw.raw, read.raw.symbology) for read in two.reads}
    return next((read.raw.raw for read in one.reads if (read.raw.raw, read.raw.symbology) in of_two), "")


def _at_two_places(carton: str, reads: Sequence[LabelRead]) -> Duplicate | None:
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
