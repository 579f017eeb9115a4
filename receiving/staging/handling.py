"""What to be careful of: heavy cartons, overhead storage, lifts by two, aisles; and advice on each lift."""

from collections.abc import Iterable, Mapping, Sequence

from receiving.messages import Text, message, plural
from receiving.model import (
    TWO_PEOPLE_KG,
    Carton,
    CartonKind,
    Caution,
    HandOver,
    LiftAdvice,
    Topic,
    Trip,
)
from receiving.model.measure_words import both_lengths_words, both_weights_words
from receiving.staging.lifting import ASSUMED_TURN_DEG, LOAD_CONSTANT_KG, Coupling, Duration, Lift, lifting_index
from receiving.staging.loads import Load
from receiving.staging.shipment import Shipment

DECK_CM = 25.0
"""Height of a platform cart's deck above the floor, where the layout does not say (our planning value)."""

PALLET_CM = 15.0
"""Height of the deck of an empty pallet (our planning value; a EUR flat pallet, EN 13698-1, is 14.4 cm)."""

SHELF_CM = 75.0
"""Waist height: where the lifting equation allows most."""

WALK_M_PER_S, LIFT_S = 1.0, 12.0
"""Walking with a cart, and the time for one lift (our planning values); they give the lifts a minute."""

HEAVY_INDEX = 3.0
"""Above this lifting index a carton has a caution of its own: many workers are at an elevated risk (94-110, section
1.4). From 1 to 3 it is named with others, in one caution, so that those which matter are read."""

EGRESS = message(
    "Keep aisles, exits, fire doors and fire equipment clear while cartons stand on the floor; the local code decides "
    "how wide, store management decides where."
)
TOGETHER = message(
    "two people lift it together, up to {weight}; the equation does not cover that: agree on the signal",
    weight=both_weights_words(TWO_PEOPLE_KG),
)
FULL_TRAY = message(
    "Moving a tray that already holds product: hold the product in with a strip of board at the front "
    "(common practice, no source)."
)


def lift_advice(
    trips: Iterable[Trip], loads: Mapping[str, Load], weighed: Iterable[str], walk_m: float
) -> tuple[LiftAdvice, ...]:
    """Each hand-over of each carton whose weight is known, by trip and in loading order."""
    known, driven = frozenset(weighed), [trip for trip in trips if trip.people == 1]
    minutes = {trip.trip: _minutes(trip, walk_m) for trip in driven}
    total = sum(minutes.values())
    duration = Duration.SHORT if total <= 60 else Duration.MODERATE if total <= 120 else Duration.LONG
    advice: list[LiftAdvice] = []
    for trip in driven:
        rate = 2 * len(trip.cartons) / minutes[trip.trip]
        foot = {carton: spot.z_cm for spot in trip.stacks for carton in spot.cartons}
        for carton in trip.cartons:
            if carton in known:
                deck_cm = DECK_CM + foot.get(carton, 0.0)
                advice.extend(_hand_overs(loads[carton], deck_cm, rate, duration))
    return tuple(advice)


def _minutes(trip: Trip, walk_m: float) -> float:
    return (2 * walk_m / WALK_M_PER_S + 2 * len(trip.cartons) * LIFT_S) / 60


def _hand_overs(load: Load, deck_cm: float, rate: float, duration: Duration) -> Iterable[LiftAdvice]:
    for hand_over, start_cm, end_cm in (
        (HandOver.FLOOR_TO_CART, 0.0, deck_cm),
        (HandOver.PALLET_TO_CART, PALLET_CM, deck_cm),
        (HandOver.CART_TO_FLOOR, deck_cm, 0.0),
        (HandOver.CART_TO_SHELF, deck_cm, SHELF_CM),
    ):
        limit = limit_of_lift(load, start_cm, end_cm, rate, duration)
        kg = load.weight_g / 1000
        index = lifting_index(kg, limit)
        lower = _what_lowers(load, start_cm, end_cm, rate, duration) if index is None or index > 1 else ()
        yield LiftAdvice(load.carton, hand_over, kg, round(limit, 1), None if index is None else round(index, 1), lower)


def limit_of_lift(load: Load, start_cm: float, end_cm: float, rate: float, duration: Duration) -> float:
    """Recommended weight limit in kilograms between two heights of the carton's underside, the lower of both ends.

    Hands are under the carton; H = 20 + W/2 from 25 cm up and 25 + W/2 below, coupling fair up to 40 × 30 cm
    (length × height) and poor beyond (manual, section 1.3.1.1, p. 8, by a transcription; table 6 from memory). A turn
    is assumed at each end.
    """
    coupling = Coupling.FAIR if load.length_mm <= 400 and load.height_mm <= 300 else Coupling.POOR
    travel = abs(end_cm - start_cm)
    ends = [
        Lift(_reach_cm(load, v), v, travel, ASSUMED_TURN_DEG, rate, duration, coupling, v_origin_cm=start_cm)
        for v in (start_cm, end_cm)
    ]
    return min(lift.limit_kg for lift in ends)


def _reach_cm(load: Load, v_cm: float) -> float:
    return (20 if v_cm >= 25 else 25) + load.width_mm / 20


def _what_lowers(load: Load, start_cm: float, end_cm: float, rate: float, duration: Duration) -> tuple[Text, ...]:
    words: list[Text] = [TOGETHER] if load.weight_g <= TWO_PEOPLE_KG * 1000 else []
    raised = limit_of_lift(load, SHELF_CM, max(end_cm, SHELF_CM), rate, duration)
    if raised > limit_of_lift(load, start_cm, end_cm, rate, duration):
        waist, limit = both_lengths_words(SHELF_CM, inside=True), both_weights_words(raised, tenths=True)
        words.append(message("raise both ends to waist height ({waist}): limit {limit}", waist=waist, limit=limit))
    words.append(message("open it and carry its contents in parts"))
    return tuple(words)


def cautions_for(
    shipment: Shipment, trips: Iterable[Trip], lifting: Iterable[LiftAdvice], going: Iterable[Carton]
) -> tuple[Caution, ...]:
    """Cautions beside the cartons, in manifest order, then those for the work as a whole."""
    found = []
    by_hand = {carton for trip in trips if trip.by_hand for carton in trip.cartons}
    worst: dict[str, LiftAdvice] = {}
    for advice in lifting:
        if advice.hand_over in (HandOver.FLOOR_TO_CART, HandOver.CART_TO_FLOOR):
            old = worst.get(advice.carton)
            worst[advice.carton] = advice if old is None or advice.limit_kg < old.limit_kg else old
    strained: list[str] = []
    lighter: list[str] = []
    heavy = False
    for carton in shipment.manifest:
        name = carton.carton
        if shipment.overhead(name):
            text = message(
                "Carton {carton} is in overhead storage: ask store management to bring it down; do not climb.",
                carton=name,
            )
            found.append(Caution(text, name, Topic.OVERHEAD))
        if shipment.here(name) and not shipment.moved(name):
            if _is_heavy(carton, worst.get(name)):
                found.append(Caution(_heavy(carton, worst.get(name)), name, _how_heavy(carton)))
                heavy = True
            elif name in worst:
                (strained if worst[name].above else lighter).append(name)
        if name in by_hand:
            text = message(
                "Carton {carton} does not fit the cart: two people carry it, one trip for it alone.", carton=name
            )
            found.append(Caution(text, name, Topic.BY_HAND))
    if strained:
        found.append(Caution(_strained(strained, lighter, heavy=heavy), topic=Topic.STRAINED))
    if unweighed := [c.carton for c in going if c.weight_kg is None and not shipment.moved(c.carton)]:
        found.append(Caution(_unweighed(unweighed), topic=Topic.UNWEIGHED))
    kinds = {carton.kind for carton in going}
    if CartonKind.REPLACEMENT_TRAY in kinds:
        found.append(Caution(FULL_TRAY, topic=Topic.FULL_TRAY))
    if kinds:
        found.append(Caution(EGRESS, topic=Topic.EXITS))
    return tuple(found)


def _is_heavy(carton: Carton, worst: LiftAdvice | None) -> bool:
    """From the load constant up, or well above the limit of its own lift."""
    if carton.weight_kg is None:
        return False
    return carton.weight_kg >= LOAD_CONSTANT_KG or (
        worst is not None and (worst.index is None or worst.index > HEAVY_INDEX)
    )


def _how_heavy(carton: Carton) -> Topic:
    return Topic.NOT_BY_HAND if (carton.weight_kg or 0.0) > TWO_PEOPLE_KG else Topic.HEAVY


def _heavy(carton: Carton, worst: LiftAdvice | None) -> Text:
    limit = message("{weight} is the most that an ideal lift allows", weight=both_weights_words(LOAD_CONSTANT_KG))
    if worst is not None:
        limit = message(
            "no more than {weight} is recommended for this lift ({lift})",
            weight=both_weights_words(worst.limit_kg),
            lift=_LIFTS[worst.hand_over],
        )
    values = {
        "carton": carton.carton,
        "weight": both_weights_words(carton.weight_kg or 0.0, inside=True),
        "limit": limit,
    }
    if _how_heavy(carton) is Topic.NOT_BY_HAND:
        return message(
            "Carton {carton} is heavy ({weight}): not to be lifted by hand; take its contents out, or ask store "
            "management for suitable equipment. By the NIOSH lifting equation (94-110) {limit}.",
            **values,
        )
    return message(
        "Carton {carton} is heavy ({weight}): two people (up to {together}) or a lifting aid. By the NIOSH lifting "
        "equation (94-110) {limit}.",
        together=both_weights_words(TWO_PEOPLE_KG, inside=True),
        **values,
    )


_LIFTS = {
    HandOver.FLOOR_TO_CART: message("floor to cart"),
    HandOver.PALLET_TO_CART: message("pallet to cart"),
    HandOver.CART_TO_FLOOR: message("cart to floor"),
    HandOver.CART_TO_SHELF: message("cart to shelf"),
}


def _unweighed(cartons: Sequence[str]) -> Text:
    return message(
        "{cartons}: no weight stated, so no lifting advice. Tip a corner before lifting; two people where in doubt.",
        cartons=_named(cartons),
    )


def _named(cartons: Sequence[str]) -> Text:
    return plural(len(cartons), "Carton {cartons}", "Cartons {cartons}", cartons=", ".join(cartons))


NEARLY_ALL = 4
"""Where so many times more cartons are meant than not, those that are not are named: nobody reads a list of all."""


def _all_but(cartons: Sequence[str], others: Sequence[str], *, heavy: bool) -> Text:
    """The cartons by name, or where they are nearly all, how many of all they are and which are not meant."""
    if len(cartons) <= NEARLY_ALL or len(cartons) < NEARLY_ALL * len(others):
        return _named(cartons)
    values: dict[str, object] = {"number": len(cartons), "all": len(cartons) + len(others)}
    if others and heavy:
        return message(
            "{number} of {all} cartons (not {others}; heavy ones have a caution of their own)",
            others=", ".join(others),
            **values,
        )
    if others:
        return message("{number} of {all} cartons (not {others})", others=", ".join(others), **values)
    if heavy:
        return message("All {number} cartons (heavy ones have a caution of their own)", number=len(cartons))
    return message("All {number} cartons", number=len(cartons))


def _strained(cartons: Sequence[str], others: Sequence[str], *, heavy: bool) -> Text:
    return message(
        "{cartons}: above what the NIOSH lifting equation (94-110) recommends from the floor to the cart or back. Two "
        "people (up to {together} together), or raise them before lifting.",
        cartons=_all_but(cartons, others, heavy=heavy),
        together=both_weights_words(TWO_PEOPLE_KG, inside=True),
    )
