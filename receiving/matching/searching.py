"""The search for a carton that is missing: where it was looked for, where not yet, and whether it is declared short."""

from collections.abc import Iterable

from receiving.matching.standing import standing_notes
from receiving.model import Note, Place, PlaceSearched, ShortDeclared

SEARCHED = tuple(place for place in Place if place is not Place.OTHER)
"""Where a carton of a delivery may be in a store (common practice, no source)."""


def searches(carton: str, notes: Iterable[Note]) -> dict[Place, PlaceSearched]:
    """The last search of each place for this carton."""
    return {
        note.place: note for note in standing_notes(notes) if isinstance(note, PlaceSearched) and note.carton == carton
    }


def places_left(carton: str, notes: Iterable[Note]) -> tuple[Place, ...]:
    """The places in which nobody looked for this carton yet."""
    done = searches(carton, notes)
    return tuple(place for place in SEARCHED if place not in done)


def declared_short(carton: str, notes: Iterable[Note]) -> ShortDeclared | None:
    """The note that declares this carton short, if one does."""
    found = [note for note in standing_notes(notes) if isinstance(note, ShortDeclared) and note.carton == carton]
    return found[-1] if found else None
