"""What to be careful of: heavy cartons, overhead storage, lifts by two, aisles; the lifting equation and its advice."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from receiving.messages import Text, message, plural
from receiving.model import (
    ONE_PERSON_KG,
    TWO_PEOPLE_KG,
    Carton,
    CartonKind,
    Caution,
    HandOver,
    LiftAdvice,
    Topic,
    Trip,
)
from receiving.model.measures import both_lengths_words, both_weights_words
from receiving.staging.loads import Load
from receiving.staging.shipment import Shipment

# The revised NIOSH lifting equation, and advice for each lift on a carton's way.
#
# Source: Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) Publication 94-110 (revised 9/2021),
# doi 10.26616/NIOSHPUB94110revised092021, public domain. Lengths in centimetres, weights in kilograms.


LOAD_CONSTANT_KG = ONE_PERSON_KG
"""The recommended limit of a lift under ideal conditions."""

ASSUMED_TURN_DEG = 45.0
"""Where nothing is known of how people turn with a carton, between pallet, cart and floor: AM 0.86 (our choice)."""

LIMITS_OF_USE = message(
    "NIOSH lifting equation (DHHS (NIOSH) 94-110): two-handed, smooth lifts by one standing person on a dry, level, "
    "firm floor in moderate climate, at most eight hours, with room to move; not for lifts by two people, while "
    "sitting, kneeling or carrying, or for unsteady loads. How people turn with a carton is not known: 45° is assumed "
    "at both ends (multiplier 0.86). Advice only: store management, local codes and licensed practice decide."
)


class Coupling(StrEnum):
    """How well hands hold the carton; a carton of common size without handholds is fair (manual, table 6)."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


class Duration(StrEnum):
    """How long the lifting work lasts, with the recovery that the manual asks for."""

    SHORT = "up to 1 hour"
    MODERATE = "1 to 2 hours"
    LONG = "2 to 8 hours"


_FREQUENCIES = (0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
_SHORT = (1, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37, 0.34, 0.31, 0.28)
_MODERATE = (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0.23, 0.21, 0, 0, 0)
_LONG = (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.15, 0.13, 0, 0, 0, 0, 0)
_FROM_LOW = {Duration.SHORT: 12.0, Duration.MODERATE: 10.0, Duration.LONG: 8.0}
"""Table 5: the last frequency that is not zero for lifts that begin below 75 cm; above, all of the row counts."""


def horizontal_multiplier(h_cm: float) -> float:
    """HM for hands ``h_cm`` before the ankles: 25/H, 1 below 25 cm, 0 beyond 63 cm (table 1)."""
    return 0.0 if h_cm > 63 else 25 / max(25.0, h_cm)


def vertical_multiplier(v_cm: float) -> float:
    """VM for hands ``v_cm`` above the floor: 1 - 0.003 |V - 75|, 0 above 175 cm (table 2)."""
    return 0.0 if v_cm > 175 or v_cm < 0 else 1 - 0.003 * abs(v_cm - 75)


def distance_multiplier(d_cm: float) -> float:
    """DM for a vertical travel of ``d_cm``: 0.82 + 4.5/D, 1 below 25 cm, 0 beyond 175 cm (table 3)."""
    return 0.0 if d_cm > 175 else 0.82 + 4.5 / max(25.0, d_cm)


def asymmetry_multiplier(a_deg: float) -> float:
    """AM for a turn of ``a_deg``: 1 - 0.0032 A, 0 beyond 135° (table 4)."""
    return 0.0 if a_deg > 135 else 1 - 0.0032 * a_deg


def frequency_multiplier(per_min: float, duration: Duration, v_cm: float) -> float:
    """FM by lifts a minute, duration and height of the hands; between the rows of table 5 linear."""
    row: tuple[float, ...] = {Duration.SHORT: _SHORT, Duration.MODERATE: _MODERATE, Duration.LONG: _LONG}[duration]
    if v_cm < 75:
        row = tuple(fm if f <= _FROM_LOW[duration] else 0 for f, fm in zip(_FREQUENCIES, row, strict=True))
    if per_min > 15:
        return 0.0
    rate = max(per_min, _FREQUENCIES[0])
    above = next(i for i, f in enumerate(_FREQUENCIES) if f >= rate)
    if _FREQUENCIES[above] == rate:
        return float(row[above])
    low, high = _FREQUENCIES[above - 1], _FREQUENCIES[above]
    return row[above - 1] + (row[above] - row[above - 1]) * (rate - low) / (high - low)


def coupling_multiplier(coupling: Coupling, v_cm: float) -> float:
    """CM by coupling and height of the hands (table 7)."""
    low, high = {Coupling.GOOD: (1.0, 1.0), Coupling.FAIR: (0.95, 1.0), Coupling.POOR: (0.90, 0.90)}[coupling]
    return low if v_cm < 75 else high


@dataclass(frozen=True)
class Lift:
    """One end of a lift: hands ``h_cm`` before the ankles and ``v_cm`` above the floor, travel ``d_cm``."""

    h_cm: float
    v_cm: float
    d_cm: float
    a_deg: float = 0.0
    per_min: float = 0.2
    duration: Duration = Duration.SHORT
    coupling: Coupling = Coupling.FAIR
    v_origin_cm: float | None = None

    @property
    def multipliers(self) -> tuple[float, float, float, float, float, float]:
        """HM, VM, DM, AM, FM, CM at full precision; frequency counts at the height where the lift begins."""
        begins_cm = self.v_cm if self.v_origin_cm is None else self.v_origin_cm
        return (
            horizontal_multiplier(self.h_cm),
            vertical_multiplier(self.v_cm),
            distance_multiplier(self.d_cm),
            asymmetry_multiplier(self.a_deg),
            frequency_multiplier(self.per_min, self.duration, begins_cm),
            coupling_multiplier(self.coupling, self.v_cm),
        )

    @property
    def limit_kg(self) -> float:
        """The recommended weight limit (RWL): 23 kg times the six multipliers."""
        limit = LOAD_CONSTANT_KG
        for multiplier in self.multipliers:
            limit *= multiplier
        return limit


def lifting_index(weight_kg: float, limit_kg: float) -> float | None:
    """Weight over recommended limit; None where the limit is zero: no such lift is recommended."""
    return weight_kg / limit_kg if limit_kg > 0 else None


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
                deck_cm = DECK_CM + foot[carton]
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
    by_hand = {carton for trip in trips if trip.by_hand for carton in trip.cartons}
    worst = _hardest_lifts(lifting)
    lifted = [c for c in shipment.manifest if shipment.here(c.carton) and not shipment.moved(c.carton)]
    heavy = {c.carton for c in lifted if _is_heavy(c, worst.get(c.carton))}
    found = []
    for carton in shipment.manifest:
        name = carton.carton
        if shipment.overhead(name):
            found.append(Caution(_overhead(name), name, Topic.OVERHEAD))
        if name in heavy:
            found.append(Caution(_heavy(carton, worst.get(name)), name, _how_heavy(carton)))
        if name in by_hand:
            found.append(Caution(_by_hand(name), name, Topic.BY_HAND))
    not_heavy = [worst[c.carton] for c in lifted if c.carton in worst and c.carton not in heavy]
    if strained := [advice.carton for advice in not_heavy if advice.above]:
        lighter = [advice.carton for advice in not_heavy if not advice.above]
        found.append(Caution(_strained(strained, lighter, heavy=bool(heavy)), topic=Topic.STRAINED))
    if unweighed := [c.carton for c in going if c.weight_kg is None and not shipment.moved(c.carton)]:
        found.append(Caution(_unweighed(unweighed), topic=Topic.UNWEIGHED))
    kinds = {carton.kind for carton in going}
    if CartonKind.REPLACEMENT_TRAY in kinds:
        found.append(Caution(FULL_TRAY, topic=Topic.FULL_TRAY))
    if kinds:
        found.append(Caution(EGRESS, topic=Topic.EXITS))
    return tuple(found)


def _hardest_lifts(lifting: Iterable[LiftAdvice]) -> dict[str, LiftAdvice]:
    """By carton, its lift with the lowest limit of those that every way takes: from the floor to the cart and back."""
    worst: dict[str, LiftAdvice] = {}
    for advice in lifting:
        if advice.hand_over in (HandOver.FLOOR_TO_CART, HandOver.CART_TO_FLOOR):
            known = worst.get(advice.carton)
            if known is None or advice.limit_kg < known.limit_kg:
                worst[advice.carton] = advice
    return worst


def _overhead(carton: str) -> Text:
    return message(
        "Carton {carton} is in overhead storage: ask store management to bring it down; do not climb.", carton=carton
    )


def _by_hand(carton: str) -> Text:
    return message("Carton {carton} does not fit the cart: two people carry it, one trip for it alone.", carton=carton)


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
"""Where this many times more cartons are meant than not, those that are not are named: nobody reads a list of all."""


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
