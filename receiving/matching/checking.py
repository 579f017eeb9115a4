"""What a person should look at before a shipment is done: counted once, for every page, command and list."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving.matching.ledger import notes_in_force
from receiving.model import LabelRead, Note, Outcome, ReadAssigned, Reconciliation


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
