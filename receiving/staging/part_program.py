"""A part of one or two carts loaded again as well as it can be: the rest stands where it stands.

A constraint program as in `constraints`, with three differences. What stays on the cart is a number and no variable, so
a program for ten loads is made in some 15 ms and answered in some 50 ms. Each of the loads may be left behind, at a
cost. And nothing is proven by it: a rule may be asked for more strictly than `loading` has it, where that saves
variables (no two loads overlap by less than one step). An answer is held against `loading` itself, and where it breaks
a rule there, the loads that broke it are asked to stand better.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor, gcd
from typing import Any

from receiving.staging.loading import CARRIED, TOUCH_MM, CartLoad, Placement, volume_mm3
from receiving.staging.loads import FRAGILE_BEARS_G, Load, clip_to_deck, may_carry

ATTEMPTS = 4
"""So often an answer that broke a rule is asked for again."""

WORTH = 1000
"""Costs are rounded down to one part in this many."""


@dataclass(frozen=True)
class Part:
    """What stays on the carts, by trip, the loads to be loaded again, and the trips that some of them are bound to.

    ``costs`` is what it costs to leave each of these loads behind.
    """

    kept: Mapping[int, CartLoad]
    loads: Sequence[Load]
    bound: Mapping[str, int]
    costs: Mapping[str, float]

    def cost(self, left: Collection[Load]) -> int:
        """What it costs to leave these behind, in whole numbers."""
        return sum(int(WORTH * self.costs[load.carton]) for load in left)


@dataclass(frozen=True)
class Loaded:
    """The carts, by trip, as they are loaded, and what is left behind."""

    carts: Mapping[int, CartLoad]
    left: tuple[Load, ...]


def load_again(part: Part, below: int, effort: float, seed: int) -> tuple[Loaded | None, float]:
    """The cheapest way to load the part that is found, if one costs less than ``below``; and the effort spent.

    The effort is CP-SAT's deterministic time, on one thread: the same part gives the same answer on every machine.
    """
    from ortools.sat.python import cp_model

    program = _PartProgram(part, below)
    spent = 0.0
    for _ in range(ATTEMPTS):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.linearization_level = 0
        solver.parameters.cp_model_presolve = False  # takes as long as the answer
        solver.parameters.cp_model_probing_level = 0  # with probing 32 of 240 parts were better, without 44
        solver.parameters.symmetry_level = 0
        solver.parameters.max_deterministic_time = effort - spent
        status = solver.solve(program.model)
        spent += solver.response_proto.deterministic_time
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        loaded, broken = program.loaded(solver)
        if loaded is not None:
            return loaded, spent
        if spent >= effort or not program.ask_more(broken):
            break
    return None, spent


class _PartProgram:
    """The loads by number: first those to be loaded again, with variables, then those that stay, with numbers."""

    def __init__(self, part: Part, below: int) -> None:
        from ortools.sat.python import cp_model

        self.model: Any = cp_model.CpModel()
        self.part, self.trips = part, list(part.kept)
        self.deck = deck = next(iter(part.kept.values())).deck
        stays = [(at, one) for at, trip in enumerate(self.trips) for one in part.kept[trip].placements]
        self.free = len(part.loads)
        self.loads = [*part.loads, *(one.load for _, one in stays)]
        self.bases = [clip_to_deck(load, deck) for load in self.loads]
        sides = [side for base in self.bases[: self.free] for side in (base.length_mm, base.width_mm)]
        self.step = gcd(deck.length_mm, deck.width_mm, *sides)
        self.rise = gcd(*(load.height_mm for load in part.loads), *(one.top_mm for _, one in stays))
        self.loaded_up = [self._choice() for _ in part.loads]
        self.on_deck = [self._choice() for _ in part.loads]
        self.on_cart = [[self._choice() for _ in self.trips] for _ in part.loads]
        self.xs: list[Any] = []
        self.ys: list[Any] = []
        self.zs: list[Any] = []
        self.lengths: list[Any] = []
        self.widths: list[Any] = []
        for number in range(self.free):
            self._stand(number)
        self.xs += [one.x_mm + at * deck.length_mm for at, one in stays]  # the carts stand in a row
        self.ys += [one.y_mm for _, one in stays]
        self.zs += [one.z_mm for _, one in stays]
        self.lengths += [one.length_mm for _, one in stays]
        self.widths += [one.width_mm for _, one in stays]
        self.over: dict[tuple[int, int], Any] = {}  # the footprints overlap
        self.above: dict[tuple[int, int], Any] = {}
        for one in range(self.free):
            for other in (*range(one + 1, self.free), *range(self.free, len(self.loads))):
                self._keep_apart(one, other)
        self.edges = [self._edges_of(number) for number in range(self.free)]
        self.edges += [self._edges_of_kept(at, one) for at, one in stays]
        self.carriers: list[dict[int, Any]] = [{} for _ in part.loads]  # by load, and what carries it: whether it does
        self.middles: list[dict[int, list[Any]]] = [{} for _ in part.loads]  # which edges of the middle that holds
        for upper in range(self.free):
            self._carry(upper)
        for upper in range(self.free, len(self.loads)):
            for lower in range(self.free):
                if (upper, lower) in self.above:
                    self._keep_off(upper, lower)
        self._bear([part.kept[self.trips[at]] for at, _ in stays])
        self._fill()
        cost = sum(part.cost([load]) * (1 - up) for load, up in zip(part.loads, self.loaded_up, strict=True))
        self.model.add(cost < below)
        self.model.minimize(cost)
        self.asked: Counter[int] = Counter()

    def _choice(self) -> Any:
        return self.model.new_bool_var("")

    def _number(self, most: int, step: int = 1) -> Any:
        """A whole number of steps up to ``most``."""
        return step * self.model.new_int_var(0, most // step, "")

    def _there(self, number: int) -> list[Any]:
        """The choices that must hold for this load to be on a cart: none for what stays there."""
        return [self.loaded_up[number]] if number < self.free else []

    def _stand(self, number: int) -> None:
        """A corner on one of the carts, one of two directions, on the deck or higher."""
        model, deck, load, base = self.model, self.deck, self.loads[number], self.bases[number]
        turned = self._choice()
        if base.length_mm > deck.width_mm or base.length_mm == base.width_mm:
            model.add(turned == 0)
        turn = (base.length_mm - base.width_mm) * turned
        length, width = base.length_mm - turn, base.width_mm + turn
        highest = deck.height_mm - load.height_mm
        if load.fragile:
            highest = min(highest, max(0, deck.fragile_mm - load.height_mm))
        x = self._number(len(self.trips) * deck.length_mm, self.step)
        y, z = self._number(deck.width_mm, self.step), self._number(highest, self.rise)
        model.add(y + width <= deck.width_mm)
        model.add(sum(self.on_cart[number]) == self.loaded_up[number])
        for at, here in enumerate(self.on_cart[number]):
            model.add(x >= at * deck.length_mm).only_enforce_if(here)
            model.add(x + length <= (at + 1) * deck.length_mm).only_enforce_if(here)
            if self.part.bound.get(load.carton, self.trips[at]) != self.trips[at]:
                model.add(here == 0)
        on_deck = self.on_deck[number]
        model.add(z == 0).only_enforce_if(on_deck)
        model.add(z >= self.rise).only_enforce_if(~on_deck, self.loaded_up[number])
        model.add_implication(on_deck, self.loaded_up[number])
        for values, value in zip(
            (self.xs, self.ys, self.zs, self.lengths, self.widths), (x, y, z, length, width), strict=True
        ):
            values.append(value)

    def _keep_apart(self, one: int, other: int) -> None:
        """Before, behind, left, right, below or above; the footprints overlap where none of the first four is so.

        Where neither can be above the other, for want of height, there is nothing to know but that they are apart.
        """
        model = self.model
        absent = [~there for number in (one, other) for there in self._there(number)]
        stacked = [pair for pair in ((other, one), (one, other)) if self._can_be_above(*pair)]
        over = self._choice() if stacked else None
        beside = []
        for starts, sides in ((self.xs, self.lengths), (self.ys, self.widths)):
            for near, far in ((one, other), (other, one)):
                apart = self._choice()
                model.add(starts[near] + sides[near] <= starts[far]).only_enforce_if(apart)
                if over is not None:
                    model.add(starts[near] + sides[near] >= starts[far] + self.step).only_enforce_if(~apart)
                    model.add_implication(apart, ~over)
                beside.append(apart)
        heights = []
        for upper, lower in stacked:
            above = self._choice()
            model.add(self.zs[lower] + self.loads[lower].height_mm <= self.zs[upper]).only_enforce_if(above)
            self.above[upper, lower], self.over[upper, lower] = above, over
            heights.append(above)
        if over is not None:
            model.add_bool_or(*beside, over)
            model.add_at_most_one(heights)
        model.add_bool_or(*beside, *heights, *absent)

    def _can_be_above(self, upper: int, lower: int) -> bool:
        """There is height for it: above what stays, or below it."""
        if upper >= self.free:
            return bool(self.loads[lower].height_mm <= self.zs[upper])
        top = self.loads[lower].height_mm + (self.zs[lower] if lower >= self.free else 0)
        return bool(top + self.loads[upper].height_mm <= self.deck.height_mm)

    def _edges_of(self, number: int) -> tuple[Any, ...]:
        """Left, right, near and far edge of the part of the base that carries, around its middle."""
        edges = []
        for start, side, most in (
            (self.xs[number], self.lengths[number], len(self.trips) * self.deck.length_mm),
            (self.ys[number], self.widths[number], self.deck.width_mm),
        ):
            least, last = self._number(most), self._number(most)
            self.model.add(least >= start)
            self.model.add(last <= start + side)
            self.model.add(2 * least <= 2 * start + side)
            self.model.add(2 * last >= 2 * start + side)
            edges += [least, last]
        return tuple(edges)

    def _edges_of_kept(self, at: int, one: Placement) -> tuple[Any, ...]:
        """The same of what stays on the cart at this place in the row; none where nothing of it carries."""
        carrying = self.part.kept[self.trips[at]].carrying(one.load.carton)
        if not carrying:
            return ()
        xs, ys = [x + at * self.deck.length_mm for x, _ in carrying], [y for _, y in carrying]
        return (floor(min(xs)), ceil(max(xs)), floor(min(ys)), ceil(max(ys)))

    def _gap(self, upper: int, lower: int) -> Any:
        return self.zs[upper] - self.zs[lower] - self.loads[lower].height_mm

    def _carry(self, upper: int) -> None:
        """What this load stands on, its middle between the edges of what carries, and the area of that."""
        model = self.model
        stands = [self.on_deck[upper], ~self.loaded_up[upper]]
        held: list[list[Any]] = [list(stands) for _ in range(5)]
        for lower in range(len(self.loads)):
            if (upper, lower) not in self.above:
                continue
            if may_carry(self.loads[lower], self.loads[upper]) and self.edges[lower]:
                carries, level = self._choice(), self._choice()
                gap = self._gap(upper, lower)
                model.add(gap >= 0).only_enforce_if(carries)
                model.add(gap <= TOUCH_MM).only_enforce_if(carries)
                both = (self.over[upper, lower], self.above[upper, lower], ~self.on_deck[upper])
                for needed in (*both, *self._there(upper), *self._there(lower)):
                    model.add_implication(carries, needed)
                model.add_implication(level, carries)
                model.add(gap == 0).only_enforce_if(level)
                held[0].append(level)
                self.carriers[upper][lower] = carries
                self._hold(upper, lower, held[1:])
                self._keep_open_first(upper, lower)
            else:
                self._keep_off(upper, lower)
        for choices in held:
            model.add_bool_or(*choices)
        most = sum(self._shared(upper, lower) * carries for lower, carries in self.carriers[upper].items())
        model.add(most >= self._area_needed(upper)).only_enforce_if(*(~choice for choice in stands))

    def _hold(self, upper: int, lower: int, held: Sequence[list[Any]]) -> None:
        """The lower may be what carries the upper's middle from the left, right, near or far."""
        sides = []
        for at, own in enumerate(self.edges[upper]):
            holds = self._choice()
            beyond = own - self.edges[lower][at] if at % 2 == 0 else self.edges[lower][at] - own
            self.model.add_implication(holds, self.carriers[upper][lower])
            self.model.add(beyond >= 0).only_enforce_if(holds)
            held[at].append(holds)
            sides.append(holds)
        self.middles[upper][lower] = sides

    def _keep_off(self, upper: int, lower: int) -> None:
        """Where the one is over the other it does not touch it, if that may not carry it."""
        if not may_carry(self.loads[lower], self.loads[upper]) or not self.edges[lower]:
            both = (self.over[upper, lower], self.above[upper, lower])
            there = (*both, *self._there(upper), *self._there(lower))
            self.model.add(self._gap(upper, lower) > TOUCH_MM).only_enforce_if(*there)
        self._keep_open_first(upper, lower)

    def _keep_open_first(self, upper: int, lower: int) -> None:
        """Nothing but what is opened first is over what is."""
        if self.loads[lower].open_first and not self.loads[upper].open_first:
            both = (self.over[upper, lower], self.above[upper, lower])
            there = (*both, *self._there(upper), *self._there(lower))
            self.model.add_bool_or(*(~choice for choice in there))

    def _area_needed(self, number: int) -> int:
        base = self.bases[number]
        return ceil(CARRIED * base.length_mm * base.width_mm)

    def _shared(self, upper: int, lower: int) -> int:
        """The largest part of the upper's base that can lie on the lower, whichever way both are turned."""
        one, other = self.bases[upper], self.bases[lower]
        return max(
            min(one.length_mm, length) * min(one.width_mm, width)
            for length, width in ((other.length_mm, other.width_mm), (other.width_mm, other.length_mm))
        )

    def _bear(self, carts: Sequence[CartLoad]) -> None:
        """Weights go down through fragile loads, each bearing no more than its limit; ways to divide them are free.

        ``carts`` are those that what stays is on.
        """
        borne: dict[int, list[Any]] = {number: [] for number in range(len(self.loads))}
        given: dict[int, list[Any]] = {number: [] for number in range(self.free)}
        for upper, carriers in enumerate(self.carriers):
            for lower, carries in carriers.items() if self.loads[upper].fragile else ():
                flow = self._number(FRAGILE_BEARS_G if self.loads[lower].fragile else self.deck.max_g)
                self.model.add(flow == 0).only_enforce_if(~carries)
                given[upper].append(flow)
                borne[lower].append(flow)
        for number, load in enumerate(self.loads):
            if not load.fragile:
                continue
            if number >= self.free:
                if borne[number]:
                    most = floor(carts[number - self.free].still_bears_g(load.carton))
                    self.model.add(sum(borne[number]) <= most)
                continue
            self.model.add(sum(borne[number]) <= FRAGILE_BEARS_G)
            weighs = load.weight_g + sum(borne[number])
            there = (~self.on_deck[number], self.loaded_up[number])
            self.model.add(sum(given[number]) == weighs).only_enforce_if(*there)

    def _fill(self) -> None:
        """What each cart takes beside what stays: weight and space."""
        deck = self.deck
        for at, trip in enumerate(self.trips):
            cart = self.part.kept[trip]
            room_mm3 = deck.area_mm2 * deck.height_mm - sum(
                one.length_mm * one.width_mm * one.load.height_mm for one in cart.placements
            )
            here = [choices[at] for choices in self.on_cart]
            weights = zip(self.part.loads, here, strict=True)
            self.model.add(sum(load.weight_g * on for load, on in weights) <= deck.max_g - cart.weight_g)
            bases = zip(self.bases[: self.free], here, strict=True)
            self.model.add(sum(volume_mm3(base) * on for base, on in bases) <= room_mm3)

    def loaded(self, solver: Any) -> tuple[Loaded | None, list[int]]:
        """The answer, or the loads that break a rule of loading where they stand."""
        numbers = {load.carton: number for number, load in enumerate(self.part.loads)}
        on_trip = {trip: list(cart.placements) for trip, cart in self.part.kept.items()}
        left = []
        for number, load in enumerate(self.part.loads):
            if not solver.value(self.loaded_up[number]):
                left.append(load)
                continue
            at = next(at for at, here in enumerate(self.on_cart[number]) if solver.value(here))
            x, *others = (
                solver.value(values[number]) for values in (self.xs, self.ys, self.zs, self.lengths, self.widths)
            )
            on_trip[self.trips[at]].append(Placement(load, x - at * self.deck.length_mm, *others))
        carts, broken = {}, []
        for trip, placed in on_trip.items():
            carts[trip] = cart = CartLoad(self.deck)
            for one in sorted(placed, key=lambda one: one.z_mm):
                if not cart.takes(one):
                    broken.append(one.load.carton)
                cart.add(one)
        return None if broken else Loaded(carts, tuple(left)), [numbers[name] for name in broken if name in numbers]

    def ask_more(self, broken: Sequence[int]) -> bool:
        """Ask that these stand better; False where nothing more can be asked."""
        for number in broken:
            if self.asked[number] == 0:
                self._touch_enough(number)
            elif self.asked[number] == 1:
                self._stand_over_one(number)
            self.asked[number] += 1
        return any(self.asked[number] <= 2 for number in broken)

    def _touch_enough(self, upper: int) -> None:
        """The areas that touch are at least `CARRIED` of the base, where it is not on the deck."""
        model = self.model
        parts = []
        for lower, carries in self.carriers[upper].items():
            most = min(self.bases[upper].length_mm, self.bases[lower].length_mm)
            shared = []
            for starts, sides in ((self.xs, self.lengths), (self.ys, self.widths)):
                side = self._number(most)
                model.add(side <= sides[upper])
                model.add(side <= sides[lower])
                model.add(side <= starts[upper] + sides[upper] - starts[lower]).only_enforce_if(carries)
                model.add(side <= starts[lower] + sides[lower] - starts[upper]).only_enforce_if(carries)
                model.add(side == 0).only_enforce_if(~carries)
                shared.append(side)
            part = self._number(most * most)
            model.add_multiplication_equality(part, shared)
            parts.append(part)
        there = (~self.on_deck[upper], self.loaded_up[upper])
        model.add(sum(parts) >= self._area_needed(upper)).only_enforce_if(*there)

    def _stand_over_one(self, upper: int) -> None:
        """One carrier alone holds the middle from all four sides; more than the rule asks for."""
        whole = [self.on_deck[upper], ~self.loaded_up[upper]]
        for sides in self.middles[upper].values():
            alone = self._choice()
            for holds in sides:
                self.model.add_implication(alone, holds)
            whole.append(alone)
        self.model.add_bool_or(*whole)
