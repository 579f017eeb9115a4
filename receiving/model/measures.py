"""Weights and lengths as messages, in the units that a house works in; where they warn, in both.

Values are kept in kilograms, centimetres and metres everywhere. One pound is 0.45359237 kg, one inch 2.54 cm and one
foot 0.3048 m, all exact (NIST Special Publication 811, appendix B).
"""

from collections.abc import Sequence
from enum import StrEnum

from receiving.messages import Figure, Message, figure, joined, message

KG_PER_LB = 0.45359237
CM_PER_IN = 2.54
M_PER_FT = 0.3048


class Units(StrEnum):
    """In what pages, labels and papers show weights and lengths; manifests and layouts say theirs themselves."""

    METRIC = "metric"
    US = "us"


def shown_weight(weight_kg: float, units: Units = Units.METRIC, *, digits: int = 1) -> str:
    """A weight in one unit: ``12.5 kg`` or ``27.6 lb``."""
    value, unit = (weight_kg / KG_PER_LB, "lb") if units is Units.US else (weight_kg, "kg")
    shown = f"{value:.{digits}f}"
    return f"{shown.rstrip('0').rstrip('.') if digits else shown} {unit}"


def both_weights(weight_kg: float, units: Units = Units.METRIC, *, tenths: bool = False, inside: bool = False) -> str:
    """A weight in both units, for cautions, which nobody may have to convert: ``12.5 kg (27.6 lb)``.

    The unit of the house comes first. ``tenths``: always with one decimal. ``inside`` brackets a comma stands between.
    """
    form = ".1f" if tenths else "g"
    kilograms, pounds = f"{weight_kg:{form}} kg", f"{round(weight_kg / KG_PER_LB, 1):{form}} lb"
    return _both(kilograms, pounds, units, inside=inside)


def shown_sizes(sides_cm: Sequence[float], units: Units = Units.METRIC) -> str:
    """Lengths side by side: ``60 × 40 cm`` or ``23.6 × 15.7 in``."""
    us = units is Units.US
    shown = " × ".join(f"{round(side / CM_PER_IN, 1) if us else side:g}" for side in sides_cm)
    return f"{shown} {'in' if us else 'cm'}"


def both_sizes(sides_cm: Sequence[float], units: Units = Units.METRIC, *, inside: bool = False) -> str:
    """Lengths in both units: ``120 × 60 cm (47.2 × 23.6 in)``; ``inside`` brackets a comma stands between."""
    return _both(shown_sizes(sides_cm), shown_sizes(sides_cm, Units.US), units, inside=inside)


def both_lengths(length_cm: float, units: Units = Units.METRIC, *, inside: bool = False) -> str:
    """One length in both units: ``91.5 cm (36 in)``."""
    return both_sizes((length_cm,), units, inside=inside)


def shown_distance(distance_m: float, units: Units = Units.METRIC) -> str:
    """A way to walk: ``60 m`` or ``197 ft``."""
    return f"{distance_m / M_PER_FT:.0f} ft" if units is Units.US else f"{distance_m:.0f} m"


def _both(metric: str, us: str, units: Units, *, inside: bool) -> str:
    first, second = (us, metric) if units is Units.US else (metric, us)
    return f"{first}, {second}" if inside else f"{first} ({second})"


def weight_words(weight_kg: float, units: Units = Units.METRIC, *, digits: int = 1) -> Message:
    """A weight in one unit, with this many decimals at most.

    >>> str(weight_words(12.5)), str(weight_words(12.5, Units.US)), str(weight_words(12.0))
    ('12.5 kg', '27.6 lb', '12 kg')
    """
    if units is Units.US:
        return message("{weight} lb", weight=float(round(weight_kg / KG_PER_LB, digits)))
    return message("{weight} kg", weight=float(round(weight_kg, digits)))


def both_weights_words(
    weight_kg: float, units: Units = Units.METRIC, *, tenths: bool = False, inside: bool = False
) -> Message:
    """A weight in both units, for cautions, which nobody may have to convert.

    The unit of the house comes first. ``tenths``: always with one decimal. ``inside`` brackets a comma stands between.

    >>> str(both_weights_words(12.5)), str(both_weights_words(12.0, Units.US, tenths=True, inside=True))
    ('12.5 kg (27.6 lb)', '26.5 lb, 12.0 kg')
    """
    pounds = round(weight_kg / KG_PER_LB, 1)
    values: dict[str, float | Figure] = {"kilograms": float(weight_kg), "pounds": float(pounds)}
    if tenths:
        values = {"kilograms": figure(weight_kg, 1), "pounds": figure(pounds, 1)}
    if units is Units.US:
        if inside:
            return message("{pounds} lb, {kilograms} kg", **values)
        return message("{pounds} lb ({kilograms} kg)", **values)
    if inside:
        return message("{kilograms} kg, {pounds} lb", **values)
    return message("{kilograms} kg ({pounds} lb)", **values)


def sizes_words(sides_cm: Sequence[float], units: Units = Units.METRIC) -> Message:
    """Lengths side by side.

    >>> str(sizes_words((60, 40))), str(sizes_words((60, 40), Units.US))
    ('60 × 40 cm', '23.6 × 15.7 in')
    """
    us = units is Units.US
    sides = joined(*(float(round(side / CM_PER_IN, 1) if us else side) for side in sides_cm), separator=" × ")
    return message("{sides} in", sides=sides) if us else message("{sides} cm", sides=sides)


def both_sizes_words(sides_cm: Sequence[float], units: Units = Units.METRIC, *, inside: bool = False) -> Message:
    """Lengths in both units; ``inside`` brackets a comma stands between.

    >>> str(both_sizes_words((120, 60)))
    '120 × 60 cm (47.2 × 23.6 in)'
    """
    first, second = sizes_words(sides_cm), sizes_words(sides_cm, Units.US)
    if units is Units.US:
        first, second = second, first
    if inside:
        return message("{length}, {other}", length=first, other=second)
    return message("{length} ({other})", length=first, other=second)


def both_lengths_words(length_cm: float, units: Units = Units.METRIC, *, inside: bool = False) -> Message:
    """One length in both units.

    >>> str(both_lengths_words(91.5))
    '91.5 cm (36 in)'
    """
    return both_sizes_words((length_cm,), units, inside=inside)


def distance_words(distance_m: float, units: Units = Units.METRIC) -> Message:
    """A way to walk.

    >>> str(distance_words(60)), str(distance_words(60, Units.US))
    ('60 m', '197 ft')
    """
    if units is Units.US:
        return message("{distance} ft", distance=figure(distance_m / M_PER_FT))
    return message("{distance} m", distance=figure(distance_m))
