"""The staging plan: what rides on which trip, where it stands, what to be careful of and what of that comes first."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import IntEnum, StrEnum
from itertools import groupby

from receiving.messages import Text, message
from receiving.model.measures import both_weights_words

ONE_PERSON_KG = 23.0
"""The most that the revised NIOSH lifting equation recommends for the best of lifts: its load constant (DHHS (NIOSH)
Publication 94-110, section 1.1.2)."""

TWO_PEOPLE_KG = 30.0
"""The most that two people lift together in a plan. The NIOSH equation does not cover lifts by two; the guidance on the
Manual Handling Operations Regulations 1992 (HSE, L23) takes two people for two thirds of what both can lift alone:
2/3 × 2 × 23 kg = 30.7 kg, rounded down."""


@dataclass(frozen=True)
class OpenFirst:
    """A carton that must be opened before the others, and whether it is here."""

    carton: str
    found: bool
    why: str = ""


@dataclass(frozen=True)
class Spot:
    """A stack of cartons, bottom first, on a deck or a floor: its rectangle from one corner, in centimetres.

    ``x_cm`` runs along the deck's length or the bay's width, ``y_cm`` across it (away from the fixture); ``z_cm`` is
    the height of its foot.
    """

    cartons: tuple[str, ...]
    x_cm: float
    y_cm: float
    length_cm: float
    width_cm: float
    height_cm: float
    z_cm: float = 0.0


def split_into_layers(spots: Iterable[Spot]) -> tuple[tuple[Spot, ...], ...]:
    """The cartons one by one, in layers from the deck or floor up: none covers another of its layer.

    A stack of several cartons is cut into equal heights.
    """
    single = [
        replace(
            spot,
            cartons=(carton,),
            z_cm=spot.z_cm + at * spot.height_cm / len(spot.cartons),
            height_cm=spot.height_cm / len(spot.cartons),
        )
        for spot in spots
        for at, carton in enumerate(spot.cartons)
    ]
    layers: list[list[Spot]] = []
    for spot in sorted(single, key=lambda one: (one.z_cm, one.y_cm, one.x_cm)):
        covered = (number for number, layer in enumerate(layers) if any(_overlap(spot, other) for other in layer))
        number = max(covered, default=-1) + 1
        if number == len(layers):
            layers.append([])
        layers[number].append(spot)
    return tuple(map(tuple, layers))


def _overlap(one: Spot, other: Spot) -> bool:
    return (
        one.x_cm < other.x_cm + other.length_cm - DUST_CM
        and other.x_cm < one.x_cm + one.length_cm - DUST_CM
        and one.y_cm < other.y_cm + other.width_cm - DUST_CM
        and other.y_cm < one.y_cm + one.width_cm - DUST_CM
    )


DUST_CM = 0.01
"""Less than any size that is planned with: what decimal fractions leave in binary."""


@dataclass(frozen=True)
class Trip:
    """One trip from the back room, cartons in loading order (first loaded first, at the bottom).

    ``by_hand`` trips carry one carton without the cart, by ``people``. ``walk_m`` is there and back. ``under_way``:
    some of its cartons stand at their bay already, these are still on the cart. ``lifted_off`` are the cartons of later
    stops that lie over what comes off before them, so that they are lifted off for it. Trips of a later ``wave`` are
    driven when the cartons of the one before are set and their floor is clear.
    """

    trip: int
    cartons: tuple[str, ...]
    load_kg: float
    stops: tuple[str, ...] = ()
    by_hand: bool = False
    people: int = 1
    walk_m: float = 0.0
    stacks: tuple[Spot, ...] = ()
    under_way: bool = False
    lifted_off: tuple[str, ...] = ()
    wave: int = 1


@dataclass(frozen=True)
class Aisle:
    """The aisle in front of a bay, in centimetres: how wide it is, and how much of that stays free beside the cartons.

    ``keep_clear_cm`` must stay free (``assumed``: the layout does not say so), which leaves ``floor_depth_cm`` for
    cartons.
    """

    width_cm: float
    keep_clear_cm: float
    clear_cm: float
    floor_depth_cm: float
    assumed: bool = False


@dataclass(frozen=True)
class BayStaging:
    """The cartons that stand in front of one bay, in the order in which they are opened.

    ``spots`` are their stacks on the floor in front of the bay; ``moved`` those that are there already. ``aisle`` is
    None where the layout does not say how wide it is. ``dug_out`` are the cartons that lie under one that is opened
    after them, ``restacked`` those that lie under one that comes on an earlier trip. In a later ``wave`` the floor of
    the one before is clear again.
    """

    bay: str
    cartons: tuple[str, ...]
    spots: tuple[Spot, ...] = ()
    moved: tuple[str, ...] = ()
    aisle: Aisle | None = None
    dug_out: tuple[str, ...] = ()
    wave: int = 1
    restacked: tuple[str, ...] = ()


class Topic(IntEnum):
    """What a caution is about; the lower number matters more: first what can hurt, then what is in the way."""

    WRONG_LAYOUT = 1
    OVERHEAD = 2
    NOT_BY_HAND = 3
    HEAVY = 4
    AISLE = 5
    STRAINED = 6
    UNWEIGHED = 7
    BY_HAND = 8
    EXITS = 9
    FULL_TRAY = 10
    FLOOR = 11
    DESTINATION = 12
    WISH = 13


@dataclass(frozen=True)
class Caution:
    """A caution for the people who carry; it defers to store management and local codes."""

    text: Text
    carton: str = ""
    topic: Topic = Topic.DESTINATION


@dataclass(frozen=True)
class Held:
    """A carton that stays in the back room, or is ``missing`` and waited for, and why."""

    carton: str
    why: Text
    missing: bool = False


class HandOver(StrEnum):
    """A lift on a carton's way: from where to where."""

    FLOOR_TO_CART = "floor_to_cart"
    PALLET_TO_CART = "pallet_to_cart"
    CART_TO_FLOOR = "cart_to_floor"
    CART_TO_SHELF = "cart_to_shelf"


@dataclass(frozen=True)
class LiftAdvice:
    """One lift of one carton by the revised NIOSH lifting equation: weight and recommended limit, both in kilograms.

    ``index`` is weight over limit (None: the limit is zero, so no lift of this kind is recommended); ``lower`` says
    what brings it down.
    """

    carton: str
    hand_over: HandOver
    weight_kg: float
    limit_kg: float
    index: float | None
    lower: tuple[Text, ...] = ()

    @property
    def above(self) -> bool:
        """The carton weighs more than is recommended for this lift."""
        return self.index is None or self.index > 1


@dataclass(frozen=True)
class WorkStep:
    """One step of the work at a section: what is opened, and whether it can start before ``waits_for`` comes."""

    step: int
    words: Text
    cartons: tuple[str, ...]
    bay: str = ""
    waits_for: tuple[str, ...] = ()

    @property
    def can_start(self) -> bool:
        """Nothing that this step needs is missing."""
        return not self.waits_for


@dataclass(frozen=True)
class PlanBound:
    """How good a number of the plan is: no plan has fewer than ``at_least``; ``planned`` were planned."""

    planned: int
    at_least: int

    @property
    def proven(self) -> bool:
        """The plan provably has the fewest."""
        return self.planned <= self.at_least

    @property
    def gap(self) -> float:
        """(planned - at_least) / planned; 0.0 when proven."""
        return 0.0 if self.proven else (self.planned - self.at_least) / self.planned


@dataclass(frozen=True)
class TripBound(PlanBound):
    """How good the number of cart trips is."""


@dataclass(frozen=True)
class StopBound(PlanBound):
    """How good the number of stops is, among the plans with as many cart trips; a stop is one trip at one bay."""


@dataclass(frozen=True)
class ChangeCost:
    """What a change of the plan by a person costs, in trips, stops and metres walked, and in words."""

    trips: int
    stops: int
    walk_m: float
    words: Text
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True)
class StagingPlan:
    """Where every received carton goes. ``open_first`` also lists open-first cartons not found.

    ``search_s`` is how many seconds of computing the search for fewer trips and stops could take.
    """

    open_first: tuple[OpenFirst, ...] = ()
    trips: tuple[Trip, ...] = ()
    bays: tuple[BayStaging, ...] = ()
    cautions: tuple[Caution, ...] = ()
    held: tuple[Held, ...] = ()
    bound: TripBound = TripBound(0, 0)
    stop_bound: StopBound = StopBound(0, 0)
    assumptions: tuple[Text, ...] = ()
    lifting: tuple[LiftAdvice, ...] = ()
    steps: tuple[WorkStep, ...] = ()
    search_s: float = 0.0


# Cautions in lines for page, paper and command: the few that matter most first, and cartons with the same together.


@dataclass(frozen=True)
class Cautions:
    """What to take care of: the few that matter most, and the others; each is one line."""

    first: tuple[Text, ...] = ()
    others: tuple[Text, ...] = ()


MOST_FIRST = 3
"""This many cautions are said at once: a page full of them teaches people to pass over them (our choice)."""


def ranked_cautions(cautions: Iterable[Caution]) -> Cautions:
    """The cautions in lines, those that matter most first; several cartons with one and the same share a line."""
    lines: list[Text] = []
    for topic, group in groupby(cautions, key=lambda caution: caution.topic):
        found = list(group)
        names = list(dict.fromkeys(caution.carton for caution in found if caution.carton))
        if topic in TOGETHER and len(names) > 1:
            lines.append(TOGETHER[topic].filled(cartons=", ".join(names), together=_TWO_PEOPLE))
        else:
            lines += [caution.text for caution in found]
    return Cautions(tuple(lines[:MOST_FIRST]), tuple(lines[MOST_FIRST:]))


TOGETHER = {
    Topic.OVERHEAD: message(
        "Cartons {cartons} are in overhead storage: ask store management to bring them down; do not climb."
    ),
    Topic.NOT_BY_HAND: message(
        "Cartons {cartons} are not to be lifted by hand: take their contents out, or ask store management for suitable "
        "equipment. Their weights stand beside them."
    ),
    Topic.HEAVY: message(
        "Cartons {cartons} are heavy: two people (up to {together}) or a lifting aid. What is recommended for each "
        "lift is under Lifting."
    ),
    Topic.BY_HAND: message("Cartons {cartons} do not fit the cart: two people carry each, one trip for it alone."),
}
"""What is said of several cartons at once."""

_TWO_PEOPLE = both_weights_words(TWO_PEOPLE_KG, inside=True)
