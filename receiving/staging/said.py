"""What people said that binds the plan: what was moved, pinned, placed and opened."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from receiving.model import CartonMoved, CartonPlace, Note, NoteWithdrawn, OuterOpened, Place, StagingChanged


@dataclass(frozen=True)
class Said:
    """The notes that bind a plan, the last word on each carton; ``moved`` maps carton to bay.

    ``driven`` is the number of the last trip that something was moved on; the trips to come count on from it.
    ``riding`` maps what was on a cart with a moved carton, and was not moved itself, to its trip.
    """

    moved: dict[str, str] = field(default_factory=dict)
    trips: dict[str, int] = field(default_factory=dict)
    bays: dict[str, str] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    opened: frozenset[str] = frozenset()
    driven: int = 0
    riding: dict[str, int] = field(default_factory=dict)

    def bay_of(self, carton: str) -> str:
        """The bay that a person chose, or ''."""
        return self.moved.get(carton) or self.bays.get(carton, "")


def what_was_said(notes: Iterable[Note]) -> Said:
    """The last word of each note on each carton, by time noted; withdrawn notes do not count."""
    ordered = sorted(notes, key=lambda note: (note.noted_at, note.note_id))
    withdrawn = {note.withdrawn for note in ordered if isinstance(note, NoteWithdrawn)}
    said = Said()
    opened = set()
    on_trip: dict[str, int] = {}
    for note in ordered:
        if note.note_id in withdrawn:
            continue
        match note:
            case CartonMoved(carton=carton, bay=""):
                said.moved.pop(carton, None)
                said.riding.pop(carton, None)
                on_trip.pop(carton, None)
            case CartonMoved(carton=carton, bay=bay, trip=trip, along=along):
                said.moved[carton] = bay
                on_trip[carton] = trip or on_trip.get(carton, 0)
                said.riding.pop(carton, None)
                said.riding.update({other: trip for other in along if trip and other not in said.moved})
            case StagingChanged(carton=carton, trip=trip, bay=bay):
                if trip is not None:
                    said.trips[carton] = trip
                    said.riding.pop(carton, None)
                if bay:
                    said.bays[carton] = bay
            case CartonPlace(carton=carton, place=place):
                said.places[carton] = place
            case OuterOpened(carton=carton):
                opened.add(carton)
    return replace(said, opened=frozenset(opened), driven=max(on_trip.values(), default=0))
