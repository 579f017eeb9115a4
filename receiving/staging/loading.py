"""How loads stand on one cart: one after another on the deck or on cartons that can carry them.

Cartons stay upright. What stands in tiers must be stable and secure against sliding or collapse (29 CFR 1910.176(b),
from memory); the rules that this is planned by:

- at least `CARRIED` of a base rests on cartons whose tops are level, to `TOUCH_MM` (common practice, no source);
- the middle of each carton, where its centre of gravity is taken to be, lies over the part of what it touches that
  carries down to the deck (`support`): the load is in equilibrium, and stays so while it is taken off from the top;
- heavy below, and limits on what lies on fragile cartons (`loads.may_carry`, `loads.FRAGILE_BEARS_G`);
- nothing but open-first cartons over open-first ones;
- where the order of leaving the cart is given, nothing that leaves later lies over what leaves earlier.
"""

from bisect import insort
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from receiving.staging.loads import FRAGILE_BEARS_G, Deck, Load, clip_to_deck, may_carry
from receiving.staging.support import Polygon, Rect, clip_polygon, corners, covers, hull
from receiving.staging.ways import PREFERENCES, WAYS, Preference, Stacking

CARRIED = 0.5
"""The part of a base that must rest on something."""

PLACING = 20
"""What asking for a place costs beside its comparisons, in comparisons, as measured."""

CARRYING = 8
"""What asking whether a place is carried costs, in comparisons, as measured."""

ROOMY = 1.06
"""Part of the cart's space that a load may take in sum; above 1 for what sticks out at the deck's ends."""

TOUCH_MM = 5
"""Tops that differ by no more than this carry together: board gives as much (common practice, no source)."""


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
        preference: Preference | None = None,
        effort: Effort | None = None,
        placements: Iterable[Placement] = (),
        leaving: Mapping[str, int] | None = None,
    ) -> None:
        self.deck = deck
        self.leaving = leaving
        self.effort = effort or Effort(0)
        self.preference = preference or PREFERENCES[0]
        self.placements: list[Placement] = []
        self.weight_g = 0
        self.volume_mm3 = 0
        self._boxes: list[_Box] = []  # the highest top first
        self._bears_g: dict[str, float] = {}
        self._shares: dict[str, dict[str, float]] = {}
        self._carrying: dict[str, Polygon] = {}
        self._all_carry: set[str] = set()
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
        under = self._touched(placed.z_mm, x, y, x1, y1) if placed.z_mm else []
        name = placed.load.carton
        whole = corners((x, y, x1, y1))
        self._carrying[name] = self._carrying_part(under, (x, y, x1, y1)) if under else whole
        if self._carrying[name] == whole:
            self._all_carry.add(name)
        self._shares[name] = self._fragile_shares(under, (x, y, x1, y1))
        for lower, part in self._shares[name].items():
            self._bears_g[lower] = self._bears_g.get(lower, 0) + part * placed.load.weight_g
        box = (-placed.top_mm, x, y, x1, y1, placed)
        insort(self._boxes, box)
        if placed.load.open_first:
            self._open_first.append(box)
        self._corners.update(((x, y), (x1, y), (x, y1), (x1, 0), (0, y1)))

    def place_for(self, load: Load) -> Placement | None:
        """The best place that takes this load now, or None: as low as can be (open-first ones as high)."""
        base = clip_to_deck(load, self.deck)
        self.effort.left -= PLACING
        highest = self.deck.height_mm - load.height_mm
        if load.fragile:
            highest = min(highest, max(0, self.deck.fragile_mm - load.height_mm))
        if self.weight_g + load.weight_g > self.deck.max_g or highest < 0:
            return None
        best: tuple[tuple[int, ...], Placement] | None = None
        stacking, side = (Stacking.LOW if load.open_first else self.preference.stacking), self.preference.side
        for length, width in dict.fromkeys(((base.length_mm, base.width_mm), (base.width_mm, base.length_mm))):
            for x, y in self._places(length, width):
                found = self._foot(load, x, y, x + length, y + width, highest)
                if found is None:
                    continue
                foot, under = found
                worth = (-foot if load.open_first else foot, *side(x, y, length))
                if stacking is not Stacking.LOW:
                    worth = (_looseness(stacking, load, length * width, under, self.deck), *worth)
                if best is not None and worth >= best[0]:
                    continue
                if not foot or self._carries(under, load, x, y, x + length, y + width):
                    best = (worth, Placement(load, x, y, foot, length, width))
                    if stacking is Stacking.LOW and not load.open_first:
                        highest = foot  # the lowest place is the best: higher ones need not be looked at
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
        if self.leaving is not None and self._over_what_leaves_earlier(load, x, y, x1, y1):
            return None
        foot = 0
        under = []
        for box in self._boxes:
            top = -box[0]
            if top < foot - TOUCH_MM:
                break
            if x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1:
                if not foot:
                    foot = top
                    if foot > highest:
                        return None
                under.append(box)
        return foot, under

    def takes(self, placed: Placement) -> bool:
        """This place keeps every rule of carrying on what the cart holds now; limits of the deck aside."""
        x, y = placed.x_mm, placed.y_mm
        corners = (x, y, x + placed.length_mm, y + placed.width_mm)
        under = self._touched(placed.z_mm, *corners)
        return not placed.z_mm or self._carries(under, placed.load, *corners)

    def _over_open_first(self, x: int, y: int, x1: int, y1: int) -> bool:
        return any(x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1 for box in self._open_first)

    def _over_what_leaves_earlier(self, load: Load, x: int, y: int, x1: int, y1: int) -> bool:
        leaving = self.leaving or {}
        last = leaving[load.carton]
        return any(
            x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1 and leaving[box[5].load.carton] < last
            for box in self._boxes
        )

    def _touched(self, z: int, x: int, y: int, x1: int, y1: int) -> list[_Box]:
        return [
            box
            for box in self._boxes
            if 0 <= box[0] + z <= TOUCH_MM and x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1
        ]

    def _carries(self, under: Sequence[_Box], load: Load, x: int, y: int, x1: int, y1: int) -> bool:
        self.effort.left -= CARRYING
        area = 0
        for _, sx, sy, sx1, sy1, placed in under:
            if not may_carry(placed.load, load):
                return False
            area += (min(x1, sx1) - max(x, sx)) * (min(y1, sy1) - max(y, sy))
        if area < CARRIED * (x1 - x) * (y1 - y):
            return False
        base = (x, y, x1, y1)
        if not self._balanced(under, base):
            return False
        if not load.fragile:  # what carries it is not fragile, nor what carries that
            return True
        return all(
            self._bears_g.get(lower, 0) + part * load.weight_g <= FRAGILE_BEARS_G
            for lower, part in self._fragile_shares(under, base).items()
        )

    def _balanced(self, under: Sequence[_Box], base: Rect) -> bool:
        """The middle of this base lies over a part that carries."""
        x, y = (base[0] + base[2]) / 2, (base[1] + base[3]) / 2
        for box in under:
            if box[1] <= x <= box[3] and box[2] <= y <= box[4] and box[5].load.carton in self._all_carry:
                return True
        if len(under) == 1:
            return covers(self._carrying[under[0][5].load.carton], (x, y))
        return covers(self._carrying_part(under, base), (x, y))

    def _carrying_part(self, under: Sequence[_Box], base: Rect) -> Polygon:
        """The part of this base at which a weight goes down to the deck, through what carries it."""
        if len(under) == 1:
            return clip_polygon(self._carrying[under[0][5].load.carton], base)
        return hull(point for box in under for point in clip_polygon(self._carrying[box[5].load.carton], base))

    def _fragile_shares(self, under: Sequence[_Box], base: Rect) -> dict[str, float]:
        """What part of a weight on this base each fragile carton below bears: by the areas that touch."""
        if not any(box[5].load.fragile for box in under):  # nothing fragile carries what is sturdy
            return {}
        x, y, x1, y1 = base
        areas = [(min(x1, box[3]) - max(x, box[1])) * (min(y1, box[4]) - max(y, box[2])) for box in under]
        shares: dict[str, float] = {}
        for box, area in zip(under, areas, strict=True):
            part = area / sum(areas)
            if box[5].load.fragile:
                name = box[5].load.carton
                shares[name] = shares.get(name, 0) + part
                for lower, further in self._shares[name].items():
                    shares[lower] = shares.get(lower, 0) + part * further
        return shares

    def without(self, taken: Collection[int]) -> tuple["CartLoad", list[Load]]:
        """The cart without the loads at these places of ``placed`` and all that stand over them, and those loads."""
        off: list[Placement] = []
        kept: list[Placement] = []
        for number, one in enumerate(self.placements):
            gone = number in taken or any(lies_over(one, lower) for lower in off)
            (off if gone else kept).append(one)
        return CartLoad(self.deck, self.preference, self.effort, kept, self.leaving), [one.load for one in off]


def lies_over(one: Placement, lower: Placement) -> bool:
    """Some of the one is higher up over some of the other, so that it comes off first."""
    return (
        one.z_mm >= lower.top_mm
        and one.x_mm < lower.x_mm + lower.length_mm
        and lower.x_mm < one.x_mm + one.length_mm
        and one.y_mm < lower.y_mm + lower.width_mm
        and lower.y_mm < one.y_mm + one.width_mm
    )


def arrange(
    loads: Iterable[Load],
    deck: Deck,
    effort: Effort | None = None,
    leaving: Mapping[str, int] | None = None,
    *,
    ways: int | None = None,
) -> tuple[Placement, ...] | None:
    """A way to load all of these on one cart, in loading order, or None where none was found.

    ``leaving`` gives the turn in which each load leaves the cart, where that matters; ``ways``: only this many
    of `WAYS`, the first ones, are tried. An answer keeps every rule and limit; None means "not found", not
    "impossible".
    """
    group = list(loads)
    if sum(load.weight_g for load in group) > deck.max_g or sum(map(volume_mm3, group)) > ROOMY * deck_mm3(deck):
        return None
    for preference, key in WAYS[:ways]:
        cart = CartLoad(deck, preference, effort, leaving=leaving)
        ordered = sorted(group, key=key)
        if leaving is not None:
            ordered.sort(key=lambda load: -leaving[load.carton])
        if all(_added(cart, load) for load in ordered):
            return tuple(cart.placements)
    return None


def holds(placements: Iterable[Placement], deck: Deck) -> bool:
    """Each of these carries what is on it, in this loading order."""
    cart = CartLoad(deck)
    for placed in placements:
        if not cart.takes(placed):
            return False
        cart.add(placed)
    return True


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


def _looseness(stacking: Stacking, load: Load, base_mm2: int, under: Sequence[_Box], deck: Deck) -> int:
    """What comes before the height where a place is chosen: less is better."""
    if stacking is Stacking.FRAGILE_TOGETHER:
        return int(load.fragile and not (under and all(box[5].load.fragile for box in under)))
    tops = sum((box[3] - box[1]) * (box[4] - box[2]) for box in under) if under else deck.area_mm2
    return abs(tops - base_mm2)
