"""What is drawn in a printed plan: stacks from above, and which cartons are for which place of a section."""

from collections.abc import Sequence
from typing import Any

from receiving.closing.paper import BOLD_FAMILY, in_letters
from receiving.model import CartonState, Manifest, Reconciliation, Spot


def stacks_from_above(
    length_cm: float, depth_cm: float, spots: Sequence[Spot], room_pt: tuple[float, float], largest_pt: float
) -> Any:
    """A deck or floor of this size with its stacks, as large as fits the room: the top carton named, others counted."""
    from reportlab.graphics.shapes import Drawing, Rect
    from reportlab.lib.colors import black, white

    unit = min(room_pt[0] / length_cm, room_pt[1] / depth_cm)
    deep = depth_cm * unit
    drawing = Drawing(length_cm * unit, deep)
    drawing.add(Rect(0, 0, length_cm * unit, deep, fillColor=white, strokeDashArray=[3, 2]))
    from_below = sorted(spots, key=lambda spot: spot.z_cm)
    covers = [_cover_of(number, from_below) for number in range(len(from_below))]
    for number, spot in enumerate(from_below):
        x, y = spot.x_cm * unit, deep - (spot.y_cm + spot.width_cm) * unit
        long, wide = spot.length_cm * unit, spot.width_cm * unit
        drawing.add(Rect(x, y, long, wide, fillColor=white, strokeColor=black, strokeWidth=0.7))
        if covers[number] is None:
            below = sum(len(from_below[n].cartons) for n, cover in enumerate(covers) if cover == number)
            left, right = (edge * unit for edge in _seen_along_middle(spot, from_below[number + 1 :]))
            drawing.add(_label(spot, len(spot.cartons) - 1 + below, left, right, y + wide / 2, wide, largest_pt))
    return drawing


def _label(spot: Spot, more: int, left: float, right: float, y: float, wide: float, largest_pt: float) -> Any:
    from reportlab.graphics.shapes import String

    words = on_one_line(spot.cartons[-1]) + (f" +{more}" if more else "")
    size = max(3.0, min(wide * 0.7, (right - left) / (0.66 * len(words) + 0.4), largest_pt))
    text = String((left + right) / 2, y - size * 0.35, words, fontName=BOLD_FAMILY, fontSize=size)
    text.textAnchor = "middle"
    return text


def _seen_along_middle(spot: Spot, above: Sequence[Spot]) -> tuple[float, float]:
    """The stretch (from, to in centimetres) of the spot's middle line around its middle that nothing higher covers."""
    x, y = spot.x_cm + spot.length_cm / 2, spot.y_cm + spot.width_cm / 2
    crossing = [other for other in above if other.y_cm <= y <= other.y_cm + other.width_cm]
    ends = [other.x_cm + other.length_cm for other in crossing if other.x_cm + other.length_cm <= x]
    begins = [other.x_cm for other in crossing if other.x_cm >= x]
    return max([spot.x_cm, *ends]), min([spot.x_cm + spot.length_cm, *begins])


def _cover_of(number: int, from_below: Sequence[Spot]) -> int | None:
    """The highest stack over the middle of this one, or None where its middle can be seen."""
    above = range(number + 1, len(from_below))
    return max((n for n in above if _covers_middle(from_below[n], from_below[number])), default=None)


def _covers_middle(upper: Spot, lower: Spot) -> bool:
    x, y = lower.x_cm + lower.length_cm / 2, lower.y_cm + lower.width_cm / 2
    return upper.x_cm <= x <= upper.x_cm + upper.length_cm and upper.y_cm <= y <= upper.y_cm + upper.width_cm


def positions(
    section: str, manifest: Manifest, reconciliation: Reconciliation
) -> dict[tuple[int, int], tuple[str, str]]:
    """The cartons of each position (column, row), and the worst of their states in words."""
    states = {finding.carton.carton: finding.state for finding in reconciliation.cartons}
    at: dict[tuple[int, int], list[str]] = {}
    for carton in manifest:
        for address in carton.addresses:
            if address.section == section:
                at.setdefault((address.column, address.row), []).append(carton.carton)
    worst_first = (CartonState.SHORT, CartonState.INSIDE, CartonState.RECEIVED)
    found = {}
    for place, cartons in at.items():
        here = {states.get(carton, CartonState.SHORT) for carton in cartons}
        found[place] = (" ".join(cartons), next(state for state in worst_first if state in here).words)
    return found


def on_one_line(text: str) -> str:
    """The text on one line, in letters that the font has."""
    return in_letters(" ".join(text.split()))
