"""The state of each carton, from what shows it, from what people say, and from the outer box that it travels in.

The ledger holds it while the shipment's labels are resolved: who is here by what, what is asked, which notes count.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import combinations, pairwise
from math import log
from typing import Any, TypeVar

from receiving.matching.assignment import over_rate
from receiving.matching.catalogue import Catalogue
from receiving.matching.observations import Matched, Observation, OverLabel, Reason, UnclearLabel, read_order
from receiving.model import (
    Carton,
    CartonFinding,
    CartonPlace,
    CartonSeen,
    CartonState,
    ContentCounted,
    DamageNoted,
    Duplicate,
    Explanation,
    Fact,
    How,
    LabelRead,
    Note,
    OtherShipment,
    Outcome,
    OuterOpened,
    Place,
    RawRead,
    Source,
    fact,
)
from receiving.model import notes_in_force as notes_in_force

MOST_CHOICES = 6
"""A question with more answers than a person looks through is none."""


@dataclass(frozen=True)
class OpenQuestion:
    """Looks at one label that a person must place; the missing cartons that it may be, and those seen again.

    ``elsewhere`` are the cartons of other shipments that it may be as well.
    """

    observations: tuple[Observation, ...]
    cartons: tuple[str, ...]
    again: tuple[str, ...]
    why: Fact
    elsewhere: tuple[Carton, ...] = ()


@dataclass(frozen=True)
class DuplicateObservation:
    """An observation that needs no carton: all that it fits are here anyway."""

    observation: Observation
    why: Fact


@dataclass
class Ledger:
    """Who is here by what so far, while the rest is resolved."""

    catalogue: Catalogue
    matched: dict[str, list[Matched]] = field(default_factory=dict)
    confirmed: frozenset[str] = frozenset()
    shipments_seen: frozenset[str] = frozenset()
    looks_like: OtherShipment | None = None
    overs_known: int = 0
    open_questions: list[OpenQuestion] = field(default_factory=list)
    duplicates: list[DuplicateObservation] = field(default_factory=list)
    overs: list[OverLabel] = field(default_factory=list)
    unclear: list[UnclearLabel] = field(default_factory=list)
    _own_label: dict[str, bool] = field(default_factory=dict)
    _missing: dict[int, tuple[tuple[str, ...], tuple[str, ...]]] = field(default_factory=dict)

    def of(self, carton: str) -> Sequence[Matched]:
        """What shows this carton."""
        return self.matched.get(carton, ())

    def is_here(self, carton: str) -> bool:
        """Something shows this carton, or a person confirms it."""
        return carton in self.matched or carton in self.confirmed

    def by_own_label(self, carton: str) -> bool:
        """A machine read this carton's own code, so that its label is whole; a torn label is then another's."""
        known = self._own_label.get(carton)
        if known is None:
            known = self._own_label[carton] = any(_shows_whole_label(found) for found in self.of(carton))
        return known

    def missing(self, cartons: tuple[str, ...]) -> tuple[str, ...]:
        """Those of the cartons that nothing shows."""
        if len(cartons) <= MOST_CHOICES:
            return tuple([c for c in cartons if not self.is_here(c)])
        known = self._missing.get(id(cartons))
        if known is None or known[0] is not cartons:
            known = self._missing[id(cartons)] = (cartons, tuple([c for c in cartons if not self.is_here(c)]))
        return known[1]

    def here(self, cartons: Iterable[str]) -> tuple[str, ...]:
        """Those of the cartons that are here."""
        return tuple(c for c in cartons if self.is_here(c))

    def add(self, found: Matched) -> None:
        """Record that this observation is that carton."""
        self._own_label.pop(found.carton, None)
        if found.carton not in self.matched:
            self._missing.clear()
        self.matched.setdefault(found.carton, []).append(found)

    @property
    def over_cost(self) -> float:
        """What it costs that a label is of no carton of this shipment, by what is known of this pile."""
        return -log(over_rate(len(self.matched), self.overs_known))


def _shows_whole_label(found: Matched) -> bool:
    reads = [r for r in found.observation.reads if r.claim.sscc or r.claim.barcode or r.claim.carton]
    machine = any(r.raw.source is not Source.TYPED and not r.raw.guided for r in reads)
    return machine and not found.by_person and found.how is not How.ADDRESS


def add_question(
    ledger: Ledger,
    observations: Sequence[Observation],
    cartons: tuple[str, ...],
    shown: tuple[tuple[str, Any], ...],
    why: Fact,
    again: tuple[str, ...] = (),
    elsewhere: tuple[Carton, ...] = (),
) -> None:
    """Ask, or say that it is unclear where a person would have to look through too many cartons."""
    if len(cartons) > MOST_CHOICES:
        many = fits_fact(Reason.FITS_TOO_MANY, shown, count=len(cartons))
        ledger.unclear.extend(UnclearLabel(observation, many) for observation in observations)
        return
    again = again if len(again) <= MOST_CHOICES else ()
    ledger.open_questions.append(OpenQuestion(tuple(observations), cartons, again, why, elsewhere))


def fits_fact(reason: Reason, shown: tuple[tuple[str, Any], ...], **values: Any) -> Fact:
    """The fact of this reason, with what the label shows."""
    return fact(reason, **dict(shown), **values)


# Notes by their kind, and those that count.


__all__ = ["notes_in_force", "of_kind"]

N = TypeVar("N", bound=Note)


def of_kind(notes: Iterable[Note], kind: type[N]) -> tuple[N, ...]:
    """The notes of one kind, in the order given."""
    return tuple(note for note in notes if isinstance(note, kind))


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
    elsewhere = _at_two_places(carton, sorted(reads, key=lambda read: read_order(read.raw)))
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
    return Duplicate(carton, raw, tuple(read_ids), fact(Reason.TWICE_IN_PHOTO, carton=carton))


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
            return Duplicate(carton, two.raw.raw, (one.read_id, two.read_id), _two_places(carton, one, two))
    return None


def _two_places(carton: str, one: LabelRead, two: LabelRead) -> Fact:
    seconds = int((two.raw.read_at - one.raw.read_at).total_seconds())
    return fact(Reason.AT_TWO_PLACES, carton=carton, first=one.raw.place, seconds=seconds, second=two.raw.place)


# Looking a member up in its class takes longer than what is done with it, read by read.
NO_PLACE, TYPED, RECEIVED = Place.OTHER, Source.TYPED, CartonState.RECEIVED
BROKEN_DOWN = fact(Reason.BROKEN_DOWN)
RANK = (How.SSCC, How.BARCODE, How.ADDRESS, How.GUIDED, How.TYPED)


@dataclass(frozen=True)
class Shown:
    """A carton that labels show, and all that follows from those labels alone: the same whatever else is known."""

    matched: tuple[Matched, ...]
    finding: CartonFinding
    duplicates: tuple[Duplicate, ...]
    explanations: tuple[Explanation, ...]
    last: RawRead


def shown_by(carton: Carton, matched: Sequence[Matched]) -> Shown:
    """What these observations say of this carton; at least one."""
    raws = sorted((read.raw for found in matched for read in found.observation.reads), key=read_order)
    rank, why = min(((_rank(found), found.why) for found in matched), key=_first_stated)
    last = _last_placed(raws)
    read_ids = tuple([raw.read_id for raw in raws])
    sure = max([_confidence(found) for found in matched])
    finding = CartonFinding(carton, RECEIVED, why, RANK[rank], read_ids, last.place, sure)
    twice = duplicates_of(carton.carton, matched)
    words = tuple([_explained(r, found, twice) for found in matched for r in found.observation.read_ids])
    return Shown(tuple(matched), finding, twice, words, last)


def _first_stated(ranked: tuple[int, Fact]) -> tuple[int, str, str]:
    rank, why = ranked
    return rank, why.reason, repr(why.values)


def _explained(read_id: str, found: Matched, twice: Sequence[Duplicate]) -> Explanation:
    for dup in twice:
        first_label = dup.read_ids[0] in found.observation.read_ids
        if read_id in dup.read_ids and not first_label:
            return Explanation(read_id, Outcome.DUPLICATE, dup.why, found.carton)
    return Explanation(read_id, Outcome.MATCHED, found.why, found.carton, found.odds)


class RollCall:
    """Who is here, by the strongest reason first: what was found once stays so.

    ``asked`` are the ids of the questions whose answer may be a carton, by carton.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        shown: Mapping[str, Shown],
        notes: Sequence[Note],
        asked: Mapping[str, tuple[str, ...]],
    ) -> None:
        self.by_id = catalogue.by_id
        self.shown = shown
        self.notes = notes
        self.asked = asked
        self.damage = _damage(notes)
        self.places = _places_stated(shown, notes)
        self.opened = {note.carton: note for note in of_kind(notes, OuterOpened) if note.carton in self.by_id}
        self.here: dict[str, CartonFinding] = {name: self._with_notes(each.finding) for name, each in shown.items()}

    def findings(self) -> tuple[CartonFinding, ...]:
        """Every carton of the manifest once, in manifest order, each in one state."""
        self._stated_by_people()
        known_outers = self._shown_by_contents()
        self._inside_opened_boxes()
        here = self.here
        return tuple([here.get(name) or self._absent(carton, known_outers) for name, carton in self.by_id.items()])

    def _with_notes(self, finding: CartonFinding) -> CartonFinding:
        name = finding.carton.carton
        if name not in self.places and name not in self.damage:
            return finding
        place, damage = self.places.get(name, finding.place), self.damage.get(name, ())
        return CartonFinding(
            finding.carton, RECEIVED, finding.why, finding.how, finding.evidence, place, finding.confidence, damage
        )

    def _add(self, name: str, how: How, why: Fact, read_ids: tuple[str, ...] = ()) -> None:
        """This carton is here, unless something stronger said so before."""
        if name not in self.here:
            place, damage = self.places.get(name), self.damage.get(name, ())
            self.here[name] = CartonFinding(self.by_id[name], RECEIVED, why, how, read_ids, place, damage=damage)

    def _stated_by_people(self) -> None:
        """The cartons that a person says are here without a label."""
        for name, why in confirmed_cartons(self.notes).items():
            if name in self.by_id:
                self._add(name, How.TYPED, why)
        for name, note in self.opened.items():
            if note.by_store:
                self._add(name, How.INSIDE_OUTER, BROKEN_DOWN)
            else:
                self._add(name, How.TYPED, fact(Reason.OPENED, by=note.by))

    def _shown_by_contents(self) -> frozenset[str]:
        """Outer boxes that are known by what travels in them; returns those whose contents were seen."""
        seen: dict[str, list[str]] = defaultdict(list)
        for name, carton in self.by_id.items():
            if carton.outer and name in self.here:
                for outer in self._outers_of(carton):
                    seen[outer].append(name)
        for outer in [outer for outer in seen if outer not in self.here]:
            read_ids = {read_id for name in seen[outer] for read_id in self.here[name].evidence}
            self._add(outer, How.INSIDE_OUTER, BROKEN_DOWN, tuple(sorted(read_ids)))
        return frozenset(seen)

    def _inside_opened_boxes(self) -> None:
        """Everything in a box whose contents were found complete is here."""
        complete = {name for name, note in self.opened.items() if note.all_inside}
        for carton in self.by_id.values() if complete else ():
            outer = next((outer for outer in self._outers_of(carton) if outer in complete), None)
            if outer is not None:
                why = fact(Reason.OPENED_COMPLETE, by=self.opened[outer].by, outer=outer)
                self._add(carton.carton, How.INSIDE_OUTER, why)

    def _absent(self, carton: Carton, known_outers: frozenset[str]) -> CartonFinding:
        """A carton that nothing shows: missing, or inside a box that is here."""
        name = carton.carton
        asked = self.asked.get(name, ())
        state, why = self._absence(carton, known_outers)
        if asked:
            why = fact(Reason.LABEL_WAITS) if state is CartonState.SHORT else why.adding(label_waits=True)
        place, damage = self.places.get(name), self.damage.get(name, ())
        return CartonFinding(carton, state, why, place=place, damage=damage, asked_in=asked)

    def _absence(self, carton: Carton, known_outers: frozenset[str]) -> tuple[CartonState, Fact]:
        outer = carton.outer
        if not outer:
            return CartonState.SHORT, fact(Reason.NOTHING_SHOWS_IT)
        if outer not in self.here:
            return CartonState.SHORT, fact(Reason.OUTER_NOT_HERE, outer=outer)
        if outer in self.opened:
            return CartonState.SHORT, fact(Reason.NOT_IN_OPENED_OUTER, outer=outer)
        if outer in known_outers:
            return CartonState.SHORT, fact(Reason.OTHERS_OF_OUTER_SEEN, outer=outer)
        return CartonState.INSIDE, fact(Reason.IN_CLOSED_OUTER, outer=outer)

    def _outers_of(self, carton: Carton) -> Iterator[str]:
        """The boxes that this carton travels in, nearest first; ends where a faulty manifest goes in a circle."""
        passed = {carton.carton}
        outer = self.by_id.get(carton.outer)
        # Such a manifest is refused when it is imported; data of an older version may hold one.
        while outer is not None and outer.carton not in passed:
            passed.add(outer.carton)
            yield outer.carton
            outer = self.by_id.get(outer.outer)


def confirmed_cartons(notes: Sequence[Note]) -> dict[str, Fact]:
    """The cartons that a person says are here without a label, and by what: seen, or opened and counted."""
    stated: dict[str, Fact] = {}
    for counted in of_kind(notes, ContentCounted):
        stated[counted.carton] = fact(Reason.COUNTED, by=counted.by)
    for seen in of_kind(notes, CartonSeen):
        stated[seen.carton] = fact(Reason.CONFIRMED, by=seen.by, why=seen.reason)
    return stated


def _confidence(found: Matched) -> float:
    """That of its best read, less where likelihood decided: odds of 49 to 1 are 0.98."""
    reads = found.observation.reads
    read = reads[0].raw.confidence if len(reads) == 1 else max(read.raw.confidence for read in reads)
    # Read rightly and matched rightly, as two independent things: the product of both.
    return read if found.odds is None else read * found.odds / (found.odds + 1)


def _rank(found: Matched) -> int:
    """How good the proof is; what a person typed or a guided read counts only where nothing else shows it."""
    machine = False
    for read in found.observation.reads:
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
        return bool(claim.barcode or claim.gtin or claim.carton or claim.elements)
    return how is not How.TYPED


def _places_stated(shown: Mapping[str, Shown], notes: Sequence[Note]) -> dict[str, Place]:
    """Where people say that cartons stand, unless a later read saw one elsewhere.

    A read made without a stated place does not hide an earlier place.
    """
    stated: dict[str, CartonPlace] = {}
    for note in of_kind(notes, CartonPlace):
        stated[note.carton] = note
    places = {}
    for name, note in stated.items():
        last = shown[name].last if name in shown else None
        if last is None or last.place is NO_PLACE or last.read_at <= note.noted_at:
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
