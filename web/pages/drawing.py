"""Cartons drawn from above, layer by layer, each with its number."""

from collections.abc import Sequence
from dataclasses import dataclass

from receiving.messages import Message, Text, listing, message, opening
from receiving.model import Spot, split_into_layers
from web.pages.tone import Tone
from web.units import sizes

LARGEST_FONT_CM = 15.0
LETTER_WIDTH, LINE_HEIGHT = 0.7, 1.1
"""A bold digit's width and a line's height in font sizes: the widest of the usual sans faces (DejaVu Sans Bold)."""


@dataclass(frozen=True)
class Box:
    """One carton in a drawing, in centimetres; its number in the middle."""

    carton: str
    x_cm: float
    y_cm: float
    width_cm: float
    depth_cm: float
    font_cm: float
    tone: Tone

    @property
    def middle_x_cm(self) -> float:
        """Where its number is, along."""
        return round(self.x_cm + self.width_cm / 2, 1)

    @property
    def middle_y_cm(self) -> float:
        """Where its number is, across."""
        return round(self.y_cm + self.depth_cm / 2, 1)


@dataclass(frozen=True)
class Layer:
    """The cartons of one layer; ``below`` are the outlines of the layer under it. ``spoken`` says it in words."""

    words: Text
    boxes: tuple[Box, ...]
    below: tuple[Box, ...]
    spoken: Text


@dataclass(frozen=True)
class Drawing:
    """A floor or a deck seen from above, in centimetres, the lowest layer first."""

    name: Text
    width_cm: float
    depth_cm: float
    layers: tuple[Layer, ...]


def draw(name: Text, width_cm: float, depth_cm: float, spots: Sequence[Spot], moved: set[str], lowest: Text) -> Drawing:
    """The cartons on a floor or deck of this size; ``lowest`` names the first layer; those ``moved`` are marked."""
    drawn = [tuple(_box(spot, moved) for spot in layer) for layer in split_into_layers(spots)]
    whole = message("{name}, {size}", name=name, size=sizes((width_cm, depth_cm)))
    layers = tuple(
        _layer(whole, lowest, number, boxes, drawn[number - 2] if number > 1 else ())
        for number, boxes in enumerate(drawn, start=1)
    )
    return Drawing(
        name,
        max(width_cm, *(box.x_cm + box.width_cm for boxes in drawn for box in boxes)),
        max(depth_cm, *(box.y_cm + box.depth_cm for boxes in drawn for box in boxes)),
        layers,
    )


def _layer(name: Message, lowest: Text, number: int, boxes: tuple[Box, ...], below: tuple[Box, ...]) -> Layer:
    words = lowest if number == 1 else message("layer {number}", number=number)
    cartons = listing(box.carton for box in boxes)
    spoken = message("{drawing}, {layer}: {cartons}", drawing=name, layer=words, cartons=cartons)
    return Layer(opening(words), boxes, below, spoken)


def _box(spot: Spot, moved: set[str]) -> Box:
    (carton,) = spot.cartons
    across = spot.length_cm / (LETTER_WIDTH * len(carton) + 0.3)
    return Box(
        carton,
        round(spot.x_cm, 1),
        round(spot.y_cm, 1),
        round(spot.length_cm, 1),
        round(spot.width_cm, 1),
        round(min(LARGEST_FONT_CM, across, spot.width_cm / LINE_HEIGHT), 1),
        Tone.HERE if carton in moved else Tone.PLAIN,
    )
