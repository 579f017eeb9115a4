"""Cartons as loads: whole grams and millimetres, with a stated assumption where the manifest is silent."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import ceil

from receiving.messages import Message, Text, message, plural
from receiving.model import Cart, Carton, CartonKind, Manifest
from receiving.model.measures import both_lengths_words, both_weights_words

UNWEIGHED_KG = 10.0
"""Planning weight of a carton when nothing is known of its kind (our choice, no source)."""

UNMEASURED_CM = (60.0, 40.0, 30.0)
"""Planning size when nothing is known: the 600 mm × 400 mm module of ISO 3394, 300 mm high (height: our choice)."""

FRAGILE = frozenset({CartonKind.LIGHTING, CartonKind.GRAPHIC, CartonKind.HEADER})
"""Kinds that nothing sturdy is put on (common practice, no source)."""

FRAGILE_BEARS_G = 15_000
"""All that rests on a fragile carton, directly or through others, weighs no more (common practice, no source)."""

HEAVIER = (5, 4)
"""A carton weighs no more than 5/4 of each one that carries it (common practice, no source: heavy below)."""

OVERHANG = 1.25
"""A carton up to this many deck lengths rides along the deck, out at both ends (common practice, no source)."""


@dataclass(frozen=True)
class Load:
    """A carton to be carried, upright: grams and millimetres, ``length_mm`` ≥ ``width_mm``."""

    carton: str
    weight_g: int
    length_mm: int
    width_mm: int
    height_mm: int
    fragile: bool = False
    open_first: bool = False

    @property
    def rank(self) -> int:
        """What may lie on what: only the same or a higher rank lies on this one."""
        return 2 * self.open_first + self.fragile


@dataclass(frozen=True)
class Deck:
    """What one cart trip can take: grams, and millimetres of deck and stack.

    Fragile loads that rest on others reach no higher than ``fragile_mm``.
    """

    max_g: int
    length_mm: int
    width_mm: int
    height_mm: int
    fragile_mm: int = 1 << 60

    @property
    def area_mm2(self) -> int:
        """The area of the deck."""
        return self.length_mm * self.width_mm


def deck_of(cart: Cart) -> Deck:
    """The cart's limits in whole grams and millimetres, rounded down; the deck's length is its longer side."""
    longer, shorter = sorted((cart.deck_length_cm, cart.deck_width_cm), reverse=True)
    return Deck(int(cart.max_load_kg * 1000), int(longer * 10), int(shorter * 10), int(cart.stack_height_cm * 10))


def clip_to_deck(load: Load, deck: Deck) -> Load:
    """The load with the footprint that it takes on this deck: a slight overhang at the ends takes no deck."""
    if deck.length_mm < load.length_mm <= OVERHANG * deck.length_mm:
        return Load(
            load.carton,
            load.weight_g,
            deck.length_mm,
            load.width_mm,
            load.height_mm,
            load.fragile,
            load.open_first,
        )
    return load


def may_carry(lower: Load, upper: Load) -> bool:
    """True when ``upper`` may rest on ``lower``: heavy below, nothing sturdy and nothing heavier on fragile.

    Common practice of loading, no source.
    """
    if lower.fragile:
        return upper.fragile and upper.weight_g <= lower.weight_g
    return upper.weight_g * HEAVIER[1] <= lower.weight_g * HEAVIER[0]


def fits_on(load: Load, deck: Deck) -> bool:
    """The load alone fits the cart, in one of two directions."""
    lengths = (load.length_mm <= deck.length_mm and load.width_mm <= deck.width_mm) or (
        load.length_mm <= deck.width_mm and load.width_mm <= deck.length_mm
    )
    return lengths and load.height_mm <= deck.height_mm and load.weight_g <= deck.max_g


def measure(cartons: Iterable[Carton], manifest: Manifest) -> tuple[dict[str, Load], tuple[Text, ...]]:
    """Each carton as a load, by carton id, and what was assumed, in sentences.

    A missing weight or size is taken from the heaviest or largest of its kind on the manifest; an outer box without
    a weight weighs what its cartons weigh.
    """
    loads, guessed = {}, dict[Message, list[str]]()
    for carton in cartons:
        values = []
        for what, words, read, fallback in _MEASURES:
            value = read(carton)
            if value is None and what == "weight":
                value = _weight_inside(carton, manifest)
            if value is None:
                of_kind = [v for other in manifest if other.kind is carton.kind and (v := read(other)) is not None]
                value = max(of_kind, default=fallback)
                whose = _of_kind(carton.kind) if of_kind else message("our planning value")
                guess = _NOT_STATED[what].filled(measure=words(value), basis=whose)
                guessed.setdefault(guess, []).append(carton.carton)
            values.append(value)
        loads[carton.carton] = _load(carton, *values)
    return loads, tuple(
        plural(
            len(ids),
            "Carton {cartons}: {assumptions}.",
            "Cartons {cartons}: {assumptions}.",
            cartons=", ".join(ids),
            assumptions=guess,
        )
        for guess, ids in guessed.items()
    )


_NOT_STATED = {
    "weight": message("weight not stated, {measure} assumed ({basis})"),
    "length": message("length not stated, {measure} assumed ({basis})"),
    "width": message("width not stated, {measure} assumed ({basis})"),
    "height": message("height not stated, {measure} assumed ({basis})"),
}


def _of_kind(kind: CartonKind) -> Message:
    return message("the most of any {kind} here", kind=Message(kind.printed))  # a term of the catalogues


_MEASURES: tuple[tuple[str, Callable[[float], Message], Callable[[Carton], float | None], float], ...] = (
    ("weight", both_weights_words, lambda c: c.weight_kg, UNWEIGHED_KG),
    ("length", both_lengths_words, lambda c: c.length_cm, UNMEASURED_CM[0]),
    ("width", both_lengths_words, lambda c: c.width_cm, UNMEASURED_CM[1]),
    ("height", both_lengths_words, lambda c: c.height_cm, UNMEASURED_CM[2]),
)


def _weight_inside(outer: Carton, manifest: Manifest) -> float | None:
    weights = [carton.weight_kg for carton in manifest.inside(outer.carton)]
    return sum(w for w in weights if w is not None) if weights and None not in weights else None


def _load(carton: Carton, weight_kg: float, length_cm: float, width_cm: float, height_cm: float) -> Load:
    shorter, longer = sorted((_whole(length_cm * 10), _whole(width_cm * 10)))
    return Load(
        carton=carton.carton,
        weight_g=_whole(weight_kg * 1000),
        length_mm=longer,
        width_mm=shorter,
        height_mm=_whole(height_cm * 10),
        fragile=carton.kind in FRAGILE,
        open_first=carton.open_first,
    )


def _whole(value: float) -> int:
    """Rounded up, except for the dust that decimal fractions leave in binary."""
    return max(1, ceil(round(value, 3)))
