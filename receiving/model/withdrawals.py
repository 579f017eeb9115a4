"""Which notes still count, after everything that was withdrawn and withdrawn again: one rule for every room."""

from collections.abc import Iterable

from receiving.model.notes import Note, NoteWithdrawn


def notes_in_force(notes: Iterable[Note]) -> tuple[Note, ...]:
    """The notes that count, oldest first: each id once, without withdrawals and what they withdrew.

    A withdrawal can itself be withdrawn, which brings the first note back.
    """
    once = {note.note_id: note for note in sorted(notes, key=repr)}
    gone: set[str] = set()
    counting: list[Note] = []
    for note in sorted(once.values(), key=lambda note: note.order, reverse=True):
        if note.note_id in gone:
            continue
        if isinstance(note, NoteWithdrawn):
            gone.add(note.withdrawn)
        else:
            counting.append(note)
    return tuple(reversed(counting))
