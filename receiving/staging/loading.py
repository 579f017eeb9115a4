"""How loads stand on one cart: one after another on the deck or on cartons that can carry them.

Cartons stay upright. What stands in tiers must be stable and secure against sliding or collapse (29 CFR 1910.176(b),
from memory); the rules that this is planned by:

- at least `CARRIED` of a base rests on cartons whose tops are level, to `TOUCH_MM` (common practice, no source);
- under the middle of each carton, where its centre of gravity is taken to be, carton touches carton down to the deck,
  or two on opposite sides carry it between them. So each weight goes down by itself, without a counterweight: the load
  is in equilibrium (statics), and stays so while it is taken off from the top;
- heavy below, and limits on what lies on fragile cartons (`loads.may_carry`, `loads.FRAGILE_BEARS_G`);
- nothing but open-first cartons over open-first ones;
- where the order of leaving the cart is given, nothing that leaves later lies over what leaves earlier.
"""

from bisect import insort
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from receiving.errors import PlanningCancelled
from receiving.staging.loads import FRAGILE_BEARS_G, Deck, Load, clip_to_deck, may_carry

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


def never() -> bool:
    """Nobody cancels."""
    return False


class Effort:
    """Comparisons of a place with a loaded carton that may still be made: a limit that is the same on every machine.

    ``cancelled`` says that nobody wants the result any more; asking whether all is spent raises PlanningCancelled then.
    """

    def __init__(self, comparisons: int, cancelled: Callable[[], bool] = never) -> None:
        self.left = comparisons
        self.cancelled = cancelled

    @property
    def spent(self) -> bool:
        """Nothing is left. Raises PlanningCancelled."""
        if self.cancelled():
            raise PlanningCancelled("This staging plan was no longer wanted.", next_step="Ask for the plan again.")
        return self.left <= 0


_Box = tuple[int, int, int, int, int, Placement]
"""Minus its top, near corner, far corner, and what stands there: looked at millions of times, so kept at hand."""


_Rect = tuple[int, int, int, int]
"""Near corner and far corner, in half millimetres, so that middles are whole numbers."""


def _doubled(box: _Box) -> _Rect:
    return (2 * box[1], 2 * box[2], 2 * box[3], 2 * box[4])


def _shared(part: _Rect, box: _Box) -> _Rect:
    x, y, x1, y1 = _doubled(box)
    return (max(part[0], x), max(part[1], y), min(part[2], x1), min(part[3], y1))


class CartLoad:
    """A cart while it is loaded: cartons are added in loading order and never moved."""

    def __init__(
        self,
        deck: Deck,
        preference: "Preference | None" = None,
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
        self._under: dict[str, list[_Box]] = {}
        self._bears_g: dict[str, int] = {}
        self._solid: dict[str, _Rect] = {}
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
        self._under[placed.load.carton] = under
        whole = (2 * x, 2 * y, 2 * x1, 2 * y1)
        self._solid[placed.load.carton] = self._largest_solid(whole, under) if placed.z_mm else whole
        for box in self._all_below(under):
            self._bears_g[box[5].load.carton] = self._bears_g.get(box[5].load.carton, 0) + placed.load.weight_g
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
        if load.fragile:
            highest = min(highest, max(0, self.deck.fragile_mm - load.height_mm))
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
                if not foot or self._carries(under, load, x, y, x + length, y + width):
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
        last = leaving.get(load.carton, 0)
        return any(
            x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1 and leaving.get(box[5].load.carton, 0) < last
            for box in self._boxes
        )

    def _touched(self, z: int, x: int, y: int, x1: int, y1: int) -> list[_Box]:
        return [
            box
            for box in self._boxes
            if 0 <= box[0] + z <= TOUCH_MM and x < box[3] and box[1] < x1 and y < box[4] and box[2] < y1
        ]

    def _all_below(self, under: Iterable[_Box]) -> list[_Box]:
        """What carries these boxes, directly or through others, and they themselves."""
        found: dict[str, _Box] = {}
        waiting = list(under)
        while waiting:
            box = waiting.pop()
            name = box[5].load.carton
            if name not in found:
                found[name] = box
                waiting += self._under[name]
        return list(found.values())

    def _carries(self, under: Sequence[_Box], load: Load, x: int, y: int, x1: int, y1: int) -> bool:
        self.effort.left -= CARRYING
        area = 0
        for _, sx, sy, sx1, sy1, placed in under:
            if not may_carry(placed.load, load):
                return False
            area += (min(x1, sx1) - max(x, sx)) * (min(y1, sy1) - max(y, sy))
        whole = (2 * x, 2 * y, 2 * x1, 2 * y1)
        if area < CARRIED * (x1 - x) * (y1 - y) or not self._goes_down(under, x + x1, y + y1, whole):
            return False
        if not load.fragile:  # what carries it is not fragile, nor what carries that
            return True
        room = FRAGILE_BEARS_G - load.weight_g
        below = (box[5].load for box in self._all_below(under))
        return all(not one.fragile or self._bears_g.get(one.carton, 0) <= room for one in below)

    def _goes_down(self, under: Sequence[_Box], x: int, y: int, part: _Rect) -> bool:
        """A weight at this point goes down to the deck: through what is under it there, or shared to both sides.

        Ordinates are doubled. ``part`` is what of the level above touches ``under``: outside of it nothing is carried.
        """
        for box in under:
            solid = self._solid[box[5].load.carton]
            if solid[0] <= x <= solid[2] and solid[1] <= y <= solid[3]:
                return True
        touched = [(_shared(part, box), box) for box in under]
        for (left, near, right, far), box in touched:
            if left <= x <= right and near <= y <= far and self._rests(box, x, y):
                return True
        return self._bridged(touched, x, y)

    def _largest_solid(self, whole: _Rect, under: Sequence[_Box]) -> _Rect:
        """The largest part of this base below which one carton touches the other down to the deck."""
        parts = []
        for box in under:
            solid = self._solid[box[5].load.carton]
            parts.append(
                (max(whole[0], solid[0]), max(whole[1], solid[1]), min(whole[2], solid[2]), min(whole[3], solid[3]))
            )
        return max(parts, key=lambda part: max(0, part[2] - part[0]) * max(0, part[3] - part[1]))

    def _rests(self, box: _Box, x: int, y: int) -> bool:
        return not box[5].z_mm or self._goes_down(self._under[box[5].load.carton], x, y, _doubled(box))

    def _bridged(self, touched: Sequence[tuple[_Rect, _Box]], x: int, y: int) -> bool:
        """The weight lies between two that carry it, on a line along or across the deck, and goes down through both."""
        level = [((left, right), box) for (left, near, right, far), box in touched if near <= y <= far]
        upright = [((near, far), box) for (left, near, right, far), box in touched if left <= x <= right]
        sides = (
            [(box, right, y) for (_, right), box in level if right < x],
            [(box, left, y) for (left, _), box in level if left > x],
            [(box, x, far) for (_, far), box in upright if far < y],
            [(box, x, near) for (near, _), box in upright if near > y],
        )
        left, right, near, far = (any(self._rests(*at) for at in side) for side in sides)
        return (left and right) or (near and far)

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
    loads: Iterable[Load], deck: Deck, effort: Effort | None = None, leaving: Mapping[str, int] | None = None
) -> tuple[Placement, ...] | None:
    """A way to load all of these on one cart, in loading order, or None where none was found.

    ``leaving`` gives the turn in which each load leaves the cart, where that matters. An answer keeps every rule and
    limit; None means "not found", not "impossible".
    """
    group = list(loads)
    if sum(load.weight_g for load in group) > deck.max_g or sum(map(volume_mm3, group)) > ROOMY * deck_mm3(deck):
        return None
    for preference in PREFERENCES:
        for key in LOADING_ORDERS:
            cart = CartLoad(deck, preference, effort, leaving=leaving)
            ordered = sorted(group, key=key)
            if leaving is not None:
                ordered.sort(key=lambda load: -leaving.get(load.carton, 0))
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
