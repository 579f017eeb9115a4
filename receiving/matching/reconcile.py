"""The room's door: manifest, reads and notes in, the state of the shipment out."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from hashlib import sha256
from operator import attrgetter

from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.company import visitors
from receiving.matching.duplicates import duplicates
from receiving.matching.evidence import Evidence
from receiving.matching.identify import identify
from receiving.matching.pieces import Piece, labels_of
from receiving.matching.plain import plain_labels
from receiving.matching.presence import confirmed, findings
from receiving.matching.settle import Ask, Ledger, settle
from receiving.matching.standing import of_kind, standing_notes
from receiving.matching.verdicts import Finding, Proven, Stray, Unsure
from receiving.model import (
    Deferred,
    Duplicate,
    Explanation,
    How,
    LabelRead,
    Manifest,
    Note,
    Outcome,
    Over,
    OverReason,
    Question,
    ReadAssigned,
    ReadRejected,
    Reconciliation,
    SizeClass,
    SizeSaid,
    Sscc,
    Unreadable,
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

    ``others`` are the other open shipments, in which strays are looked up (an `Elsewhere` saves building the index
    for each shipment). The result hangs neither on the order of the arguments nor on repetition. Raises nothing.
    """
    elsewhere = others if isinstance(others, Elsewhere) else Elsewhere.of(others)
    catalogue = Catalogue(manifest, elsewhere)
    standing = standing_notes(notes)
    alone, together = labels_of(reads)
    plain, judged = plain_labels(alone, catalogue, _spoken_of(standing))
    kept, rejected = _split_rejected(_pieces(judged, together, _sizes(standing)), standing)
    found = [_judge(piece, catalogue, assigned) for piece, assigned in _with_assignments(kept, standing, catalogue)]
    strays = [one for one in found if isinstance(one, Stray)]
    evidence = Evidence(plain, (one for one in found if isinstance(one, Proven)))
    ledger = Ledger(catalogue, evidence, frozenset(confirmed(standing)), visitors(strays, catalogue))
    settle(ledger, [one for one in found if isinstance(one, Unsure)])
    strays.extend(ledger.strays)
    twice = duplicates(evidence)
    return Reconciliation(
        shipment=manifest.shipment,
        store=manifest.store,
        cartons=findings(catalogue, evidence, standing),
        over=_overs(strays),
        duplicates=twice,
        questions=_questions(ledger),
        unreadable=tuple(sorted(set(unread), key=repr)),
        explanations=Deferred(lambda: _explanations(ledger, strays, rejected, twice)),
    )


def _spoken_of(notes: Sequence[Note]) -> frozenset[str]:
    """The ids of the reads that a person said something about."""
    return frozenset(note.read_id for note in notes if isinstance(note, ReadRejected | ReadAssigned))


def _sizes(notes: Sequence[Note]) -> dict[str, SizeClass]:
    """How large people say that the cartons of these reads are; the last word counts."""
    return {note.read_id: note.size for note in of_kind(notes, SizeSaid)}


def _pieces(
    alone: Iterable[LabelRead], together: Iterable[Sequence[LabelRead]], sizes: Mapping[str, SizeClass]
) -> list[Piece]:
    labels = [*((read,) for read in alone), *(tuple(reads) for reads in together)]
    if not sizes:
        return [Piece(reads) for reads in labels]
    return [Piece(reads, next((sizes[r.read_id] for r in reads if r.read_id in sizes), None)) for reads in labels]


def _split_rejected(pieces: Sequence[Piece], notes: Sequence[Note]) -> tuple[list[Piece], list[Explanation]]:
    """The pieces without the reads that a person rejected, and an explanation of each of those reads."""
    why = {note.read_id: note for note in of_kind(notes, ReadRejected)}
    if not why:
        return list(pieces), []
    kept, rejected = [], []
    for piece in pieces:
        left = tuple(read for read in piece.reads if read.read_id not in why)
        if left:
            kept.append(piece if len(left) == len(piece.reads) else Piece(left, piece.size))
        for note in (why[read_id] for read_id in piece.read_ids if read_id in why):
            reason = f": {note.reason}" if note.reason else ""
            sentence = f"{note.by or 'A person'} set this read aside{reason}"
            rejected.append(Explanation(note.read_id, Outcome.REJECTED, sentence))
    return kept, rejected


def _with_assignments(
    pieces: Sequence[Piece], notes: Sequence[Note], catalogue: Catalogue
) -> list[tuple[Piece, ReadAssigned | None]]:
    """Each piece with what a person said of it; a label whose reads were told apart falls into its parts."""
    said = {n.read_id: n for n in of_kind(notes, ReadAssigned) if not n.carton or n.carton in catalogue.by_id}
    if not said:
        return [(piece, None) for piece in pieces]
    result: list[tuple[Piece, ReadAssigned | None]] = []
    for piece in pieces:
        about = [said[read_id] for read_id in piece.read_ids if read_id in said]
        if len({note.carton for note in about}) < 2:
            result.append((piece, about[-1] if about else None))
            continue
        result.extend((Piece((read,), piece.size), said.get(read.read_id)) for read in piece.reads)
    return result


def _judge(piece: Piece, catalogue: Catalogue, assigned: ReadAssigned | None) -> Finding:
    if assigned is None:
        return identify(piece, catalogue)
    who = assigned.by or "A person"
    if assigned.carton:
        how = _how_assigned(piece, catalogue, assigned.carton)
        return Proven(piece, assigned.carton, how, f"{who} says that this is carton {assigned.carton}", by_person=True)
    by_itself = identify(piece, catalogue)
    if isinstance(by_itself, Stray):
        return by_itself
    sentence = f"{who} says that this is none of this shipment"
    raw = piece.reads[0].raw.raw
    return Stray(piece, f"said {piece.key}", raw, OverReason.NOT_ON_MANIFEST, sentence)


def _how_assigned(piece: Piece, catalogue: Catalogue, carton: str) -> How:
    codes = catalogue.by_id[carton]
    if codes.sscc is not None and str(codes.sscc) in piece.values("sscc"):
        return How.SSCC
    if any(carton in catalogue.with_code(code) for code in (*piece.values("barcode"), *piece.values("gtin"))):
        return How.BARCODE
    at = any(carton in catalogue.at(address) for address in piece.addresses)
    return How.ADDRESS if at else How.TYPED


def _overs(strays: Sequence[Stray]) -> tuple[Over, ...]:
    """One over for each thing that is no carton of the manifest, whatever number of reads it has."""
    groups: dict[tuple[str, OverReason], list[Stray]] = defaultdict(list)
    for stray in strays:
        groups[(stray.key, stray.why)].append(stray)
    overs = [_over(group) for group in groups.values()]
    return tuple(sorted(overs, key=lambda over: (over.why, over.raw, over.read_ids)))


def _over(group: Sequence[Stray]) -> Over:
    first = min(group, key=lambda stray: (stray.listed is None, stray.piece.key))
    read_ids = tuple(sorted({read_id for stray in group for read_id in stray.piece.read_ids}))
    raw = min(stray.raw for stray in group)
    ssccs = {sscc for stray in group for sscc in stray.piece.values("sscc")}
    sscc = Sscc(ssccs.pop()) if len(ssccs) == 1 else None
    if first.listed is None:
        return Over(raw, first.why, read_ids, first.sentence, store=first.store, sscc=sscc)
    of = first.listed
    words = f"belongs to {of.words}"
    return Over(raw, first.why, read_ids, words, of.manifest.shipment, of.manifest.store, of.carton.carton, sscc)


def _questions(ledger: Ledger) -> tuple[Question, ...]:
    asked = (_question(ask, ledger.catalogue) for ask in ledger.asks)
    return tuple(sorted(asked, key=lambda question: (question.cartons, question.read_ids)))


def _question(ask: Ask, catalogue: Catalogue) -> Question:
    read_ids = tuple(sorted({read_id for piece in ask.pieces for read_id in piece.read_ids}))
    name = "\n".join((*ask.cartons, "", ask.pieces[0].key))
    question_id = f"q{sha256(name.encode()).hexdigest()[:12]}"
    size = next((piece.size for piece in ask.pieces if piece.size is not None), None)
    may_be = [*(catalogue.by_id[carton] for carton in ask.cartons), *ask.visitors]
    sizes = catalogue.sizes.classes if size is not None else catalogue.sizes.telling(may_be)
    return Question(question_id, read_ids, ask.cartons, ask.prompt, sizes, size)


def _explanations(
    ledger: Ledger, strays: Sequence[Stray], rejected: Sequence[Explanation], twice: Sequence[Duplicate]
) -> tuple[Explanation, ...]:
    told, evidence = list(rejected), ledger.evidence
    doubled = {dup.carton for dup in twice}
    for carton in evidence:
        labels = evidence.plain.get(carton)
        if labels is not None and carton not in doubled:
            sentence = labels.sentence
            told += [Explanation(read.raw.read_id, Outcome.MATCHED, sentence, carton) for read in labels.reads]
        for found in evidence.of(carton) if carton in doubled else evidence.proven.get(carton, ()):
            told.extend([_matched(read_id, found, twice) for read_id in found.piece.read_ids])
    told.extend(Explanation(r, Outcome.MATCHED, again.sentence) for again in ledger.again for r in again.piece.read_ids)
    told.extend(Explanation(r, Outcome.OVER, stray.sentence) for stray in strays for r in stray.piece.read_ids)
    for ask in ledger.asks:
        told.extend(Explanation(r, Outcome.QUESTION, ask.prompt) for piece in ask.pieces for r in piece.read_ids)
    return tuple(sorted(told, key=attrgetter("read_id")))


def _matched(read_id: str, found: Proven, twice: Sequence[Duplicate]) -> Explanation:
    for dup in twice:
        first_label = dup.read_ids[0] in found.piece.read_ids
        if read_id in dup.read_ids and not first_label:
            return Explanation(read_id, Outcome.DUPLICATE, dup.why, found.carton)
    return Explanation(read_id, Outcome.MATCHED, found.sentence, found.carton, found.odds)
