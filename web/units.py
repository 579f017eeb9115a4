"""The units that pages show, as the settings say: asked once a request, and only where a page shows a measure."""

from collections.abc import Sequence

from flask import g, has_request_context

from receiving import service
from receiving.service import Units

LB_PER_KG = 1 / 0.45359237
"""NIST Special Publication 811, appendix B: exact."""


def shown_units() -> Units:
    """The units of this request; metric outside of one."""
    if not has_request_context():
        return Units.METRIC
    if "units" not in g:
        from web.frame import desk  # the frame draws pages, and they show measures

        g.units = service.settings(desk()).units
    units: Units = g.units
    return units


def weight(weight_kg: float, *, digits: int = 1) -> str:
    """A weight in the unit that is set: ``12.5 kg`` or ``27.6 lb``."""
    value, unit = (weight_kg * LB_PER_KG, "lb") if shown_units() is Units.US else (weight_kg, "kg")
    return f"{round(value, digits):g} {unit}"


def both_weights(weight_kg: float, *, tenths: bool = False) -> str:
    """A weight in both units, the one that is set first: for cautions, which nobody may have to convert.

    ``tenths``: always with one decimal.
    """
    form = ".1f" if tenths else "g"
    kilograms, pounds = f"{weight_kg:{form}} kg", f"{round(weight_kg * LB_PER_KG, 1):{form}} lb"
    return f"{pounds} ({kilograms})" if shown_units() is Units.US else f"{kilograms} ({pounds})"


def sizes(sides_cm: Sequence[float]) -> str:
    """Lengths side by side: ``60 × 40 cm`` or ``23.6 × 15.7 in``."""
    us = shown_units() is Units.US
    shown = " × ".join(f"{round(side / 2.54, 1) if us else side:g}" for side in sides_cm)
    return f"{shown} {'in' if us else 'cm'}"


def length(length_cm: float) -> str:
    """A length in the unit that is set: ``120 cm`` or ``47.2 in``."""
    if shown_units() is Units.US:
        return f"{round(length_cm / 2.54, 1):g} in"
    return f"{length_cm:g} cm"
