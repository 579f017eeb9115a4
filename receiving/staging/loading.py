"""How loads stand on one cart: one after another on the deck or on cartons that can carry them.

The rules are common practice of loading, no source: cartons stay upright; each rests on the deck or, on at least
`CARRIED` of its base and under its middle, on cartons of about the same height; a sturdy carton weighs no more than
those that carry it; nothing sturdy lies on fragile cartons, and nothing but open-first cartons over open-first ones.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from receiving.staging.loads import Deck, Load, clip_to_deck

CARRIED = 0.5
"""The part of a base that must rest on something."""

PLACING = 40
"""What asking for a place costs beside its comparisons, in comparisons, as measured."""

ROOMY = 1.06
"""Part of the cart's space that a load may take in sum; above 1 for what sticks out at the deck's ends."""

LEVEL_MM = 20
"""Tops that differ by no more than this carry together."""


@dataclass(frozen=True)
class Stood:
    """A load as it stands on the cart: corner, foot and sides in millimetres."""

    load: Load
    x_mm: int
    y_mm: int
    z_mm: int
    length_mm: int
    width_mm: int

    @property
    def top_mm(self) -> int:
        """How high it reaches above the deck."""
        return self.z_mm + self.load.height_mm


class Effort:
    """Comparisons of a place with a loaded carton that may still be made: a limit that is the same on every machine."""

    def __init__(self, comparisons: int) -> None:
        self.left = comparisons

    @property
    def spent(self) -> bool:
        """Nothing is left."""
        return self.left <= 0


class CartLoad:
    """A cart while it is loaded: cartons are added in loading order and never moved."""

    def __init__(self, deck: Deck, preference: "Preference | None" = None, effort: Effort | None = None) -> None:
        self.deck = deck
        self.effort = effort or Effort(0)
        self.preference = preference or PREFERENCES[0]
        self.stood: list[Stood] = []
        self.weight_g = 0

    def place_for(self, load: Load) -> Stood | None:
        """The best place that takes this load now, or None."""
        clipped = clip_to_deck(load, self.deck)
        self.effort.left -= PLACING
        if self.weight_g + load.weight_g > self.deck.max_g:
            return None
        best: tuple[tuple[int, ...], Stood] | None = None
        for length, width in dict.fromkeys(
            ((clipped.length_mm, clipped.width_mm), (clipped.width_mm, clipped.length_mm))
        ):
            corners = self._corners(length, width)
            self.effort.left -= len(corners) * (1 + len(self.stood))
            for x, y in corners:
                stood = self._stand(load, x, y, length, width)
                if stood is not None and (best is None or self._worth(stood) < best[0]):
                    best = (self._worth(stood), stood)
        return best[1] if best else None

    def _worth(self, stood: Stood) -> tuple[int, ...]:
        """Open-first loads go on top; the others as low as they can."""
        liked = self.preference(stood)
        return (-stood.z_mm, *liked) if stood.load.open_first else liked

    def add(self, stood: Stood) -> None:
        """Take a place that `place_for` gave."""
        self.stood.append(stood)
        self.weight_g += stood.load.weight_g

    def _corners(self, length: int, width: int) -> Sequence[tuple[int, int]]:
        seen = {(0, 0)}
        for s in self.stood:
            seen.add((s.x_mm, s.y_mm))
            seen.add((s.x_mm + s.length_mm, s.y_mm))
            seen.add((s.x_mm, s.y_mm + s.width_mm))
            seen.add((s.x_mm + s.length_mm, 0))
            seen.add((0, s.y_mm + s.width_mm))
        right, far = self.deck.length_mm - length, self.deck.width_mm - width
        if right < 0 or far < 0:
            return ()
        seen |= {(right, 0), (0, far), (right // 2, 0)}
        seen |= {(right, y) for _, y in tuple(seen)} | {(x, far) for x, _ in tuple(seen)}
        return [(x, y) for x, y in seen if x <= right and y <= far]

    def _stand(self, load: Load, x: int, y: int, length: int, width: int) -> Stood | None:
        x1, y1 = x + length, y + width
        foot = 0
        under = []
        for s in self.stood:
            if x < s.x_mm + s.length_mm and s.x_mm < x1 and y < s.y_mm + s.width_mm and s.y_mm < y1:
                if s.load.open_first > load.open_first:
                    return None
                top = s.z_mm + s.load.height_mm
                under.append((top, s))
                if top > foot:
                    foot = top
        if foot + load.height_mm > self.deck.height_mm:
            return None
        if foot and not _carries([s for top, s in under if top >= foot - LEVEL_MM], load, x, y, x1, y1):
            return None
        return Stood(load, x, y, foot, length, width)


def _carries(carriers: Sequence[Stood], load: Load, x: int, y: int, x1: int, y1: int) -> bool:
    area = weight = 0
    left, right, near, far = x1, x, y1, y
    for s in carriers:
        if s.load.fragile > load.fragile:
            return False
        a, b = max(x, s.x_mm), min(x1, s.x_mm + s.length_mm)
        c, d = max(y, s.y_mm), min(y1, s.y_mm + s.width_mm)
        area += (b - a) * (d - c)
        weight += s.load.weight_g
        left, right, near, far = min(left, a), max(right, b), min(near, c), max(far, d)
    balanced = 2 * left <= x + x1 <= 2 * right and 2 * near <= y + y1 <= 2 * far
    heavy_below = load.fragile or weight >= load.weight_g
    return balanced and heavy_below and area >= CARRIED * (x1 - x) * (y1 - y)


def arrange(loads: Iterable[Load], deck: Deck, effort: Effort | None = None) -> tuple[Stood, ...] | None:
    """A way to stand these loads on one cart, in loading order, or None where none was found.

    An answer keeps every rule and limit; None means "not found", not "impossible".
    """
    group = list(loads)
    if sum(load.weight_g for load in group) > deck.max_g or sum(map(volume_mm3, group)) > ROOMY * deck_mm3(deck):
        return None
    for preference in PREFERENCES:
        for key in LOADING_ORDERS:
            cart = CartLoad(deck, preference, effort)
            if all(_added(cart, load) for load in sorted(group, key=key)):
                return tuple(cart.stood)
    return None


def _added(cart: CartLoad, load: Load) -> bool:
    stood = cart.place_for(load)
    if stood is None:
        return False
    cart.add(stood)
    return True


def volume_mm3(load: Load) -> int:
    """Length × width × height."""
    return load.length_mm * load.width_mm * load.height_mm


def deck_mm3(deck: Deck) -> int:
    """Deck area × stack height."""
    return deck.area_mm2 * deck.height_mm


Preference = Callable[[Stood], tuple[int, ...]]

PREFERENCES: tuple[Preference, ...] = (
    lambda s: (s.z_mm, s.x_mm, s.y_mm),
    lambda s: (s.z_mm, s.length_mm, s.x_mm, s.y_mm),
    lambda s: (s.z_mm, -s.length_mm, s.y_mm, s.x_mm),
    lambda s: (s.top_mm, s.length_mm, s.x_mm, s.y_mm),
    lambda s: (s.top_mm, -s.length_mm, s.y_mm, s.x_mm),
)
"""Which of the possible places is taken: the lowest, then lengthwise or across, then nearest the corner."""


def _heavy_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.weight_g, -load.length_mm * load.width_mm)


def _broad_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.length_mm * load.width_mm, -load.height_mm, -load.weight_g)


def _tall_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.height_mm, -load.length_mm * load.width_mm, -load.weight_g)


LOADING_ORDERS = (_heavy_first, _broad_first, _tall_first)
"""The orders that are tried, each with fragile over sturdy and open-first last."""
