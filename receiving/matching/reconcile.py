"""The room's entry point: manifest, reads and notes in, the state of the shipment out.

And what follows from that state for a person: what should be looked at, counted once for every page, command and list;
and the search for a carton that is missing: where it was looked for, where not yet, whether it is declared short.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from operator import attrgetter

from receiving.matching.assignment import raw_text
from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.identify import identify
from receiving.matching.observations import (
    Candidates,
    Judgement,
    Matched,
    Observation,
    OverLabel,
    Reason,
    Shared,
    UnclearLabel,
    group_by_label,
)
from receiving.matching.overs import marked_as_none, other_shipment, shipments_seen, split_from_other_shipment
from receiving.matching.presence import (
    Ledger,
    OpenQuestion,
    RollCall,
    Shown,
    confirmed_cartons,
    notes_in_force,
    of_kind,
    shown_by,
)
from receiving.matching.resolve import resolve
from receiving.model import (
    Explanation,
    How,
    LabelRead,
    Manifest,
    Note,
    Outcome,
    Over,
    OverReason,
    Place,
    PlaceSearched,
    Question,
    ReadAssigned,
    ReadRejected,
    Reconciliation,
    ShortDeclared,
    SizeStated,
    Sscc,
    Unclear,
    Unreadable,
    fact,
)


def reconcile(
    manifest: Manifest,
    reads: Iterable[LabelRead],
    notes: Iterable[Note] = (),
    *,
    others: Iterable[Manifest] | Elsewhere = (),
    unread: Iterable[Unreadable] = (),
) -> Reconciliation:
    """The state of one shipment: every carton of the manifest in one state, every read explained.

    ``others`` are the other open shipments, in which what is over is looked up (an `Elsewhere` saves building the
    index for each shipment). The result hangs neither on the order of the arguments nor on repetition. Raises nothing.
    """
    return Reconciler(manifest, others).state(reads, notes, unread)


class Reconciler:
    """One manifest against reads and notes, as often as either grows.

    It remembers what each label says by itself, and what each carton's labels say of it: both follow from the labels
    alone, so that the state is the same as that of a new one, and one more read costs little.
    """

    def __init__(self, manifest: Manifest, others: Iterable[Manifest] | Elsewhere = ()) -> None:
        # An index of all open shipments costs more than the state of one: whoever asks often keeps it.
        elsewhere = others if isinstance(others, Elsewhere) else Elsewhere.of(others)
        self.manifest = manifest
        self.catalogue = Catalogue(manifest, elsewhere)
        self._judged: dict[str, Judgement] = {}
        self._shown: dict[str, Shown] = {}

    def state(
        self, reads: Iterable[LabelRead], notes: Iterable[Note] = (), unread: Iterable[Unreadable] = ()
    ) -> Reconciliation:
        """The state of the shipment with these reads and notes."""
        notes = notes_in_force(notes)
        found, rejected = self._judge_all(group_by_label(reads), _ByPeople.of(notes, self.catalogue))
        ledger = self._resolved(found, notes)
        shown = {name: self._show(name, matched) for name, matched in ledger.matched.items()}
        questions = _questions(ledger)
        cartons = RollCall(self.catalogue, shown, notes, _questions_by_carton(questions)).findings()
        twice = [dup for name in sorted(shown) for dup in shown[name].duplicates]
        return Reconciliation(
            shipment=self.manifest.shipment,
            store=self.manifest.store,
            cartons=cartons,
            over=_overs(ledger.overs),
            duplicates=tuple(twice),
            questions=tuple(question for _, question in questions),
            unreadable=tuple(sorted(set(unread), key=repr)),
            explanations=_explanations(ledger, shown, questions, rejected),
            unclear=_unclear(ledger),
            looks_like=ledger.looks_like,
        )

    def _judge_all(
        self, labels: Iterable[tuple[LabelRead, ...]], stated: "_ByPeople"
    ) -> tuple[list[Judgement], list[Explanation]]:
        found: list[Judgement] = []
        rejected: list[Explanation] = []
        for reads in labels:
            if stated.nothing_of(reads):
                found.append(self._judge(reads))
                continue
            left = tuple(read for read in reads if read.raw.read_id not in stated.rejected)
            rejected += [_rejection(stated.rejected[r.raw.read_id]) for r in reads if r.raw.read_id in stated.rejected]
            if left:
                found.extend(stated.judge(left, self.catalogue))
        return found, rejected

    def _judge(self, reads: tuple[LabelRead, ...]) -> Judgement:
        name = reads[0].raw.read_id
        known = self._judged.get(name)
        if known is None or known.observation.reads != reads:
            known = self._judged[name] = identify(Observation(reads), self.catalogue)
        return known

    def _show(self, name: str, matched: Sequence[Matched]) -> Shown:
        known = self._shown.get(name)
        if known is None or known.matched != tuple(matched):
            known = self._shown[name] = shown_by(self.catalogue.by_id[name], matched)
        return known

    def _resolved(self, found: Sequence[Judgement], notes: Sequence[Note]) -> Ledger:
        """Everything in its place: what is sure first, then the rest by all that is sure."""
        by_kind: dict[type, list[Judgement]] = {
            kind: [] for kind in (Matched, Shared, Candidates, OverLabel, UnclearLabel)
        }
        for one in found:
            by_kind[type(one)].append(one)
        matched: list[Matched] = by_kind[Matched]  # type: ignore[assignment]
        overs: list[OverLabel] = by_kind[OverLabel]  # type: ignore[assignment]
        # Before anything is fitted: in another shipment's pile no torn label may be taken for a carton of this one.
        looks_like = other_shipment(matched, overs, self.catalogue)
        unclear: list[UnclearLabel] = by_kind[UnclearLabel]  # type: ignore[assignment]
        if looks_like is not None:
            matched, doubtful = split_from_other_shipment(matched, looks_like, self.catalogue)
            unclear += doubtful
        ledger = Ledger(
            self.catalogue,
            confirmed=frozenset(confirmed_cartons(notes)),
            shipments_seen=shipments_seen(overs, self.catalogue),
            looks_like=looks_like,
            overs_known=len({one.key for one in overs if one.reason is not OverReason.NOT_A_CARTON_LABEL}),
            overs=overs,
            unclear=unclear,
        )
        for one in matched:
            ledger.matched.setdefault(one.carton, []).append(one)
        resolve(ledger, by_kind[Candidates], by_kind[Shared])  # type: ignore[arg-type]
        return ledger


# What people say of reads


@dataclass(frozen=True)
class _ByPeople:
    """What people say of reads; of two notes on one read the later counts."""

    rejected: Mapping[str, ReadRejected] = field(default_factory=dict)
    assigned: Mapping[str, ReadAssigned] = field(default_factory=dict)
    sizes: Mapping[str, SizeStated] = field(default_factory=dict)
    spoken_of: frozenset[str] = frozenset()

    @classmethod
    def of(cls, notes: Sequence[Note], catalogue: Catalogue) -> "_ByPeople":
        """What these notes, oldest first, say."""
        rejected = {note.read_id: note for note in of_kind(notes, ReadRejected)}
        assigned = {n.read_id: n for n in of_kind(notes, ReadAssigned) if not n.carton or n.carton in catalogue.by_id}
        sizes = {note.read_id: note for note in of_kind(notes, SizeStated)}
        return cls(rejected, assigned, sizes, frozenset((*rejected, *assigned, *sizes)))

    def nothing_of(self, reads: Sequence[LabelRead]) -> bool:
        """Nobody said anything of these reads."""
        return not self.spoken_of or not any(read.raw.read_id in self.spoken_of for read in reads)

    def judge(self, reads: tuple[LabelRead, ...], catalogue: Catalogue) -> list[Judgement]:
        """What the label is, with what people say of it; one whose reads were told apart falls into its parts."""
        size = next((self.sizes[r.read_id].size for r in reads if r.read_id in self.sizes), None)
        about = [self.assigned[read.read_id] for read in reads if read.read_id in self.assigned]
        if len({note.carton for note in about}) < 2:
            return [_judged(Observation(reads, size), catalogue, about[-1] if about else None)]
        return [_judged(Observation((read,), size), catalogue, self.assigned.get(read.read_id)) for read in reads]


def _judged(observation: Observation, catalogue: Catalogue, assigned: ReadAssigned | None) -> Judgement:
    if assigned is None:
        return identify(observation, catalogue)
    if assigned.carton:
        how = _how_assigned(observation, catalogue, assigned.carton)
        why = fact(Reason.PERSON_ASSIGNED, by=assigned.by, carton=assigned.carton)
        return Matched(observation, assigned.carton, how, why, by_person=True)
    by_itself = identify(observation, catalogue)
    # The label's own reason says more, whose it is, than that somebody said it is none of these.
    return by_itself if isinstance(by_itself, OverLabel) else marked_as_none(observation, assigned.by)


def _how_assigned(observation: Observation, catalogue: Catalogue, carton: str) -> How:
    codes = catalogue.by_id[carton]
    if codes.sscc is not None and str(codes.sscc) in observation.values("sscc"):
        return How.SSCC
    if any(carton in catalogue.with_code(c) for c in (*observation.values("barcode"), *observation.values("gtin"))):
        return How.BARCODE
    at = any(carton in catalogue.at(address) for address in observation.addresses)
    return How.ADDRESS if at else How.TYPED


def _rejection(note: ReadRejected) -> Explanation:
    return Explanation(note.read_id, Outcome.REJECTED, fact(Reason.PERSON_REJECTED, by=note.by, why=note.reason))


# What comes out


def _overs(overs: Sequence[OverLabel]) -> tuple[Over, ...]:
    """One over for each thing that is not a carton of the manifest, whatever number of reads it has."""
    groups: dict[tuple[str, OverReason], list[OverLabel]] = defaultdict(list)
    for over in overs:
        groups[(over.key, over.reason)].append(over)
    found = [_over(group) for group in groups.values()]
    return tuple(sorted(found, key=lambda over: (over.why, over.raw, over.read_ids)))


def _over(group: Sequence[OverLabel]) -> Over:
    # A label that names whose it is speaks for the others of the same thing.
    first = min(group, key=lambda over: (over.listed is None, over.observation.order))
    read_ids = tuple(sorted({read_id for over in group for read_id in over.observation.read_ids}))
    raw = min(over.raw for over in group)
    ssccs = {sscc for over in group for sscc in over.observation.values("sscc")}
    sscc = Sscc(ssccs.pop()) if len(ssccs) == 1 else None
    if first.listed is None:
        return Over(raw, first.reason, read_ids, first.why, store=first.store, sscc=sscc)
    of = first.listed
    why = fact(Reason.ON_OTHER_MANIFEST, where=of.whose)
    return Over(raw, first.reason, read_ids, why, of.manifest.shipment, of.manifest.store, of.carton.carton, sscc)


def _questions(ledger: Ledger) -> list[tuple[OpenQuestion, Question]]:
    asked = [(each, _question(each, ledger.catalogue)) for each in ledger.open_questions]
    return sorted(asked, key=lambda pair: (pair[1].cartons, pair[1].read_ids))


def _question(asked: OpenQuestion, catalogue: Catalogue) -> Question:
    read_ids = tuple(sorted({read_id for o in asked.observations for read_id in o.read_ids}))
    # Named by what it asks: an answer that was typed without signal still finds its question, and never another.
    name = "\n".join((*asked.cartons, "", asked.observations[0].key))
    question_id = f"q{sha256(name.encode()).hexdigest()[:12]}"
    size = next((o.size for o in asked.observations if o.size is not None), None)
    may_be = [*(catalogue.by_id[carton] for carton in asked.cartons), *asked.elsewhere]
    sizes = catalogue.sizes.classes if size is not None else catalogue.sizes.telling(may_be)
    why = fact(Reason.WHICH_CARTON, why=asked.why, cartons=asked.cartons, again=asked.again)
    return Question(question_id, read_ids, asked.cartons, why, sizes, size, asked.again)


def _questions_by_carton(questions: Iterable[tuple[OpenQuestion, Question]]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = defaultdict(list)
    for _, question in questions:
        for carton in question.cartons:
            found[carton].append(question.question_id)
    return {carton: tuple(ids) for carton, ids in found.items()}


def _unclear(ledger: Ledger) -> tuple[Unclear, ...]:
    """One for each thing that says too little, by what it says."""
    groups: dict[tuple[str, ...], list[UnclearLabel]] = defaultdict(list)
    for one in ledger.unclear:
        groups[one.observation.words].append(one)
    found = [_one_unclear(group) for group in groups.values()]
    return tuple(sorted(found, key=lambda one: (one.raw, one.read_ids)))


def _one_unclear(group: Sequence[UnclearLabel]) -> Unclear:
    read_ids = tuple(sorted({read_id for one in group for read_id in one.observation.read_ids}))
    return Unclear(raw_text(group[0].observation), read_ids, group[0].why)


def _explanations(
    ledger: Ledger,
    shown: Mapping[str, Shown],
    questions: Iterable[tuple[OpenQuestion, Question]],
    rejected: Iterable[Explanation],
) -> tuple[Explanation, ...]:
    words = list(rejected)
    for each in shown.values():
        words += each.explanations
    for again in ledger.duplicates:
        words += [Explanation(r, Outcome.MATCHED, again.why) for r in again.observation.read_ids]
    for over in ledger.overs:
        words += [Explanation(r, Outcome.OVER, over.why) for r in over.observation.read_ids]
    for unclear in ledger.unclear:
        words += [Explanation(r, Outcome.UNCLEAR, unclear.why) for r in unclear.observation.read_ids]
    for asked, question in questions:
        words += [Explanation(r, Outcome.QUESTION, question.why) for o in asked.observations for r in o.read_ids]
    return tuple(sorted(words, key=attrgetter("read_id")))


@dataclass(frozen=True, slots=True)
class ToCheck:
    """What to look at, by its id.

    Questions; guided reads that nobody confirmed; cartons with two labels of one code; damaged cartons; photos with
    labels that were not read; photos that could not be read.
    """

    questions: tuple[str, ...] = ()
    guided: tuple[str, ...] = ()
    duplicates: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """How many things there are to check."""
        parts = (self.questions, self.guided, self.duplicates, self.damaged, self.unread, self.failed)
        return sum(map(len, parts))


def things_to_check(
    found: Reconciliation, reads: Iterable[LabelRead], notes: Iterable[Note] = (), failed: Iterable[str] = ()
) -> ToCheck:
    """All that a person should look at; ``failed`` are the photos (ids) that could not be read."""
    return ToCheck(
        questions=tuple(question.question_id for question in found.questions),
        guided=_unconfirmed(found, reads, notes),
        duplicates=tuple(each.carton for each in found.duplicates),
        damaged=tuple(finding.carton.carton for finding in found.cartons if finding.damage),
        unread=tuple(dict.fromkeys(region.photo for region in found.unreadable)),
        failed=tuple(failed),
    )


def _unconfirmed(found: Reconciliation, reads: Iterable[LabelRead], notes: Iterable[Note]) -> tuple[str, ...]:
    """Guided reads that alone show a carton; a plain read of the same carton or a person's word settles one."""
    guided = {read.read_id: read.raw.guided for read in reads}
    stated = {note.read_id for note in notes_in_force(tuple(notes)) if isinstance(note, ReadAssigned)}
    plain = {read_id for read_id, is_guided in guided.items() if not is_guided} | stated
    if not any(guided.values()):
        return ()
    resolved = {f.carton.carton for f in found.cartons if plain & set(f.evidence)}
    return tuple(
        each.read_id
        for each in found.explanations
        if each.outcome is Outcome.MATCHED and guided.get(each.read_id) and each.carton not in resolved
    )


SEARCHED = tuple(place for place in Place if place is not Place.OTHER)
"""Where a carton of a delivery may be in a store (common practice, no source)."""


@dataclass(frozen=True)
class SearchState:
    """How far the search for one carton is: the last search of each place, and the note that declares it short."""

    searched: Mapping[Place, PlaceSearched] = field(default_factory=dict)
    declared: ShortDeclared | None = None

    @property
    def left(self) -> tuple[Place, ...]:
        """The places in which nobody looked for it yet."""
        return tuple(place for place in SEARCHED if place not in self.searched)


NOT_SEARCHED = SearchState()


def search_states(notes: Iterable[Note]) -> dict[str, SearchState]:
    """By carton, how far the search for it is; `NOT_SEARCHED` is true of a carton that is not among them."""
    found: dict[str, SearchState] = {}
    for note in notes_in_force(notes):
        if isinstance(note, PlaceSearched):
            before = found.get(note.carton, NOT_SEARCHED)
            found[note.carton] = SearchState({**before.searched, note.place: note}, before.declared)
        elif isinstance(note, ShortDeclared):
            found[note.carton] = SearchState(found.get(note.carton, NOT_SEARCHED).searched, note)
    return found
