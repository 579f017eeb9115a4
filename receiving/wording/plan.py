"""What a staging plan says of a bay's floor and of the waves that follow each other on it."""

from receiving.messages import Text, listing, message
from receiving.model import BayStaging, Trip
from receiving.model.measures import both_lengths_words


def trip_wave_words(trip: Trip) -> Text:
    """When a trip of a later wave is driven; empty for the first.

    >>> str(trip_wave_words(Trip(3, ("07",), 8.0, stops=("B1", "B2"), wave=2)))
    'Wave 2: bring it when the floor before B1 and B2 is clear.'
    """
    if trip.wave == 1:
        return ""
    if not trip.stops:
        return message("Wave {number}: bring it when the floor before its bay is clear.", number=trip.wave)
    bays = listing(trip.stops)
    return message("Wave {number}: bring it when the floor before {bays} is clear.", number=trip.wave, bays=bays)


def bay_wave_words(staging: BayStaging) -> Text:
    """When the cartons of a later wave are brought; empty for the first."""
    if staging.wave == 1:
        return ""
    return message("Wave {number}: when what stands before this bay is set and cleared.", number=staging.wave)


def aisle_words(staging: BayStaging) -> Text:
    """How much of the aisle stays free, or that nobody measured it."""
    aisle = staging.aisle
    if aisle is None:
        return message("The aisle is not measured: keep it free.")
    values = {
        "clear": both_lengths_words(aisle.clear_cm),
        "width": both_lengths_words(aisle.width_cm),
        "least": both_lengths_words(aisle.keep_clear_cm),
    }
    if aisle.assumed:
        return message("Aisle: {clear} of {width} stay free; at least {least} must, assumed.", **values)
    return message("Aisle: {clear} of {width} stay free; at least {least} must.", **values)
