"""Whether loads fit on this many carts: a way to load them, a proof that none is, or neither within the effort.

A constraint program (CP-SAT of OR-Tools; no-overlap by separation in one of three directions, as in Chen, Lee & Shen,
European Journal of Operational Research 80 (1995) 68–76). Its variables are each load's cart, corner and direction. Its
constraints are the rules of `loading`, each as it is or weaker, so that what it proves impossible no plan can do:

- what stands on something stands on the top of one that may carry it, and touches none that may not;
- the middle lies between the outermost edges, lengthwise and across, of what carries it down to the deck: the
  rectangle around the polygon that `loading` asks for;
- what carries it has at least `CARRIED` of its area; the areas that really touch are asked for where an answer broke
  that rule;
- a fragile load bears no more than `FRAGILE_BEARS_G`, however what lies on it divides its weight.

Corners are whole numbers of half the largest step that divides deck and sides, and heights of that of the heights.
Nothing is lost by it: feet are sums of heights, and every other rule compares two corners with a whole number of half
steps between them (an edge with an edge, a middle with an edge), so a plan between the half steps may be moved down to
the next ones and keeps all of them; only areas that touch shrink by it, and are asked for with that much less.

An answer is held against `loading` itself; where the rectangle let something stand that the polygon does not, that
load is asked to stand over one carrier alone, and from then on nothing is proven. The effort is CP-SAT's
deterministic time, on one thread: the same loads give the same answer on every machine.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import gcd
from typing import Any

from receiving.staging.loading import CARRIED, TOUCH_MM, CartLoad, Placement
from receiving.staging.loads import FRAGILE_BEARS_G, Deck, Load, clip_to_deck, may_carry

MOST_LOADS, MOST_CARTS = 60, 4
"""More than these are not tried."""

MOST_ON_SEVERAL = 20
"""More loads than this are asked about for one cart alone: 25 and more on two or three had no answer in a minute."""

ATTEMPTS = 60
"""So often an answer that broke a rule is asked for again."""


@dataclass(frozen=True)
class Answer:
    """The loads by cart in loading order, or None; ``impossible``: no plan puts them on this many carts."""

    carts: tuple[tuple[Placement, ...], ...] | None = None
    impossible: bool = False
    effort: float = field(default=0.0, compare=False)
    """The deterministic time that was spent on it."""


def is_answered(loads: int, carts: int) -> bool:
    """This many loads on this many carts are few enough to be asked about."""
    return 1 <= loads <= (MOST_LOADS if carts == 1 else MOST_ON_SEVERAL) and 1 <= carts <= MOST_CARTS


def fit_on_carts(loads: Sequence[Load], deck: Deck, carts: int, effort: float) -> Answer:
    """Load all of these (each fits alone) on this many ``carts``, within ``effort`` units of deterministic time."""
    if effort <= 0 or not is_answered(len(loads), carts):
        return Answer()
    from ortools.sat.python import cp_model

    program = _Program(loads, deck, carts)
    proves, spent = True, 0.0
    for _ in range(ATTEMPTS):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = (
            0  # no linear relaxation: it bounds nothing here, and costs half the time
        )
        solver.parameters.max_deterministic_time = effort - spent
        status = solver.solve(program.model)
        spent += solver.response_proto.deterministic_time
        if status == cp_model.INFEASIBLE:
            return Answer(impossible=proves, effort=spent)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE) or spent >= effort:
            break
        found = program.carts_of(solver)
        broken = [number for cart in found for number in program.not_carried(cart)]
        if not broken:
            return Answer(tuple(tuple(placed for _, placed in cart) for cart in found), effort=spent)
        proves = program.ask_more(broken) and proves
    return Answer(effort=spent)


Numbered = tuple[int, Placement]
"""A load's number, and where it stands."""


class _Program:
    """The variables of each load and each pair of loads, by number, and what they must keep."""

    def __init__(self, loads: Sequence[Load], deck: Deck, carts: int) -> None:
        from ortools.sat.python import cp_model

        self.model: Any = cp_model.CpModel()
        self.loads, self.deck, self.carts = loads, deck, carts
        self.bases = [clip_to_deck(load, deck) for load in loads]
        sides = [side for base in self.bases for side in (base.length_mm, base.width_mm)]
        self.step = gcd(deck.length_mm, deck.width_mm, *sides)
        self.rise = gcd(*(load.height_mm for load in loads))
        self.long, self.wide, self.high = (
            self._across(deck.length_mm),
            self._across(deck.width_mm),
            self._up(deck.height_mm),
        )
        self.touch = self._up(TOUCH_MM)
        self.areas = [self._across(base.length_mm) * self._across(base.width_mm) for base in self.bases]
        self.tall = [self._up(load.height_mm) for load in loads]
        self.xs: list[Any] = []
        self.ys: list[Any] = []
        self.lengths: list[Any] = []
        self.widths: list[Any] = []
        self.on_deck: list[Any] = []
        self.zs = [self._number(0, self.high - tall) for tall in self.tall]
        self.on_cart: list[list[Any]] = []
        self.carriers: list[dict[int, Any]] = [{} for _ in loads]  # by load, and what carries it: whether it does
        self.middles: list[dict[int, list[Any]]] = [{} for _ in loads]  # the same: which edges of the middle it holds
        self.over: dict[tuple[int, int], Any] = {}  # the upper and the lower: the footprints overlap
        self.above: dict[tuple[int, int], Any] = {}
        self.asked: Counter[int] = Counter()
        for base in self.bases:
            self._stand(base)
        for upper in range(len(loads)):
            for lower in range(upper):
                self._keep_apart(upper, lower)
        self._carry()
        self._bear()
        self._fill()

    def _across(self, mm: int) -> int:
        """Millimetres along or across the deck in halves of a step."""
        return 2 * mm // self.step

    def _up(self, mm: int) -> int:
        return mm // self.rise

    def _number(self, least: int, most: int) -> Any:
        return self.model.new_int_var(least, most, "")

    def _choice(self) -> Any:
        return self.model.new_bool_var("")

    def _stand(self, base: Load) -> None:
        """A corner on one of the carts, which stand in a row, one of two directions, on the deck or higher."""
        model = self.model
        turned, on_deck = self._choice(), self._choice()
        if base.length_mm > self.deck.width_mm or base.length_mm == base.width_mm:
            model.add(turned == 0)
        longer, shorter = self._across(base.length_mm), self._across(base.width_mm)
        length, width = (self._number(shorter, longer) for _ in range(2))
        model.add(length == longer - (longer - shorter) * turned)
        model.add(width == shorter + (longer - shorter) * turned)
        x, y = self._number(0, self.carts * self.long), self._number(0, self.wide)
        model.add(y + width <= self.wide)
        chosen = [self._choice() for _ in range(self.carts)]
        model.add_exactly_one(chosen)
        for cart, here in enumerate(chosen):
            model.add(x >= cart * self.long).only_enforce_if(here)
            model.add(x + length <= (cart + 1) * self.long).only_enforce_if(here)
        z = self.zs[len(self.xs)]
        model.add(z == 0).only_enforce_if(on_deck)
        model.add(z > 0).only_enforce_if(~on_deck)
        for values, value in (
            (self.xs, x),
            (self.ys, y),
            (self.lengths, length),
            (self.widths, width),
            (self.on_deck, on_deck),
            (self.on_cart, chosen),
        ):
            values.append(value)

    def _keep_apart(self, one: int, other: int) -> None:
        """Before, behind, left, right, below or above; the footprints overlap where none of the first four is so."""
        model = self.model
        over = self._choice()
        beside = []
        for starts, sides in ((self.xs, self.lengths), (self.ys, self.widths)):
            for near, far in ((one, other), (other, one)):
                apart = self._choice()
                model.add(starts[near] + sides[near] <= starts[far]).only_enforce_if(apart)
                model.add(starts[near] + sides[near] >= starts[far]).only_enforce_if(~apart)
                model.add_implication(apart, ~over)
                beside.append(apart)
        model.add_bool_or(*beside, over)
        heights = []
        for lower, upper in ((one, other), (other, one)):
            above = self._choice()
            top = self.zs[lower] + self.tall[lower]
            model.add(top <= self.zs[upper]).only_enforce_if(above)
            self.above[upper, lower] = above
            self.over[upper, lower] = over
            heights.append(above)
        model.add_at_most_one(heights)
        model.add_bool_or(*beside, *heights)

    def _carry(self) -> None:
        """What each load stands on, the middle of each between the edges of what carries, and its area."""
        model, count = self.model, len(self.loads)
        along, across = self.carts * self.long, self.wide
        edges = [
            (self._number(0, along), self._number(0, along), self._number(0, across), self._number(0, across))
            for _ in range(count)
        ]  # of the part of each base that carries, left, right, near, far
        for i, (left, right, near, far) in enumerate(edges):
            for least, most, start, side in (
                (left, right, self.xs[i], self.lengths[i]),
                (near, far, self.ys[i], self.widths[i]),
            ):
                model.add(least >= start)
                model.add(most <= start + side)
                model.add(2 * least <= 2 * start + side)
                model.add(2 * most >= 2 * start + side)
        for upper in range(count):
            on_deck = self.on_deck[upper]
            held: list[list[Any]] = [[on_deck] for _ in range(5)]
            for lower in range(count):
                if upper == lower:
                    continue
                if may_carry(self.loads[lower], self.loads[upper]):
                    held[0].append(self._touch(upper, lower))
                    self._hold(upper, lower, edges, held[1:])
                else:
                    gap = self.zs[upper] - self.zs[lower] - self.tall[lower]
                    both = [self.over[upper, lower], self.above[upper, lower]]
                    model.add(gap > self.touch).only_enforce_if(both)
                if self.loads[lower].open_first and not self.loads[upper].open_first:
                    model.add_bool_or(~self.over[upper, lower], ~self.above[upper, lower])
            for choices in held:
                model.add_bool_or(*choices)
            most = sum(self._shared(upper, lower) * carries for lower, carries in self.carriers[upper].items())
            model.add(most >= int(CARRIED * self.areas[upper])).only_enforce_if(~on_deck)

    def _shared(self, upper: int, lower: int) -> int:
        """The largest part of the upper's base that can lie on the lower, whichever way both are turned."""
        one, other = self.bases[upper], self.bases[lower]
        return max(
            self._across(min(one.length_mm, length)) * self._across(min(one.width_mm, width))
            for length, width in ((other.length_mm, other.width_mm), (other.width_mm, other.length_mm))
        )

    def _touch(self, upper: int, lower: int) -> Any:
        """Whether the lower carries the upper; given back: and its top is where that stands."""
        model = self.model
        carries, level = self._choice(), self._choice()
        gap = self.zs[upper] - self.zs[lower] - self.tall[lower]
        model.add(gap >= 0).only_enforce_if(carries)
        model.add(gap <= self.touch).only_enforce_if(carries)
        for needed in (self.over[upper, lower], self.above[upper, lower], ~self.on_deck[upper]):
            model.add_implication(carries, needed)
        model.add_implication(level, carries)
        model.add(gap == 0).only_enforce_if(level)
        self.carriers[upper][lower] = carries
        return level

    def _hold(self, upper: int, lower: int, edges: Sequence[tuple[Any, ...]], held: Sequence[list[Any]]) -> None:
        """The lower may be what carries the upper's middle from the left, right, near or far."""
        sides = []
        for at, own in enumerate(edges[upper]):
            holds = self._choice()
            beyond = own - edges[lower][at] if at % 2 == 0 else edges[lower][at] - own
            self.model.add_implication(holds, self.carriers[upper][lower])
            self.model.add(beyond >= 0).only_enforce_if(holds)
            held[at].append(holds)
            sides.append(holds)
        self.middles[upper][lower] = sides

    def _bear(self) -> None:
        """Weights go down through fragile loads, each bearing no more than its limit; ways to divide them are free."""
        model, loads = self.model, self.loads
        total = sum(load.weight_g for load in loads)
        flows: dict[tuple[int, int], Any] = {}
        for upper, load in enumerate(loads):
            for lower, carries in self.carriers[upper].items() if load.fragile else ():
                flow = self._number(0, FRAGILE_BEARS_G if loads[lower].fragile else total)
                model.add(flow == 0).only_enforce_if(~carries)
                flows[upper, lower] = flow
        for number, load in enumerate(loads):
            if load.fragile:
                borne = sum(flow for (_, lower), flow in flows.items() if lower == number)
                given = sum(flow for (upper, _), flow in flows.items() if upper == number)
                model.add(borne <= FRAGILE_BEARS_G)
                model.add(given == load.weight_g + borne).only_enforce_if(~self.on_deck[number])

    def _fill(self) -> None:
        """What each cart takes: weight, space, and each slice of it in three directions; like carts in one order."""
        model, loads = self.model, self.loads
        heights = [model.new_fixed_size_interval_var(z, tall, "") for z, tall in zip(self.zs, self.tall, strict=True)]
        model.add_cumulative(heights, self.areas, self.carts * self.long * self.wide)
        on_deck: list[list[Any]] = []
        for starts, sides, others, long, high in (
            (self.xs, self.lengths, self.widths, self.carts * self.long, self.wide),
            (self.ys, self.widths, self.lengths, self.wide, self.carts * self.long),
        ):
            spans, on_this_deck = [], []
            for number, (start, side) in enumerate(zip(starts, sides, strict=True)):
                end = self._number(0, long)
                model.add(end == start + side)
                spans.append(model.new_interval_var(start, side, end, ""))
                on_this_deck.append(model.new_optional_interval_var(start, side, end, self.on_deck[number], ""))
            on_deck.append(on_this_deck)
            faces = [tall * other for tall, other in zip(self.tall, others, strict=True)]
            model.add_cumulative(spans, faces, high * self.high)
        model.add_no_overlap_2d(*on_deck)
        for cart in range(self.carts):
            here = [chosen[cart] for chosen in self.on_cart]
            model.add(sum(load.weight_g * on for load, on in zip(loads, here, strict=True)) <= self.deck.max_g)
            sizes = zip(self.areas, self.tall, here, strict=True)
            model.add(sum(area * tall * on for area, tall, on in sizes) <= self.long * self.wide * self.high)
            on_this = [
                model.new_optional_fixed_size_interval_var(z, tall, on, "")
                for z, tall, on in zip(self.zs, self.tall, here, strict=True)
            ]
            model.add_cumulative(on_this, self.areas, self.long * self.wide)
        if self.carts == 1:
            self._mirror()
        heaviest = sorted(range(len(loads)), key=lambda number: (-loads[number].weight_g, number))
        for first, number in enumerate(heaviest[: self.carts - 1]):
            for cart in range(first + 1, self.carts):
                model.add(self.on_cart[number][cart] == 0)

    def _mirror(self) -> None:
        """Every rule holds for the load seen in a mirror too: the middle of the largest stands left and near."""
        largest = max(range(len(self.loads)), key=lambda number: self.areas[number])
        self.model.add(2 * self.xs[largest] + self.lengths[largest] <= self.long)
        self.model.add(2 * self.ys[largest] + self.widths[largest] <= self.wide)

    def carts_of(self, solver: Any) -> list[list[Numbered]]:
        """The answer's loads by cart, from the deck up."""
        found: list[list[Numbered]] = [[] for _ in range(self.carts)]
        for number, load in enumerate(self.loads):
            cart, x = divmod(solver.value(self.xs[number]), self.long)
            sides = (solver.value(self.lengths[number]), solver.value(self.widths[number]))
            # Whole millimetres, rounded down: what stands beside another does so still.
            x, y, length, width = (one * self.step // 2 for one in (x, solver.value(self.ys[number]), *sides))
            placed = Placement(load, x, y, solver.value(self.zs[number]) * self.rise, length, width)
            found[cart].append((number, placed))
        return [sorted(cart, key=lambda one: one[1].z_mm) for cart in found]

    def not_carried(self, placed: Sequence[Numbered]) -> list[int]:
        """The loads of a cart that break a rule of loading where they stand."""
        cart, broken = CartLoad(self.deck), []
        for number, one in placed:
            if not cart.takes(one):
                broken.append(number)
            cart.add(one)
        return broken

    def ask_more(self, broken: Sequence[int]) -> bool:
        """Ask that these stand better; False where what is asked for is more than the rules say."""
        fresh = all(not self.asked[number] for number in broken)
        for number in broken:
            if not self.asked[number]:
                self._touch_enough(number, 1)
            elif not fresh:
                (self._touch_enough(number, 0) if self.asked[number] == 1 else self._stand_over_one(number))
            self.asked[number] += 1
        return fresh

    def _touch_enough(self, upper: int, slack: int) -> None:
        """The areas that touch are at least `CARRIED` of the base, where it is not on the deck.

        Moved to whole half steps, what a load shares with its carrier shrinks by less than one: with a ``slack`` of 1
        nothing is asked that a plan between the steps does not keep.
        """
        model = self.model
        parts = []
        for lower, carries in self.carriers[upper].items():
            most = self._across(min(self.bases[upper].length_mm, self.bases[lower].length_mm))
            shared = []
            for starts, sides in ((self.xs, self.lengths), (self.ys, self.widths)):
                side = self._number(0, most)
                model.add(side <= sides[upper])
                model.add(side <= sides[lower])
                model.add(side <= starts[upper] + sides[upper] - starts[lower] + slack).only_enforce_if(carries)
                model.add(side <= starts[lower] + sides[lower] - starts[upper] + slack).only_enforce_if(carries)
                model.add(side == 0).only_enforce_if(~carries)
                shared.append(side)
            part = self._number(0, min(self.areas[upper], self.areas[lower]))
            model.add_multiplication_equality(part, shared)
            parts.append(part)
        model.add(sum(parts) >= int(CARRIED * self.areas[upper])).only_enforce_if(~self.on_deck[upper])

    def _stand_over_one(self, upper: int) -> None:
        """One carrier alone holds the middle from all four sides; more than the rule asks for."""
        whole = [self.on_deck[upper]]
        for sides in self.middles[upper].values():
            alone = self._choice()
            for holds in sides:
                self.model.add_implication(alone, holds)
            whole.append(alone)
        self.model.add_bool_or(*whole)
