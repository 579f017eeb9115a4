"""What is drawn in a printed plan: cartons from above in layers, and which cartons are for which place of a section."""

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.graphics.shapes import Drawing, Group, Rect, String
from reportlab.lib.colors import black, white

from receiving.closing.paper import BOLD_FAMILY, FAMILY, in_letters
from receiving.closing.writing import as_drawn
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import CartonState, Manifest, Reconciliation, Spot, in_layers

GAP_PT, NAME_PT = 5.0, 5.5
"""Between two layers, and the type size of a layer's number above it."""


def layers_from_above(
    length_cm: float,
    depth_cm: float,
    spots: Sequence[Spot],
    room_pt: tuple[float, float],
    largest_pt: float,
    *,
    speaker: Speaker = ENGLISH,
) -> Any:
    """A deck or floor of this size, layer by layer from the lowest, as large as fits the room: each carton named."""
    layers = in_layers(spots)
    columns, unit = _grid(len(layers), length_cm, depth_cm, room_pt)
    wide, deep = length_cm * unit + GAP_PT, depth_cm * unit + GAP_PT + NAME_PT
    rows = -(-len(layers) // columns)
    drawing = Drawing(columns * wide, rows * deep)
    for number, layer in enumerate(layers):
        x, top = number % columns * wide, (rows - number // columns) * deep
        name = speaker.say(message("layer {number}", number=number + 1))
        drawing.add(String(x, top - NAME_PT, in_letters(name), fontName=FAMILY, fontSize=NAME_PT))
        for shape in _layer(layer, length_cm, depth_cm, unit, largest_pt):
            shape.shift(x, top - NAME_PT - 2 - depth_cm * unit)
            drawing.add(shape)
    return drawing


def _grid(count: int, length_cm: float, depth_cm: float, room_pt: tuple[float, float]) -> tuple[int, float]:
    """How many layers side by side make them largest, and points for a centimetre then."""
    best = (1, 0.0)
    for columns in range(1, count + 1):
        rows = -(-count // columns)
        across = (room_pt[0] / columns - GAP_PT) / length_cm
        down = (room_pt[1] / rows - GAP_PT - NAME_PT) / depth_cm
        if min(across, down) > best[1]:
            best = (columns, min(across, down))
    return best if best[1] > 0 else (count, room_pt[0] / count / length_cm / 2)


def _layer(layer: Sequence[Spot], length_cm: float, depth_cm: float, unit: float, largest_pt: float) -> Iterator[Any]:
    ground = Group(Rect(0, 0, length_cm * unit, depth_cm * unit, fillColor=white, strokeDashArray=[3, 2]))
    yield ground
    for spot in layer:
        x, y = spot.x_cm * unit, (depth_cm - spot.y_cm - spot.width_cm) * unit
        long, wide = spot.length_cm * unit, spot.width_cm * unit
        box = Rect(x, y, long, wide, fillColor=white, strokeColor=black, strokeWidth=0.7)
        yield Group(box, _label(spot.cartons[0], x + long / 2, y + wide / 2, long, wide, largest_pt))


def _label(carton: str, x: float, y: float, long: float, wide: float, largest_pt: float) -> Any:
    words = on_one_line(carton)
    size = max(3.0, min(wide * 0.8, long / (0.6 * len(words) + 0.3), largest_pt))
    text = String(x, y - size * 0.35, words, fontName=BOLD_FAMILY, fontSize=size)
    text.textAnchor = "middle"
    return text


def positions(
    section: str, manifest: Manifest, reconciliation: Reconciliation
) -> dict[tuple[int, int], tuple[str, CartonState]]:
    """The cartons of each position (column, row), and the worst of their states."""
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
        found[place] = (" ".join(cartons), next(state for state in worst_first if state in here))
    return found


def on_one_line(text: str) -> str:
    """The text on one line, in letters that the font has."""
    return in_letters(as_drawn(" ".join(text.split())))
