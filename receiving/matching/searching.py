"""The search for a carton that is missing: where it was looked for, where not yet, and whether it is declared short."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from receiving.matching.ledger import notes_in_force
from receiving.model import Note, Place, PlaceSearched, ShortDeclared

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
