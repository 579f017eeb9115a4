"""Trips that were begun: what rode along with a carton that stands at its bay stays on that trip, until it is moved."""

from collections.abc import Iterable, Mapping

from receiving.model import CartonMoved, Note, StagingPlan
from receiving.staging.loading import Placement, arrange
from receiving.staging.loads import Deck, Load
from receiving.staging.overrides import overrides_of


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
