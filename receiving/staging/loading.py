"""How loads stand on one cart: one after another on the deck or on cartons that can carry them.

The rules are common practice of loading, no source: cartons stay upright; each rests on the deck or, on at least
`CARRIED` of its base and under its middle, on cartons of about the same height; a sturdy carton weighs no more than
those that carry it; nothing sturdy lies on fragile cartons, and nothing but open-first cartons over open-first ones.
"""

from bisect import insort
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass

from receiving.staging.loads import Deck, Load, clip_to_deck

CARRIED = 0.5
"""The part of a base that must rest on something."""

PLACING = 20
"""What asking for a place costs beside its comparisons, in comparisons, as measured."""

ROOMY = 1.06
"""Part of the cart's space that a load may take in sum; above 1 for what sticks out at the deck's ends."""

LEVEL_MM = 20
"""Tops that differ by no more than this carry together."""


@dataclass(frozen=True)
class Placement:
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


_Box = tuple[int, int, int, int, int, Placement]
"""Minus its top, near corner, far corner, and what stands there: looked at millions of times, so kept at hand."""


class CartLoad:
    """A cart while it is loaded: cartons are added in loading order and never moved."""

    def __init__(
        self,
        deck: Deck,
        preference: "Preference | None" = None,
        effort: Effort | None = None,
        placements: Iterable[Placement] = (),
    ) -> None:
        self.deck = deck
        self.effort = effort or Effort(0)
        self.preference = preference or PREFERENCES[0]
        self.placements: list[Placement] = []
        self.weight_g = 0
        self.volume_mm3 = 0
        self._boxes: list[_Box] = []  # the highest top first
        self._open_first: list[_Box] = []
        self._corners = {(0, 0)}
        for one in placements:
            self.add(one)

    def add(self, placed: Placement) -> None:
        """Take a place that `place_for` gave."""
        x, y = placed.x_mm, placed.y_mm
        x1, y1 = x + placed.length_mm, y + placed.width_mm
        self.placements.append(placed)
        self.weight_g += placed.load.weight_g
        self.volume_mm3 += volume_mm3(placed.load)
        box = (-placed.top_mm, x, y, x1, y1, placed)
        insort(self._boxes, box)
        if placed.load.open_first:
            self._open_first.append(box)
        self._corners.update(((x, y), (x1, y), (x, y1), (x1, 0), (0, y1)))

    def place_for(self, load: Load) -> Placement | None:
        """The best place that takes this load now, or None: as low as can be (open-first ones as high)."""
        clipped = clip_to_deck(load, self.deck)
        self.effort.left -= PLACING
        highest = self.deck.height_mm - load.height_mm
        if self.weight_g + load.weight_g > self.deck.max_g or highest < 0:
            return None
        best: tuple[tuple[int, ...], Placement] | None = None
        for length, width in dict.fromkeys(
            ((clipped.length_mm, clipped.width_mm), (clipped.width_mm, clipped.length_mm))
        ):
            for x, y in self._places(length, width):
                found = self._foot(load, x, y, x + length, y + width, highest)
                if found is None:
                    continue
                foot, under = found
                worth = (-foot if load.open_first else foot, *self.preference(x, y, length))
                if best is not None and worth >= best[0]:
                    continue
                if not foot or _carries(under, load, x, y, x + length, y + width):
                    best = (worth, Placement(load, x, y, foot, length, width))
                    highest = highest if load.open_first else foot
        return best[1] if best else None

    def _places(self, length: int, width: int) -> Collection[tuple[int, int]]:
        right, far = self.deck.length_mm - length, self.deck.width_mm - width
        if right < 0 or far < 0:
            return ()
        inside = {(x, y) for x, y in self._corners if x <= right and y <= far}
        along_far = {(x, far) for x, _ in self._corners if x <= right}
        along_right = {(right, y) for _, y in self._corners if y <= far}
        places = inside | along_far | along_right | {(right, far), (right // 2, 0), (right // 2, far)}
        self.effort.left -= len(places) * (2 + len(self._boxes) // 16)  # as measured: most boxes are soon passed
        return places

    def _foot(self, load: Load, x: int, y: int, x1: int, y1: int, highest: int) -> tuple[int, list[_Box]] | None:
        """How high the load would stand there, and what it would rest on; None where that is too high or may not be."""
        if self._open_first and not load.open_first and self._over_open_first(x, y, x1, y1):
            return None
        foot = 0
        under = []
        for box in self._boxes:
            top = -box[0]
            if top < foot - LEVEL_MM:
                break
            if x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1:
                if not foot:
                    foot = top
                    if foot > highest:
                        return None
                under.append(box)
        return foot, under

    def _over_open_first(self, x: int, y: int, x1: int, y1: int) -> bool:
        return any(x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1 for box in self._open_first)

    def without(self, taken: Collection[int]) -> tuple["CartLoad", list[Load]]:
        """The cart without the loads at these places of ``placed`` and all that stand over them, and those loads."""
        off: list[Placement] = []
        kept: list[Placement] = []
        for number, one in enumerate(self.placements):
            gone = number in taken or any(_stands_over(one, lower) for lower in off)
            (off if gone else kept).append(one)
        return CartLoad(self.deck, self.preference, self.effort, kept), [one.load for one in off]


def _stands_over(one: Placement, lower: Placement) -> bool:
    return (
        one.z_mm >= lower.top_mm
        and one.x_mm < lower.x_mm + lower.length_mm
        and lower.x_mm < one.x_mm + one.length_mm
        and one.y_mm < lower.y_mm + lower.width_mm
        and lower.y_mm < one.y_mm + one.width_mm
    )


def _carries(under: Sequence[_Box], load: Load, x: int, y: int, x1: int, y1: int) -> bool:
    area = weight = 0
    left, right, near, far = x1, x, y1, y
    for _, sx, sy, sx1, sy1, placed in under:
        if placed.load.fragile > load.fragile:
            return False
        a, b = max(x, sx), min(x1, sx1)
        c, d = max(y, sy), min(y1, sy1)
        area += (b - a) * (d - c)
        weight += placed.load.weight_g
        left, right, near, far = min(left, a), max(right, b), min(near, c), max(far, d)
    balanced = 2 * left <= x + x1 <= 2 * right and 2 * near <= y + y1 <= 2 * far
    heavy_below = load.fragile or weight >= load.weight_g
    return balanced and heavy_below and area >= CARRIED * (x1 - x) * (y1 - y)


def arrange(loads: Iterable[Load], deck: Deck, effort: Effort | None = None) -> tuple[Placement, ...] | None:
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
                return tuple(cart.placements)
    return None


def _added(cart: CartLoad, load: Load) -> bool:
    placed = cart.place_for(load)
    if placed is None:
        return False
    cart.add(placed)
    return True


def volume_mm3(load: Load) -> int:
    """Length × width × height."""
    return load.length_mm * load.width_mm * load.height_mm


def share(load: Load, deck: Deck) -> float:
    """What a load takes of a cart: its part of the weight and of the space."""
    return load.weight_g / deck.max_g + volume_mm3(load) / deck_mm3(deck)


def deck_mm3(deck: Deck) -> int:
    """Deck area × stack height."""
    return deck.area_mm2 * deck.height_mm


Preference = Callable[[int, int, int], tuple[int, ...]]
"""Corner (x, y) and length in millimetres; the least is taken."""

PREFERENCES: tuple[Preference, ...] = (
    lambda x, y, length: (x, y),
    lambda x, y, length: (length, x, y),
    lambda x, y, length: (-length, y, x),
)
"""Which of the possible places that are equally low is taken: nearest the corner, or first lengthwise or across."""


def _heavy_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.weight_g, -load.length_mm * load.width_mm)


def _broad_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.length_mm * load.width_mm, -load.height_mm, -load.weight_g)


def _tall_first(load: Load) -> tuple[int, ...]:
    return (load.rank, -load.height_mm, -load.length_mm * load.width_mm, -load.weight_g)


LOADING_ORDERS = (_heavy_first, _broad_first, _tall_first)
"""The orders that are tried, each with fragile over sturdy and open-first last."""
