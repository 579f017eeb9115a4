"""The state of each carton, from what is proven and from the outer box that it travels in."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from receiving.matching.evidence import Evidence, Plain
from receiving.matching.standing import of_kind
from receiving.matching.verdicts import Proven
from receiving.model import (
    Carton,
    CartonFinding,
    CartonPlace,
    CartonSeen,
    CartonState,
    ContentCounted,
    DamageNoted,
    How,
    LabelRead,
    Manifest,
    Note,
    OuterOpened,
    Place,
    RawRead,
    Source,
)

# Looking a member up in its class takes longer than what is done with it, read by read.
NO_PLACE, TYPED, RECEIVED = Place.OTHER, Source.TYPED, CartonState.RECEIVED
RANK = (How.SSCC, How.BARCODE, How.ADDRESS, How.GUIDED, How.TYPED)


class Presence(NamedTuple):
    """Why a carton counts as here."""

    how: How
    why: str
    evidence: tuple[str, ...] = ()
    confidence: float = 1.0


def findings(manifest: Manifest, evidence: Evidence, notes: Sequence[Note]) -> tuple[CartonFinding, ...]:
    """Every carton of the manifest once, in manifest order, each in one state."""
    here = _directly(manifest, evidence, notes)
    opened = _opened(notes, manifest)
    known_outers = _add_outers(manifest, here, opened)
    _add_contents(manifest, here, opened)
    places = _places(evidence, notes)
    damage = _damage(notes)
    return tuple(
        [
            _finding(carton, here, opened, known_outers, places.get(carton.carton), damage.get(carton.carton, ()))
            for carton in manifest
        ]
    )


def _finding(
    carton: Carton,
    here: Mapping[str, Presence],
    opened: Mapping[str, OuterOpened],
    known_outers: frozenset[str],
    place: Place | None,
    damage: tuple[DamageNoted, ...],
) -> CartonFinding:
    found = here.get(carton.carton)
    if found is not None:
        return CartonFinding(carton, RECEIVED, found.why, found.how, found.evidence, place, found.confidence, damage)
    state, why = _absence(carton, here, opened, known_outers)
    return CartonFinding(carton, state, why, place=place, damage=damage)


def _directly(manifest: Manifest, evidence: Evidence, notes: Sequence[Note]) -> dict[str, Presence]:
    here = {name: _by_plain(labels) for name, labels in evidence.plain.items()}
    here.update((name, _presence(found)) for name, found in evidence.proven.items())
    for carton, why in confirmed(notes).items():
        if manifest.find(carton) is not None:
            here.setdefault(carton, Presence(How.TYPED, why))
    return here


def confirmed(notes: Sequence[Note]) -> dict[str, str]:
    """The cartons that a person says are here without a label, and by what: seen, or opened and counted."""
    said: dict[str, str] = {}
    for counted in of_kind(notes, ContentCounted):
        said[counted.carton] = f"{counted.by or 'A person'} opened it and counted its contents"
    for seen in of_kind(notes, CartonSeen):
        reason = f": {seen.reason}" if seen.reason else ""
        said[seen.carton] = f"{seen.by or 'A person'} confirms that it is here{reason}"
    return said


def _by_plain(labels: Plain) -> Presence:
    """As `_presence`, of reads that all show the carton in the same way."""
    raws = [read.raw for read in labels.reads]
    again = f"; {len(raws)} reads in all" if len(raws) > 1 else ""
    confidence = max([raw.confidence for raw in raws])
    return Presence(labels.how, labels.sentence + again, tuple([raw.read_id for raw in raws]), confidence)


def _presence(found: Sequence[Proven]) -> Presence:
    ranks = [_rank(f) for f in found]
    best = min(ranks)
    first = min((f for f, rank in zip(found, ranks, strict=True) if rank == best), key=lambda f: f.piece.key)
    reads = [(read.raw.read_at, read.raw.read_id) for f in found for read in f.piece.reads]
    reads.sort()
    again = f"; {len(reads)} reads in all" if len(reads) > 1 else ""
    confidence = max(map(_confidence, found))
    return Presence(RANK[best], f"{first.sentence}{again}", tuple([read_id for _, read_id in reads]), confidence)


def _confidence(found: Proven) -> float:
    """That of its best read, less where likelihood decided: odds of 49 to 1 are 0.98."""
    reads = found.piece.reads
    read = reads[0].raw.confidence if len(reads) == 1 else max(read.raw.confidence for read in reads)
    return read if found.odds is None else read * found.odds / (found.odds + 1)


def _rank(found: Proven) -> int:
    """How good the proof is; what a person typed or a guided read counts only where nothing else shows it."""
    machine = False
    for read in found.piece.reads:
        raw = read.raw
        if raw.source is not TYPED:
            if not raw.guided and _could_show(read, found.how):
                return RANK.index(found.how)
            machine = machine or raw.guided
    return RANK.index(How.GUIDED if machine else How.TYPED)


def _could_show(read: LabelRead, how: How) -> bool:
    """The read itself carries the kind of data that the label was matched by."""
    claim = read.claim
    if how is How.SSCC:
        return claim.sscc is not None
    if how is How.BARCODE:
        return bool(claim.barcode or claim.gtin or claim.carton)
    return how is not How.TYPED


def _opened(notes: Sequence[Note], manifest: Manifest) -> dict[str, OuterOpened]:
    """The last word on each outer box that was noted as opened."""
    return {note.carton: note for note in of_kind(notes, OuterOpened) if manifest.find(note.carton) is not None}


def _add_outers(manifest: Manifest, here: dict[str, Presence], opened: Mapping[str, OuterOpened]) -> frozenset[str]:
    """Outer boxes that are known by a note or by their contents; returns those whose contents were seen."""
    for name, note in opened.items():
        if note.by_store:
            here.setdefault(name, Presence(How.INSIDE_OUTER, "Known by its contents: broken down by store staff"))
        else:
            here.setdefault(name, Presence(How.TYPED, f"{note.by or 'A person'} opened it"))
    seen: dict[str, list[str]] = defaultdict(list)
    for carton in manifest:
        if carton.carton in here:
            for outer in _outers_of(manifest.find, carton):
                seen[outer].extend(here[carton.carton].evidence)
    for outer, evidence in seen.items():
        why = "Known by its contents: broken down by store staff"
        here.setdefault(outer, Presence(How.INSIDE_OUTER, why, tuple(sorted(set(evidence)))))
    return frozenset(seen)


def _outers_of(find: Callable[[str], Carton | None], carton: Carton) -> Iterable[str]:
    """The boxes that this carton travels in, nearest first; ends where a faulty manifest goes in a circle."""
    passed = {carton.carton}
    outer = find(carton.outer) if carton.outer else None
    while outer is not None and outer.carton not in passed:
        passed.add(outer.carton)
        yield outer.carton
        outer = find(outer.outer) if outer.outer else None


def _add_contents(manifest: Manifest, here: dict[str, Presence], opened: Mapping[str, OuterOpened]) -> None:
    """Everything in a box whose contents were found complete is here."""
    if not opened:
        return
    for carton in manifest:
        outer = next((o for o in _outers_of(manifest.find, carton) if o in opened and opened[o].all_inside), None)
        if outer is not None:
            who = opened[outer].by or "A person"
            why = f"{who} opened outer box {outer} and found everything inside"
            here.setdefault(carton.carton, Presence(How.INSIDE_OUTER, why))


def _absence(
    carton: Carton, here: Mapping[str, Presence], opened: Mapping[str, OuterOpened], known_outers: frozenset[str]
) -> tuple[CartonState, str]:
    outer = carton.outer
    if not outer:
        return CartonState.SHORT, "Nothing read or noted shows it"
    if outer not in here:
        return CartonState.SHORT, f"Nothing shows it, nor the outer box {outer} that it travels in"
    if outer in opened:
        return CartonState.SHORT, f"Outer box {outer} was opened, and this carton was not found"
    if outer in known_outers:
        return CartonState.SHORT, f"Other cartons of outer box {outer} were seen, this one was not"
    return CartonState.INSIDE, f"Inside outer box {outer}, which is here and not opened; not seen"


def _places(evidence: Evidence, notes: Sequence[Note]) -> dict[str, Place]:
    """Where each carton was last; a read made without a stated place does not hide an earlier place."""
    last = {name: _last_placed(labels.reads) for name, labels in evidence.plain.items()}
    for name, found in evidence.proven.items():
        reads = [read for f in found for read in f.piece.reads]
        last[name] = _last_placed(sorted(reads, key=lambda read: (read.raw.read_at, read.raw.read_id)))
    places = {name: raw.place for name, raw in last.items()}
    said: dict[str, CartonPlace] = {}
    for note in of_kind(notes, CartonPlace):
        said[note.carton] = max(said.get(note.carton, note), note, key=lambda note: (note.noted_at, note.note_id))
    for name, note in said.items():
        raw = last.get(name)
        if raw is None or raw.place is NO_PLACE or (raw.read_at, raw.read_id) < (note.noted_at, note.note_id):
            places[name] = note.place
    return places


def _last_placed(reads: Sequence[LabelRead]) -> RawRead:
    """The last of these reads, oldest first, that states a place; the last of all where none does."""
    last = reads[-1].raw
    if last.place is not NO_PLACE:
        return last
    return next((read.raw for read in reversed(reads) if read.raw.place is not NO_PLACE), last)


def _damage(notes: Sequence[Note]) -> dict[str, tuple[DamageNoted, ...]]:
    found: dict[str, tuple[DamageNoted, ...]] = {}
    for note in of_kind(notes, DamageNoted):
        found[note.carton] = (*found.get(note.carton, ()), note)
    return found
