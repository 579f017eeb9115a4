"""The units that pages show, as the settings say: asked once a request, and only where a page shows a measure."""

from collections.abc import Sequence

from flask import g, has_request_context

from receiving import service
from receiving.messages import Message
from receiving.model import Units
from receiving.wording import both_lengths_words, both_weights_words, distance_words, sizes_words, weight_words


def shown_units() -> Units:
    """The units of this request; metric outside of one."""
    if not has_request_context():
        return Units.METRIC
    if "units" not in g:
        from web.frame import ctx  # the frame draws pages, and they show measures

        g.units = service.get_settings(ctx()).units
    units: Units = g.units
    return units


def weight(weight_kg: float, *, digits: int = 1) -> Message:
    """A weight in the unit that is set: ``12.5 kg`` or ``27.6 lb``."""
    return weight_words(weight_kg, shown_units(), digits=digits)


def both_weights(weight_kg: float, *, tenths: bool = False) -> Message:
    """A weight in both units, the one that is set first: for cautions, which nobody may have to convert."""
    return both_weights_words(weight_kg, shown_units(), tenths=tenths)


def both_lengths(length_cm: float) -> Message:
    """A length in both units, the one that is set first: for what must stay free."""
    return both_lengths_words(length_cm, shown_units())


def sizes(sides_cm: Sequence[float]) -> Message:
    """Lengths side by side: ``60 × 40 cm`` or ``23.6 × 15.7 in``."""
    return sizes_words(sides_cm, shown_units())


def length(length_cm: float) -> Message:
    """A length in the unit that is set: ``120 cm`` or ``47.2 in``."""
    return sizes((length_cm,))


def distance(distance_m: float) -> Message:
    """A way to walk in the unit that is set: ``60 m`` or ``197 ft``."""
    return distance_words(distance_m, shown_units())
