"""What people noted that overrides the plan: what was moved, pinned, placed and opened, and trips that were begun."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from receiving.model import (
    CartonMoved,
    CartonPlace,
    Note,
    OuterOpened,
    Place,
    StagingChanged,
    StagingPlan,
    notes_in_force,
)
from receiving.staging.loading import Placement, arrange
from receiving.staging.loads import Deck, Load


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


# Trips that were begun: what rode along with a carton that stands at its bay stays on that trip, until it is moved.


def trips_under_way(loads: Iterable[Load], riding: Mapping[str, int], deck: Deck) -> dict[int, tuple[Placement, ...]]:
    """The begun trips with what is still on their carts; loads that no cart takes together are planned anew."""
    together: dict[int, list[Load]] = {}
    for load in loads:
        if load.carton in riding:
            together.setdefault(riding[load.carton], []).append(load)
    placed = {trip: arrange(group, deck) for trip, group in sorted(together.items())}
    return {trip: found for trip, found in placed.items() if found is not None}


def rode_along(note: CartonMoved, notes: Iterable[Note], plan: StagingPlan) -> tuple[str, ...]:
    """What else is on the cart of this move: as said by an earlier move of the trip, else as planned now."""
    if not note.bay or not note.trip:
        return ()
    known = overrides_of(notes).riding
    begun = {carton for carton, trip in known.items() if trip == note.trip}
    planned = next((trip.cartons for trip in plan.trips if trip.trip == note.trip and not trip.by_hand), ())
    return tuple(carton for carton in (sorted(begun) or planned) if carton != note.carton)
