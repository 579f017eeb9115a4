"""Weights and lengths in words, in the units that a house works in; where they warn, in both.

Values are kept in kilograms, centimetres and metres everywhere. One pound is 0.45359237 kg, one inch 2.54 cm and one
foot 0.3048 m, all exact (NIST Special Publication 811, appendix B).
"""

from collections.abc import Sequence
from enum import StrEnum

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
