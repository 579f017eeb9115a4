"""What people noted that overrides the plan: what was moved, pinned, placed and opened."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from receiving.model import CartonMoved, CartonPlace, Note, OuterOpened, Place, StagingChanged, notes_in_force


@dataclass(frozen=True)
class Overrides:
    """The notes that override a plan, the last word on each carton; ``moved`` maps carton to bay.

    ``driven`` is the number of the last trip that something was moved on; the trips to come count on from it.
    ``riding`` maps what was on a cart with a moved carton, and was not moved itself, to its trip; ``moved_on`` maps a
    moved carton to the trip that it was moved on, 0 where that was not noted.
    """

    moved: dict[str, str] = field(default_factory=dict)
    trips: dict[str, int] = field(default_factory=dict)
    bays: dict[str, str] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    opened: frozenset[str] = frozenset()
    driven: int = 0
    riding: dict[str, int] = field(default_factory=dict)
    moved_on: dict[str, int] = field(default_factory=dict)

    def bay_of(self, carton: str) -> str:
        """The bay that a person chose, or ''."""
        return self.moved.get(carton) or self.bays.get(carton, "")


def overrides_of(notes: Iterable[Note]) -> Overrides:
    """The last word of each note on each carton, among those that are in force."""
    found = Overrides()
    opened = set()
    on_trip: dict[str, int] = {}
    for note in notes_in_force(notes):
        match note:
            case CartonMoved(carton=carton, bay=""):
                found.moved.pop(carton, None)
                found.riding.pop(carton, None)
                on_trip.pop(carton, None)
            case CartonMoved(carton=carton, bay=bay, trip=trip, along=along):
                found.moved[carton] = bay
                on_trip[carton] = trip or on_trip.get(carton, 0)
                found.riding.pop(carton, None)
                found.riding.update({other: trip for other in along if trip and other not in found.moved})
            case StagingChanged(carton=carton, trip=trip, bay=bay):
                if trip is not None:
                    found.trips[carton] = trip
                    found.riding.pop(carton, None)
                if bay:
                    found.bays[carton] = bay
            case CartonPlace(carton=carton, place=place):
                found.places[carton] = place
            case OuterOpened(carton=carton):
                opened.add(carton)
    return replace(found, opened=frozenset(opened), moved_on=on_trip, driven=max(on_trip.values(), default=0))
