"""Which notes still count, after everything that was withdrawn and withdrawn again."""

from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar

from receiving.model import Note, NoteWithdrawn

N = TypeVar("N", bound=Note)


def standing_notes(notes: Iterable[Note]) -> tuple[Note, ...]:
    """The notes that count, oldest first: each id once, without withdrawals and what they withdrew.

    A withdrawal can itself be withdrawn, which brings the first note back.
    """
    once = {note.note_id: note for note in sorted(notes, key=repr)}
    gone: set[str] = set()
    kept: list[Note] = []
    for note in sorted(once.values(), key=_when, reverse=True):
        if note.note_id in gone:
            continue
        if isinstance(note, NoteWithdrawn):
            gone.add(note.withdrawn)
        else:
            kept.append(note)
    return tuple(reversed(kept))


def of_kind(notes: Iterable[Note], kind: type[N]) -> tuple[N, ...]:
    """The notes of one kind, in the order given."""
    return tuple(note for note in notes if isinstance(note, kind))


def _when(note: Note) -> tuple[datetime, bool, str]:
    # Of two notes of one instant, a withdrawal is the later one: it can only answer something already said.
    return (note.noted_at, isinstance(note, NoteWithdrawn), note.note_id)
