"""What should be checked before a plan is trusted, and the order of all cautions."""

from collections.abc import Iterable, Iterator, Sequence

from receiving.messages import message, plural
from receiving.model import Cart, Carton, Caution, Topic
from receiving.model.measures import both_lengths_words, both_sizes_words, both_weights_words
from receiving.staging.aisles import aisle_cautions
from receiving.staging.floor import Floors
from receiving.staging.shipment import Shipment
from receiving.staging.trips import PackingSolution
from receiving.staging.waves import Wave

ASSUMED_CART = Cart(max_load_kg=110, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)
"""A common platform cart, planned with until a layout states the store's own (our choice, no source)."""


def rank_cautions(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """What can hurt first; else in the order in which they were found."""
    return tuple(sorted(cautions, key=lambda caution: caution.topic))


def find_doubtful(shipment: Shipment, going: Sequence[Carton], waves: Sequence[Wave]) -> Iterator[Caution]:
    """What should be checked before the plan is trusted."""
    if shipment.layout is None:
        cart = ASSUMED_CART
        yield Caution(
            message(
                "No layout: no bays; trips are planned for a cart that takes {load} on {deck}, stacked to {height}. "
                "Read the cart's own plate first.",
                load=both_weights_words(cart.max_load_kg),
                deck=both_sizes_words((cart.deck_length_cm, cart.deck_width_cm)),
                height=both_lengths_words(cart.stack_height_cm),
            ),
            topic=Topic.WRONG_LAYOUT,
        )
    elif shipment.layout.store != shipment.manifest.store:
        yield Caution(
            message(
                "The layout is of store {layout}, the shipment is for store {store}: check both before anything is "
                "carried.",
                layout=shipment.layout.store,
                store=shipment.manifest.store,
            ),
            topic=Topic.WRONG_LAYOUT,
        )
    for carton in going:
        if uncertainty := shipment.goes_to(carton).uncertainty:
            yield Caution(message("Carton {carton}: {doubt}.", carton=carton.carton, doubt=uncertainty), carton.carton)
    for floors in (wave.floors for wave in waves):
        yield from _carried_over(floors)
        for name in floors.crowded:
            stands = floors.bay_of[name].bay
            text = message(
                "No floor is left for carton {carton} in front of bay {bay}: keep it out of the aisle.",
                carton=name,
                bay=stands,
            )
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
        text = plural(
            len(names),
            "Carton {cartons} belongs to bay {bay}, which has no floor left: it stands in front of {stands}.",
            "Cartons {cartons} belong to bay {bay}, which has no floor left: they stand in front of {stands}.",
            cartons=", ".join(names),
            bay=bay,
            stands=stands,
        )
        yield Caution(text, names[0] if len(names) == 1 else "", Topic.FLOOR)


def _refused_wishes(shipment: Shipment, solution: PackingSolution) -> Iterator[Caution]:
    """What a person asked for and the plan cannot keep."""
    for name in solution.released:
        trip = shipment.overrides.trips[name]
        yield Caution(
            message(
                "Carton {carton} does not fit on trip {trip} with what else was put there; it rides elsewhere.",
                carton=name,
                trip=trip,
            ),
            name,
            Topic.WISH,
        )
    for number, placed in enumerate(solution.trips, start=1):
        for name in (one.load.carton for one in placed if one.load.carton not in solution.released):
            wished = shipment.overrides.trips.get(name, number)
            if wished != number:
                values = {"carton": name, "wanted": wished, "trip": number}
                text = message(
                    "Carton {carton} was put on trip {wanted}, which is not needed: it rides on trip {trip}.", **values
                )
                if wished <= shipment.overrides.driven:
                    text = message(
                        "Carton {carton} was put on trip {wanted}, which was driven without it: it rides on trip "
                        "{trip}.",
                        **values,
                    )
                yield Caution(text, name, Topic.WISH)


def _unknown_bays(shipment: Shipment) -> Iterator[Caution]:
    bays = {bay.bay for bay in shipment.layout.bays} if shipment.layout else set()
    for name, chosen in {**shipment.overrides.bays, **shipment.overrides.moved}.items():
        if shipment.layout is not None and chosen not in bays:
            text = message(
                "Carton {carton} was put at bay {bay}, which the layout does not have.", carton=name, bay=chosen
            )
            yield Caution(text, name, Topic.WISH)
