"""Notes by their kind, and those that count."""

from collections.abc import Iterable
from typing import TypeVar

from receiving.model import Note
from receiving.model import notes_in_force as notes_in_force

__all__ = ["notes_in_force", "of_kind"]

N = TypeVar("N", bound=Note)


def of_kind(notes: Iterable[Note], kind: type[N]) -> tuple[N, ...]:
    """The notes of one kind, in the order given."""
    return tuple(note for note in notes if isinstance(note, kind))
