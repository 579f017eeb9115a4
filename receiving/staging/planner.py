"""Manifest, reconciliation and layout to a staging plan."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import product

from receiving.messages import message
from receiving.model import (
    TWO_PEOPLE_KG,
    BayStaging,
    Carton,
    Held,
    Layout,
    Manifest,
    Note,
    Reconciliation,
    StagingPlan,
    StopBound,
    Trip,
    TripBound,
)
from receiving.model.measures import both_sizes_words, both_weights_words
from receiving.staging.aisles import aisle_before
from receiving.staging.at_once import open_first
from receiving.staging.checking import ASSUMED_CART, find_doubtful, rank_cautions
from receiving.staging.destinations import setting_order
from receiving.staging.floor import stand_in_waves
from receiving.staging.handling import LIMITS_OF_USE, cautions_for, lift_advice
from receiving.staging.loads import Deck, Load, deck_of, measure
from receiving.staging.overrides import trips_under_way
from receiving.staging.shipment import Shipment, shipment_of, stay_or_go
from receiving.staging.trips import fits_alone, longest_search_s
from receiving.staging.waves import Search, Wave, plan_waves, stops_at_least, trips_at_least
from receiving.staging.work_order import opening_key, work_steps

ROWS_FROM_TOP = message("Row 1 is the top row.")


def plan_staging(
    manifest: Manifest,
    reconciliation: Reconciliation,
    layout: Layout | None,
    notes: Iterable[Note] = (),
    *,
    time_limit_s: float = 1.0,
) -> StagingPlan:
    """Open-first order, cart trips, bays, work order and cautions for the received cartons of one shipment; pure.

    Cartons not found, or for which there is no bay or floor, are held with the reason. Without a layout there are no
    bays, and trips are planned for a common cart, which a caution says. ``time_limit_s`` bounds the search by a count
    of steps that takes about so long, from 2 s on with constraint programs up to 2.5 times that; the same input always
    gives the same plan.
    """
    shipment = shipment_of(manifest, reconciliation, layout, notes)
    deck = deck_of(layout.cart if layout else ASSUMED_CART)
    going, held = stay_or_go(shipment)
    loads, assumptions = measure(going, manifest)
    going, too_much = _liftable(shipment, going, loads, deck)
    floors = stand_in_waves(shipment, going, loads)
    # What finds no floor would ride in vain, so it is left out before the trips are packed.
    nowhere = {h.carton for own in floors for h in own.held}
    going = [carton for carton in going if carton.carton not in nowhere]
    # What is at its bay already takes floor there, and no place on a cart.
    riding = [carton for carton in going if not shipment.moved(carton.carton)]
    begun = trips_under_way((loads[carton.carton] for carton in riding), shipment.overrides.riding, deck)
    search = Search(time_limit_s)
    waves = plan_waves(shipment, floors, (going, riding), loads, begun, deck, search)
    trips = tuple(trip for wave in waves for trip in wave.trips)
    stops_begun = sum(len(trip.stops) for trip in trips if trip.under_way)
    weighed = [carton.carton for carton in riding if carton.weight_kg is not None]
    lifting = lift_advice(trips, loads, weighed, layout.walk_m if layout else 0.0)
    driven = sum(wave.solution.driven for wave in waves)
    bound = TripBound(driven + len(begun), trips_at_least(waves, deck, search) + len(begun))
    return StagingPlan(
        open_first=open_first(shipment),
        trips=trips,
        bays=_bays(shipment, going, waves),
        cautions=rank_cautions(
            (*find_doubtful(shipment, going, waves), *cautions_for(shipment, trips, lifting, going))
        ),
        held=(*held, *too_much, *(h for own in floors for h in own.held)),
        bound=bound,
        stop_bound=StopBound(_cart_stops(trips), stops_at_least(waves, deck) + stops_begun),
        assumptions=(*assumptions, *([ROWS_FROM_TOP] if going else []), *([LIMITS_OF_USE] if lifting else [])),
        lifting=lifting,
        steps=work_steps(shipment),
        search_s=time_limit_s if bound.proven else longest_search_s(time_limit_s),
    )


def _cart_stops(trips: Iterable[Trip]) -> int:
    return sum(len(trip.stops) for trip in trips if not trip.by_hand)


def _liftable(
    shipment: Shipment, going: Sequence[Carton], loads: Mapping[str, Load], deck: Deck
) -> tuple[list[Carton], list[Held]]:
    """Holds what neither the cart nor two people carry; a carton that was moved already needs no carrying."""
    kept, held = [], []
    for carton in going:
        load = loads[carton.carton]
        if shipment.moved(carton.carton) or fits_alone(load, deck) or load.weight_g <= TWO_PEOPLE_KG * 1000:
            kept.append(carton)
            continue
        sides_cm = tuple(side / 10 for side in (load.length_mm, load.width_mm, load.height_mm))
        why = message(
            "{weight}, {sides}: more than the cart takes and too heavy to carry by hand; open it here and stage its "
            "contents, or ask store management for suitable equipment",
            weight=both_weights_words(load.weight_g / 1000),
            sides=both_sizes_words(sides_cm),
        )
        held.append(Held(carton.carton, why))
    return kept, held


def _bays(shipment: Shipment, going: Sequence[Carton], waves: Sequence[Wave]) -> tuple[BayStaging, ...]:
    """What is in front of each bay, wave by wave."""
    if shipment.layout is None:
        return ()
    bays = []
    for wave, bay in product(waves, setting_order(shipment.layout)):
        floors = wave.floors
        cartons = sorted((c for c in going if floors.bay_of.get(c.carton) == bay), key=opening_key)
        if cartons:
            ids = tuple(carton.carton for carton in cartons)
            moved = tuple(carton for carton in ids if shipment.moved(carton))
            spots = floors.spots.get(bay.bay, ())
            aisle = aisle_before(bay, shipment.layout, spots)
            dug, late = floors.dug.get(bay.bay, ()), floors.restacked.get(bay.bay, ())
            bays.append(BayStaging(bay.bay, ids, spots, moved, aisle, dug, wave.number, late))
    return tuple(bays)
