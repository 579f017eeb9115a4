"""Where cartons stand on the floor kept free in front of each bay; what finds no floor goes on or stays.

The floor of a bay is its staging length × depth, less where the aisle would get narrower than what must stay free.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from receiving.messages import Text, message
from receiving.model import Bay, Carton, Held, Layout, Spot
from receiving.staging.aisles import usable_depth_cm
from receiving.staging.destinations import setting_order
from receiving.staging.loading import Effort, Placement, arrange
from receiving.staging.loads import Deck, Load, clip_to_deck
from receiving.staging.rectangles import Verdict, pack_rectangles
from receiving.staging.shipment import Shipment
from receiving.staging.stacking import dug_cartons, handle_less, stack_up
from receiving.staging.unloading import load_in_turn, swap_equals
from receiving.staging.work_order import opening_key

STACK_CM = 120.0
"""Cartons in front of a bay are stacked no higher, so that two hands reach the top one (common practice, no source)."""

FRAGILE_STACK_CM = 75.0
"""Lighting, graphics and headers lie no higher than waist height in a stack (common practice, no source)."""

ENDLESS = 1 << 60

FLOOR_EFFORT = 100_000
"""Comparisons that may be spent on keeping the opening order before one bay."""

STEPS = 1_000
"""Corners tried for one floor."""


@dataclass
class Floors:
    """Which bay each carton stands at, its spots, what was carried over to another bay, and what finds no floor.

    ``asked`` are the bays that cartons are for, wherever they are put; ``dug`` are by bay the cartons that lie under
    one that is opened after them, ``restacked`` those that lie under one that comes before them.
    """

    bay_of: dict[str, Bay] = field(default_factory=dict)
    spots: dict[str, tuple[Spot, ...]] = field(default_factory=dict)
    carried_over: dict[str, str] = field(default_factory=dict)
    crowded: list[str] = field(default_factory=list)
    held: list[Held] = field(default_factory=list)
    dug: dict[str, tuple[str, ...]] = field(default_factory=dict)
    restacked: dict[str, tuple[str, ...]] = field(default_factory=dict)
    asked: set[str] = field(default_factory=set)

    def used(self, layout: Layout) -> tuple[Bay, ...]:
        """The bays that cartons go to or should have gone to, in setting order."""
        floor_plan = {bay.bay for bay in self.bay_of.values()}
        return tuple(bay for bay in setting_order(layout) if bay.bay in floor_plan | self.asked)


def stand_in_waves(shipment: Shipment, cartons: Sequence[Carton], loads: Mapping[str, Load]) -> tuple[Floors, ...]:
    """The floors of each wave: what finds no floor is brought when that of the wave before is clear.

    What is held in the last one fits no floor.
    """
    waves = [stand_on_floors(shipment, cartons, loads)]
    while waves[-1].held:
        names = {held.carton for held in waves[-1].held}
        following = stand_on_floors(shipment, [c for c in cartons if c.carton in names], loads)
        if not following.bay_of:
            break
        waves[-1].held = []
        waves.append(following)
    return tuple(waves)


def stand_on_floors(shipment: Shipment, cartons: Sequence[Carton], loads: Mapping[str, Load]) -> Floors:
    """Every carton to the floor of its bay, else of a later one, else of an earlier one, else held.

    Bays of the same section are asked before those of others.

    Cartons that were moved or that a person put at a bay stay there even where the floor is full; then those that are
    on a cart already are asked first, so that they keep the bay that they are driven to, and then what is opened first.
    """
    if shipment.layout is None:
        return Floors()
    turns = {carton.carton: turn for turn, carton in enumerate(sorted(cartons, key=opening_key))}
    floor_plan = _FloorPlan(shipment.layout, turns)
    overrides = shipment.overrides
    wanted: dict[str, list[Load]] = {}
    bays = {bay.bay: bay for bay in floor_plan.bays}
    for carton in sorted(
        cartons,
        key=lambda c: (
            not overrides.bay_of(c.carton),
            -overrides.moved_on.get(c.carton, 0),
            c.carton not in overrides.riding,
            turns[c.carton],
        ),
    ):
        bay = shipment.goes_to(carton).bay
        if bay is None:
            continue
        load = loads[carton.carton]
        floor_plan.floors.asked.add(bay.bay)
        if overrides.bay_of(carton.carton) or (carton.carton in overrides.riding and floor_plan.takes(bay, load)):
            floor_plan.put(load, bay)
        else:
            wanted.setdefault(bay.bay, []).append(load)
    homeless = [(load, bays[name]) for name, own in wanted.items() for load in floor_plan.put_most(own, bays[name])]
    homeless.sort(key=lambda one: turns[one[0].carton])
    for load, bay in homeless:
        floor_plan.carry_over(load, bay)
    floor_plan.draw(overrides.moved_on)
    return floor_plan.floors


class _FloorPlan:
    """What stands in front of each bay so far, on the floor that its aisle leaves for cartons."""

    def __init__(self, layout: Layout, opening: Mapping[str, int]) -> None:
        self.opening = opening
        self.bays = setting_order(layout)
        self.floors = Floors()
        self.loads: dict[str, list[Load]] = {bay.bay: [] for bay in self.bays}
        self.decks = {bay.bay: floor_deck(bay, usable_depth_cm(bay, layout)) for bay in self.bays}

    def put(self, load: Load, bay: Bay) -> None:
        self.loads[bay.bay].append(load)
        self.floors.bay_of[load.carton] = bay

    def put_most(self, loads: Sequence[Load], bay: Bay) -> list[Load]:
        """What is opened first to its bay, or what is small first where more fit so; the loads that find no floor."""
        begun = list(self.loads[bay.bay])
        best: tuple[list[Load], list[Load]] | None = None
        for order in (loads, sorted(loads, key=lambda load: (not load.open_first, load.length_mm * load.width_mm))):
            here, left = list(begun), list[Load]()
            for load in order:
                fits = _spots([*here, load], self.decks[bay.bay]) is not None
                (here if fits else left).append(load)
            if best is None or len(left) < len(best[1]):
                best = (here, left)
            if not left:
                break
        here, left = best or (begun, [])
        for load in here[len(begun) :]:
            self.put(load, bay)
        return left

    def takes(self, bay: Bay, load: Load) -> bool:
        return _spots([*self.loads[bay.bay], load], self.decks[bay.bay]) is not None

    def carry_over(self, load: Load, bay: Bay) -> None:
        """To the next floor that takes it, else it is held with the reason."""
        at = self.bays.index(bay)
        nearest = (*self.bays[at + 1 :], *reversed(self.bays[:at]))
        for other in sorted(nearest, key=lambda near: near.section.casefold() != bay.section.casefold()):
            if self.takes(other, load):
                self.put(load, other)
                self.floors.carried_over[load.carton] = bay.bay
                return
        self.floors.held.append(Held(load.carton, self._why_held(load, bay)))

    def _why_held(self, load: Load, bay: Bay) -> Text:
        floor = self.decks[bay.bay]
        if _spots([load], floor) is not None:
            return message(
                "no floor left in front of bay {bay} or any other; bring it when that floor is clear", bay=bay.bay
            )
        if not floor.area_mm2:
            return message(
                "no floor is kept free in front of bay {bay}, and no other bay has any left; bring it when it is set",
                bay=bay.bay,
            )
        return message(
            "larger than the floor kept in front of bay {bay}; bring it when it is set, by two people", bay=bay.bay
        )

    def draw(self, moved_on: Mapping[str, int]) -> None:
        """Spots for what fits, in the order of arrival; the rest is crowded: on its bay's list, without a spot.

        What came on an earlier trip than the last and fits no more is taken as set and cleared: it is not crowded.
        """
        for name, loads in self.loads.items():
            kept = list(loads)
            latest = max((moved_on.get(load.carton, 0) for load in loads), default=0)
            while kept and _spots(kept, self.decks[name]) is None:
                carton = kept.pop().carton
                if not 0 < moved_on.get(carton, 0) < latest:
                    self.floors.crowded.append(carton)
            if kept:
                spots, dug = _best_spots(kept, self.decks[name], self.opening)
                self.floors.spots[name] = spots
                if dug:
                    self.floors.dug[name] = dug


def floor_deck(bay: Bay, depth_cm: float) -> Deck:
    """The floor kept in front of a bay as what can be loaded, ``depth_cm`` of it from the fixture."""
    sides = (int(bay.staging_length_cm * 10), int(depth_cm * 10))
    return Deck(ENDLESS, *sides, int(STACK_CM * 10), int(FRAGILE_STACK_CM * 10))


def _spots(loads: Sequence[Load], floor: Deck) -> tuple[Spot, ...] | None:
    """Plain stacks side by side where they fit, else long cartons across the stacks."""
    if not floor.area_mm2:
        return None
    return stand_in_stacks(loads, floor, {}, without_digging=False) or _across(loads, floor)


def _best_spots(
    loads: Sequence[Load], floor: Deck, opening: Mapping[str, int]
) -> tuple[tuple[Spot, ...], tuple[str, ...]]:
    """Of the ways that fit this floor the one with the fewest cartons under one that is opened after them."""
    effort = Effort(FLOOR_EFFORT)
    ways = [
        stand_in_stacks(loads, floor, opening, without_digging=True),
        stand_in_stacks(loads, floor, opening, without_digging=True, by_size=False),
        stand_in_stacks(loads, floor, opening, without_digging=False),
        _in_turn(loads, floor, opening, effort),
        _across(loads, floor, opening, effort),
        _spots(loads, floor),  # by which it was found to fit: there is always one way
    ]
    found = [(dug_from_spots(spots, opening), at, spots) for at, spots in enumerate(ways) if spots is not None]
    dug, _, spots = min(found, key=lambda way: (len(way[0]), way[1]))
    return spots, dug


def dug_from_spots(spots: Sequence[Spot], opening: Mapping[str, int]) -> tuple[str, ...]:
    """What must be dug out, where stacks are drawn one by one or long cartons lie across them."""
    if any(spot.z_cm for spot in spots):
        over = {
            one.cartons[0]: [
                other.cartons[0]
                for other in spots
                if other.z_cm >= one.z_cm + one.height_cm - 0.5
                and one.x_cm < other.x_cm + other.length_cm
                and other.x_cm < one.x_cm + one.length_cm
                and one.y_cm < other.y_cm + other.width_cm
                and other.y_cm < one.y_cm + one.width_cm
            ]
            for one in spots
        }
        dug = [lower for lower, uppers in over.items() if dug_cartons([[lower, upper] for upper in uppers], opening)]
        return tuple(sorted(dug, key=lambda carton: opening.get(carton, 0)))
    return dug_cartons([spot.cartons for spot in spots], opening)


def stand_in_stacks(
    loads: Sequence[Load],
    floor: Deck,
    opening: Mapping[str, int],
    *,
    without_digging: bool,
    by_size: bool = True,
    arrival: Mapping[str, int] | None = None,
) -> tuple[Spot, ...] | None:
    """Stacks side by side; what is opened last is stacked first, among all or (``by_size``) among equal ones.

    With ``arrival`` what comes first is stacked before that, and nothing lies under what comes before it.
    """
    trips = arrival or {}
    clipped = [clip_to_deck(load, floor) for load in loads]
    clipped.sort(key=lambda a: (trips.get(a.carton, 0), -opening.get(a.carton, 0), -a.weight_g, a.carton))
    if by_size:
        clipped.sort(key=lambda a: (a.rank, -a.length_mm * a.width_mm))
    stacks = stack_up(clipped, floor, opening, without_digging=without_digging, arrival=trips)
    if opening:
        stacks = handle_less(stacks, floor, opening, trips)
    bases = [(stack[0].length_mm, stack[0].width_mm) for stack in stacks]
    packing = pack_rectangles(bases, floor.length_mm, floor.width_mm, steps=STEPS)
    if packing.verdict is not Verdict.PACKED:
        return None
    return tuple(
        Spot(
            cartons=tuple(load.carton for load in stacks[placed.index]),
            x_cm=placed.x / 10,
            y_cm=placed.y / 10,
            length_cm=placed.length / 10,
            width_cm=placed.width / 10,
            height_cm=sum(load.height_mm for load in stacks[placed.index]) / 10,
        )
        for placed in sorted(packing.placed, key=lambda p: (p.x, p.y))
    )


def _across(
    loads: Sequence[Load], floor: Deck, opening: Mapping[str, int] | None = None, effort: Effort | None = None
) -> tuple[Spot, ...] | None:
    """Long cartons across stacks; with ``opening`` equal cartons change places so that less must be dug out."""
    placed = arrange(loads, floor)
    if placed is not None and opening and effort:
        placed = swap_equals(placed, opening, floor, effort)
    return None if placed is None else tuple(map(spot_of, placed))


def _in_turn(loads: Sequence[Load], floor: Deck, opening: Mapping[str, int], effort: Effort) -> tuple[Spot, ...] | None:
    placed = load_in_turn([clip_to_deck(load, floor) for load in loads], floor, opening, effort)
    return None if placed is None else tuple(map(spot_of, placed))


def spot_of(placed: Placement) -> Spot:
    """One load as it stands, in centimetres."""
    return Spot(
        cartons=(placed.load.carton,),
        x_cm=placed.x_mm / 10,
        y_cm=placed.y_mm / 10,
        length_cm=placed.length_mm / 10,
        width_cm=placed.width_mm / 10,
        height_cm=placed.load.height_mm / 10,
        z_cm=placed.z_mm / 10,
    )
