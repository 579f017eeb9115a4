"""The state of each carton, from what is proven and from the outer box that it travels in."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from receiving.matching.catalogue import Catalogue
from receiving.matching.evidence import Evidence, Plain
from receiving.matching.pieces import when
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
    Note,
    OuterOpened,
    Place,
    RawRead,
    Roll,
    Source,
)

# Looking a member up in its class takes longer than what is done with it, read by read.
NO_PLACE, TYPED, RECEIVED = Place.OTHER, Source.TYPED, CartonState.RECEIVED
BROKEN_DOWN = "Known by its contents: broken down by store staff"
RANK = (How.SSCC, How.BARCODE, How.ADDRESS, How.GUIDED, How.TYPED)


def findings(catalogue: Catalogue, evidence: Evidence, notes: Sequence[Note]) -> Roll:
    """Every carton of the manifest once, in manifest order, each in one state."""
    call = RollCall(catalogue, evidence, notes)
    call.said_by_people()
    known_outers = call.shown_by_contents()
    call.inside_opened_boxes()
    by_id, here = catalogue.by_id, call.here
    absent = {name: call.absent(carton, known_outers) for name, carton in by_id.items() if name not in here}
    return Roll(tuple(absent.values()), lambda: tuple([absent.get(name) or call.finding(name) for name in by_id]))


class RollCall:
    """Who is here, by the strongest reason first: what was found once stays so.

    ``here`` starts with the cartons that labels show; their findings are made when somebody looks at them.
    """

    def __init__(self, catalogue: Catalogue, evidence: Evidence, notes: Sequence[Note]) -> None:
        self.by_id = catalogue.by_id
        self.evidence = evidence
        self.notes = notes
        self.damage = _damage(notes)
        self.places = _places_said(evidence, notes)
        self.opened = {note.carton: note for note in of_kind(notes, OuterOpened) if note.carton in self.by_id}
        self.here: dict[str, CartonFinding | None] = dict.fromkeys(evidence)

    def finding(self, name: str) -> CartonFinding:
        """What is known of a carton that is here."""
        return self.here[name] or self._shown(name)

    def _shown(self, name: str) -> CartonFinding:
        evidence = self.evidence
        labels, others = evidence.plain.get(name), evidence.proven.get(name, ())
        how, sentence = _best(labels, others)
        raws = evidence.raws(name)
        why = f"{sentence}; {len(raws)} reads in all" if len(raws) > 1 else sentence
        read_ids = tuple([raw.read_id for raw in raws])
        place = self.places.get(name, _last_placed(raws).place)
        damage = self.damage.get(name, ())
        return CartonFinding(self.by_id[name], RECEIVED, why, how, read_ids, place, _surest(labels, others), damage)

    def add(self, name: str, how: How, why: str, read_ids: tuple[str, ...] = ()) -> None:
        """This carton is here, unless something stronger said so before."""
        if name not in self.here:
            place, damage = self.places.get(name), self.damage.get(name, ())
            self.here[name] = CartonFinding(self.by_id[name], RECEIVED, why, how, read_ids, place, damage=damage)

    def said_by_people(self) -> None:
        """The cartons that a person says are here without a label."""
        for name, why in confirmed(self.notes).items():
            if name in self.by_id:
                self.add(name, How.TYPED, why)
        for name, note in self.opened.items():
            if note.by_store:
                self.add(name, How.INSIDE_OUTER, BROKEN_DOWN)
            else:
                self.add(name, How.TYPED, f"{note.by or 'A person'} opened it")

    def shown_by_contents(self) -> frozenset[str]:
        """Outer boxes that are known by what travels in them; returns those whose contents were seen."""
        seen: dict[str, list[str]] = defaultdict(list)
        for name, carton in self.by_id.items():
            if carton.outer and name in self.here:
                for outer in self._outers_of(carton):
                    seen[outer].append(name)
        for outer in [outer for outer in seen if outer not in self.here]:
            read_ids = {read_id for name in seen[outer] for read_id in self.finding(name).evidence}
            self.add(outer, How.INSIDE_OUTER, BROKEN_DOWN, tuple(sorted(read_ids)))
        return frozenset(seen)

    def inside_opened_boxes(self) -> None:
        """Everything in a box whose contents were found complete is here."""
        complete = {name for name, note in self.opened.items() if note.all_inside}
        for carton in self.by_id.values() if complete else ():
            outer = next((outer for outer in self._outers_of(carton) if outer in complete), None)
            if outer is not None:
                who = self.opened[outer].by or "A person"
                why = f"{who} opened outer box {outer} and found everything inside"
                self.add(carton.carton, How.INSIDE_OUTER, why)

    def absent(self, carton: Carton, known_outers: frozenset[str]) -> CartonFinding:
        """A carton that nothing shows: missing, or inside a box that is here."""
        state, why = self._absence(carton, known_outers)
        place, damage = self.places.get(carton.carton), self.damage.get(carton.carton, ())
        return CartonFinding(carton, state, why, place=place, damage=damage)

    def _absence(self, carton: Carton, known_outers: frozenset[str]) -> tuple[CartonState, str]:
        outer = carton.outer
        if not outer:
            return CartonState.SHORT, "Nothing read or noted shows it"
        if outer not in self.here:
            return CartonState.SHORT, f"Nothing shows it, nor the outer box {outer} that it travels in"
        if outer in self.opened:
            return CartonState.SHORT, f"Outer box {outer} was opened, and this carton was not found"
        if outer in known_outers:
            return CartonState.SHORT, f"Other cartons of outer box {outer} were seen, this one was not"
        return CartonState.INSIDE, f"Inside outer box {outer}, which is here and not opened; not seen"

    def _outers_of(self, carton: Carton) -> Iterator[str]:
        """The boxes that this carton travels in, nearest first; ends where a faulty manifest goes in a circle."""
        passed = {carton.carton}
        outer = self.by_id.get(carton.outer)
        while outer is not None and outer.carton not in passed:
            passed.add(outer.carton)
            yield outer.carton
            outer = self.by_id.get(outer.outer)


def confirmed(notes: Sequence[Note]) -> dict[str, str]:
    """The cartons that a person says are here without a label, and by what: seen, or opened and counted."""
    said: dict[str, str] = {}
    for counted in of_kind(notes, ContentCounted):
        said[counted.carton] = f"{counted.by or 'A person'} opened it and counted its contents"
    for seen in of_kind(notes, CartonSeen):
        reason = f": {seen.reason}" if seen.reason else ""
        said[seen.carton] = f"{seen.by or 'A person'} confirms that it is here{reason}"
    return said


def _best(labels: Plain | None, others: Sequence[Proven]) -> tuple[How, str]:
    """By what the carton is shown best, and the sentence of the first that shows it so."""
    ways = [(_rank(found), found.piece.key, found.sentence) for found in others]
    if labels is not None:
        ways.append((RANK.index(labels.how), min([read.raw.read_id for read in labels.reads]), labels.sentence))
    rank, _, sentence = min(ways)
    return RANK[rank], sentence


def _surest(labels: Plain | None, others: Sequence[Proven]) -> float:
    sure: list[float] = [_confidence(found) for found in others]
    sure += [read.raw.confidence for read in labels.reads] if labels else []
    return max(sure)


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


def _places_said(evidence: Evidence, notes: Sequence[Note]) -> dict[str, Place]:
    """Where people say that cartons stand, unless a later read saw one elsewhere.

    A read made without a stated place does not hide an earlier place.
    """
    said: dict[str, CartonPlace] = {}
    for note in of_kind(notes, CartonPlace):
        said[note.carton] = max(said.get(note.carton, note), note, key=lambda note: note.order)
    places = {}
    for name, note in said.items():
        raws = evidence.raws(name)
        last = _last_placed(raws) if raws else None
        if last is None or last.place is NO_PLACE or when(last) < (note.noted_at, note.note_id):
            places[name] = note.place
    return places


def _last_placed(raws: Sequence[RawRead]) -> RawRead:
    """The last of these reads, oldest first, that states a place; the last of all where none does."""
    last = raws[-1]
    if last.place is not NO_PLACE:
        return last
    return next((raw for raw in reversed(raws) if raw.place is not NO_PLACE), last)


def _damage(notes: Sequence[Note]) -> dict[str, tuple[DamageNoted, ...]]:
    found: dict[str, tuple[DamageNoted, ...]] = {}
    for note in of_kind(notes, DamageNoted):
        found[note.carton] = (*found.get(note.carton, ()), note)
    return found
