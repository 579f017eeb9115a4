"""What should be checked before a plan is trusted, and the order of all cautions."""

from collections.abc import Iterable, Iterator, Sequence

from receiving.model import Cart, Carton, Caution, Topic, both_lengths, both_sizes, both_weights
from receiving.staging.aisles import aisle_cautions
from receiving.staging.floor import Floors
from receiving.staging.shipment import Shipment
from receiving.staging.trips import PackingSolution
from receiving.staging.wave_packing import Wave

ASSUMED_CART = Cart(max_load_kg=110, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)
"""A common platform cart, planned with until a layout states the store's own (our choice, no source)."""


def ranked(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """What can hurt first; else in the order in which they were found."""
    return tuple(sorted(cautions, key=lambda caution: caution.topic))


def doubts_of(shipment: Shipment, going: Sequence[Carton], waves: Sequence[Wave]) -> Iterator[Caution]:
    """What should be checked before the plan is trusted."""
    if shipment.layout is None:
        cart = ASSUMED_CART
        yield Caution(
            f"No layout: no bays; trips are planned for a cart that takes {both_weights(cart.max_load_kg)} on "
            f"{both_sizes((cart.deck_length_cm, cart.deck_width_cm))}, stacked to "
            f"{both_lengths(cart.stack_height_cm)}. "
            "Read the cart's own plate first.",
            topic=Topic.WRONG_LAYOUT,
        )
    elif shipment.layout.store != shipment.manifest.store:
        yield Caution(
            f"The layout is of store {shipment.layout.store}, the shipment is for store {shipment.manifest.store}: "
            "check both before anything is carried.",
            topic=Topic.WRONG_LAYOUT,
        )
    for carton in going:
        if doubt := shipment.goes_to(carton).doubt:
            yield Caution(f"Carton {carton.carton}: {doubt}.", carton.carton)
    for floors in (wave.floors for wave in waves):
        yield from _carried_over(floors)
        for name in floors.crowded:
            stands = floors.bay_of[name].bay
            text = f"No floor is left for carton {name} before bay {stands}: keep it out of the aisle."
            yield Caution(text, name, Topic.AISLE)
    if shipment.layout is not None:
        used = {bay.bay: bay for wave in waves for bay in wave.floors.used(shipment.layout)}
        for words in aisle_cautions(shipment.layout, used.values()):
            yield Caution(words, topic=Topic.AISLE)
    for wave in waves:
        yield from _refused_wishes(shipment, wave.solution)
    yield from _unknown_bays(shipment)


def _carried_over(floors: Floors) -> Iterator[Caution]:
    """One caution for all cartons that went from one bay's floor to another's."""
    ways: dict[tuple[str, str], list[str]] = {}
    for name, bay in floors.carried_over.items():
        ways.setdefault((bay, floors.bay_of[name].bay), []).append(name)
    for (bay, stands), names in ways.items():
        who, verb, they = (f"Carton {names[0]}", "belongs", "it stands")
        if len(names) > 1:
            who, verb, they = (f"Cartons {', '.join(names)}", "belong", "they stand")
        text = f"{who} {verb} to bay {bay}, which has no floor left: {they} before {stands}."
        yield Caution(text, names[0] if len(names) == 1 else "", Topic.FLOOR)


def _refused_wishes(shipment: Shipment, solution: PackingSolution) -> Iterator[Caution]:
    """What a person asked for and the plan cannot keep."""
    for name in solution.released:
        trip = shipment.overrides.trips[name]
        yield Caution(
            f"Carton {name} does not fit on trip {trip} with what else was put there; it rides elsewhere.",
            name,
            Topic.WISH,
        )
    for number, placed in enumerate(solution.trips, start=1):
        for name in (one.load.carton for one in placed if one.load.carton not in solution.released):
            wished = shipment.overrides.trips.get(name, number)
            if wished != number:
                why = "was driven without it" if wished <= shipment.overrides.driven else "is not needed"
                yield Caution(
                    f"Carton {name} was put on trip {wished}, which {why}: it rides on trip {number}.", name, Topic.WISH
                )


def _unknown_bays(shipment: Shipment) -> Iterator[Caution]:
    bays = {bay.bay for bay in shipment.layout.bays} if shipment.layout else set()
    for name, chosen in {**shipment.overrides.bays, **shipment.overrides.moved}.items():
        if shipment.layout is not None and chosen not in bays:
            yield Caution(f"Carton {name} was put at bay {chosen}, which the layout does not have.", name, Topic.WISH)
