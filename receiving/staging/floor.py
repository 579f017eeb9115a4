"""Where cartons stand on the floor kept free before each bay; what finds no floor goes on or stays.

The floor of a bay is its staging length × depth; everything beyond it is aisle and stays clear.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from receiving.model import Bay, Carton, Held, Spot
from receiving.staging.destinations import setting_order
from receiving.staging.loading import Stood, arrange
from receiving.staging.loads import Deck, Load, clip_to_deck
from receiving.staging.rectangles import Verdict, pack_rectangles
from receiving.staging.shipment import Shipment
from receiving.staging.stacking import pile

STACK_CM = 120.0
"""Cartons before a bay are stacked no higher, so that two hands reach the top one (common practice, no source)."""

ENDLESS = 1 << 60

STEPS = 1_000
"""Corners tried for one floor."""


@dataclass
class Floors:
    """Which bay each carton stands at, its spots, what was carried over to another bay, and what finds no floor."""

    bay_of: dict[str, Bay] = field(default_factory=dict)
    spots: dict[str, tuple[Spot, ...]] = field(default_factory=dict)
    carried_over: dict[str, str] = field(default_factory=dict)
    crowded: list[str] = field(default_factory=list)
    held: list[Held] = field(default_factory=list)


def stand_on_floors(shipment: Shipment, cartons: Sequence[Carton], loads: Mapping[str, Load]) -> Floors:
    """Every carton to the floor of its bay, else of a later one, else of an earlier one, else held.

    Bays of the same section are asked before those of others.

    Cartons that were moved or that a person put at a bay stay there even where the floor is full.
    """
    floors = Floors()
    if shipment.layout is None:
        return floors
    bays = setting_order(shipment.layout)
    wanted = {carton.carton: shipment.goes_to(carton).bay for carton in cartons}
    standing: dict[str, list[Load]] = {bay.bay: [] for bay in bays}
    homeless = []
    for carton in sorted(cartons, key=lambda c: (not shipment.said.bay_of(c.carton), not c.open_first)):
        bay = wanted[carton.carton]
        if bay is None:
            continue
        load = loads[carton.carton]
        if shipment.said.bay_of(carton.carton) or _takes(bay, [*standing[bay.bay], load]):
            standing[bay.bay].append(load)
            floors.bay_of[carton.carton] = bay
        else:
            homeless.append((carton, bay))
    for carton, bay in homeless:
        _carry_over(floors, standing, bays, bay, loads[carton.carton])
    for bay in bays:
        _draw(floors, bay, standing[bay.bay])
    return floors


def _carry_over(floors: Floors, standing: dict[str, list[Load]], bays: Sequence[Bay], bay: Bay, load: Load) -> None:
    at = bays.index(bay)
    nearest = (*bays[at + 1 :], *reversed(bays[:at]))
    for other in sorted(nearest, key=lambda near: near.section.casefold() != bay.section.casefold()):
        if _takes(other, [*standing[other.bay], load]):
            standing[other.bay].append(load)
            floors.bay_of[load.carton] = other
            floors.carried_over[load.carton] = bay.bay
            return
    if _takes(bay, [load]):
        why = f"no floor left before bay {bay.bay} or any other; bring it when cartons there are worked off"
    else:
        why = f"larger than the floor kept before bay {bay.bay}; bring it when it is set, by two people"
    floors.held.append(Held(load.carton, why))


def _draw(floors: Floors, bay: Bay, loads: Sequence[Load]) -> None:
    """Spots for what fits, in the order of arrival; the rest is crowded: on this bay's list, but without a spot."""
    kept = list(loads)
    while kept and (spots := _spots(bay, kept)) is None:
        floors.crowded.append(kept.pop().carton)
    if kept:
        floors.spots[bay.bay] = spots or ()


def _takes(bay: Bay, loads: Sequence[Load]) -> bool:
    return _spots(bay, loads) is not None


def _spots(bay: Bay, loads: Sequence[Load]) -> tuple[Spot, ...] | None:
    """Plain stacks side by side where they fit, else long cartons across the stacks."""
    floor = Deck(ENDLESS, int(bay.staging_length_cm * 10), int(bay.staging_depth_cm * 10), int(STACK_CM * 10))
    return _in_stacks(loads, floor) or _across(loads, floor)


def _in_stacks(loads: Sequence[Load], floor: Deck) -> tuple[Spot, ...] | None:
    clipped = [clip_to_deck(load, floor) for load in loads]
    clipped.sort(key=lambda a: (a.rank, -a.length_mm * a.width_mm, -a.weight_g, a.carton))
    stacks = pile(clipped, floor.height_mm)
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


def _across(loads: Sequence[Load], floor: Deck) -> tuple[Spot, ...] | None:
    stood = arrange(loads, floor)
    return None if stood is None else tuple(spot_of(one) for one in stood)


def spot_of(stood: Stood) -> Spot:
    """One load as it stands, in centimetres."""
    return Spot(
        cartons=(stood.load.carton,),
        x_cm=stood.x_mm / 10,
        y_cm=stood.y_mm / 10,
        length_cm=stood.length_mm / 10,
        width_cm=stood.width_mm / 10,
        height_cm=stood.load.height_mm / 10,
        z_cm=stood.z_mm / 10,
    )
