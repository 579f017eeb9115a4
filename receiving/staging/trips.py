"""Which loads ride together: the fewest cart trips that keep every limit of the cart."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from receiving.staging.loads import Deck, Load, clip_to_deck, fits_on
from receiving.staging.stacking import Stack, arrange


@dataclass(frozen=True)
class Route:
    """Where a load goes: its bay's place in the setting order, and whether the work there waits."""

    stop: int = 0
    waits: bool = False


@dataclass(frozen=True)
class Grouping:
    """Loads by trip, and a number of trips that no grouping can go below."""

    trips: tuple[tuple[Load, ...], ...]
    at_least: int


class CartFit:
    """Answers "do these ride together", remembered by set of cartons."""

    def __init__(self, deck: Deck) -> None:
        self.deck = deck
        self._known: dict[frozenset[str], tuple[Stack, ...] | None] = {}

    def stacks(self, loads: Iterable[Load]) -> tuple[Stack, ...] | None:
        """The arrangement of these loads on the cart, or None where none was found."""
        group = tuple(loads)
        key = frozenset(load.carton for load in group)
        if key not in self._known:
            self._known[key] = arrange(group, self.deck)
        return self._known[key]

    def alone(self, load: Load) -> bool:
        """The load fits the empty cart."""
        return fits_on(clip_to_deck(load, self.deck), self.deck)


def first_fit(loads: Sequence[Load], fit: CartFit) -> tuple[tuple[Load, ...], ...]:
    """Each load, in this order, on the first trip that takes it."""
    trips: list[list[Load]] = []
    for load in loads:
        for trip in trips:
            if fit.stacks((*trip, load)) is not None:
                trip.append(load)
                break
        else:
            trips.append([load])
    return tuple(map(tuple, trips))


def group_loads(loads: Sequence[Load], routes: dict[str, Route], fit: CartFit) -> Grouping:
    """The loads (each of which fits the cart alone) by trip: open-first on the first trips, then in setting order."""

    def sequence(load: Load) -> tuple[bool, bool, int, int, str]:
        route = routes.get(load.carton, Route())
        return (not load.open_first, route.waits, route.stop, -load.weight_g, load.carton)

    orders: tuple[Callable[[Load], tuple[object, ...]], ...] = (
        sequence,
        lambda load: (not load.open_first, -load.weight_g, load.carton),
        lambda load: (not load.open_first, -load.length_mm * load.width_mm * load.height_mm, load.carton),
    )
    groupings = [first_fit(sorted(loads, key=order), fit) for order in orders]
    weight = -(-sum(load.weight_g for load in loads) // fit.deck.max_g)
    return Grouping(min(groupings, key=len), weight)
