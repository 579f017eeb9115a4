"""Manifest, reconciliation and layout to a staging plan."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from receiving.model import (
    BayStaging,
    Cart,
    Carton,
    CartonFinding,
    CartonState,
    Caution,
    Held,
    Layout,
    Manifest,
    Note,
    OpenFirst,
    Reconciliation,
    Spot,
    StagingPlan,
    Trip,
    TripBound,
)
from receiving.staging.destinations import Destination, destination, setting_order
from receiving.staging.handling import cautions_for
from receiving.staging.loading import Stood
from receiving.staging.loads import Load, deck_of, measure
from receiving.staging.said import Said, what_was_said
from receiving.staging.trips import Route, Task, fits_alone, group_loads

ASSUMED_CART = Cart(max_load_kg=110, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)
"""A common platform cart, planned with until a layout states the store's own (our choice, no source)."""

TWO_PEOPLE_KG = 46.0
"""Twice the 23 kg load constant of the NIOSH equation; two people carry no more than this by hand in a plan."""


@dataclass(frozen=True)
class Shipment:
    """What a plan is made from, put in order: who is where, what was said, where each carton goes."""

    manifest: Manifest
    findings: dict[str, CartonFinding]
    layout: Layout | None
    said: Said
    opened: frozenset[str]

    def here(self, carton: str) -> bool:
        """The carton is proven to be here."""
        return carton in self.findings and self.findings[carton].state is CartonState.RECEIVED

    def goes_to(self, carton: Carton) -> Destination:
        """Its bay; a person's choice of bay comes first."""
        if self.layout is None:
            return Destination(None)
        chosen = self.said.bay_of(carton.carton)
        for bay in self.layout.bays:
            if bay.bay == chosen:
                return Destination(bay)
        return destination(carton, self.layout, self.manifest.inside(carton.carton))


def plan_staging(
    manifest: Manifest,
    reconciliation: Reconciliation,
    layout: Layout | None,
    notes: Iterable[Note] = (),
    *,
    time_limit_s: float = 0.5,
) -> StagingPlan:
    """Open-first order, cart trips, bays and cautions for the received cartons of one shipment; pure.

    Cartons not found, or whose section has no bay in the layout, are held with the reason. Without a layout there
    are no bays, and the trips are planned for a common cart, which a caution says.
    """
    shipment = _shipment(manifest, reconciliation, layout, notes)
    staged, held = _staged(shipment)
    riding = [c for c in staged if c.carton not in shipment.said.moved]
    loads, assumptions = measure(riding, manifest.cartons)
    deck = deck_of(layout.cart if layout else ASSUMED_CART)
    on_cart = tuple(load for load in loads.values() if fits_alone(load, deck))
    by_hand, too_much = _by_hand([load for load in loads.values() if not fits_alone(load, deck)])
    grouping = group_loads(Task(on_cart, deck), time_limit_s=time_limit_s)
    trips = _trips(shipment, grouping.trips, by_hand)
    refused = {h.carton for h in too_much}
    return StagingPlan(
        open_first=_open_first(shipment),
        trips=trips,
        bays=_bays(shipment, [c for c in staged if c.carton not in refused]),
        cautions=cautions_for(shipment.manifest, shipment.findings, layout, shipment.said, trips, _doubts(shipment)),
        held=(*held, *too_much),
        bound=TripBound(grouping.driven, grouping.at_least),
        assumptions=assumptions,
    )


def _shipment(
    manifest: Manifest, reconciliation: Reconciliation, layout: Layout | None, notes: Iterable[Note]
) -> Shipment:
    findings = {finding.carton.carton: finding for finding in reconciliation.cartons}
    said = what_was_said(notes)
    seen_inside = {
        carton.outer
        for carton in manifest
        if carton.outer and (f := findings.get(carton.carton)) and f.state is CartonState.RECEIVED
    }
    return Shipment(manifest, findings, layout, said, frozenset(seen_inside | said.opened))


def _staged(shipment: Shipment) -> tuple[list[Carton], list[Held]]:
    """The cartons that leave the back room, in manifest order, and those that do not."""
    staged, held = [], []
    for carton in shipment.manifest:
        reason, missing = _why_held(shipment, carton)
        if reason:
            held.append(Held(carton.carton, reason, missing))
        else:
            staged.append(carton)
    return staged, held


def _why_held(shipment: Shipment, carton: Carton) -> tuple[str, bool]:
    finding = shipment.findings.get(carton.carton)
    if carton.carton in shipment.said.moved:
        return "", False
    if finding is not None and finding.state is CartonState.INSIDE:
        if carton.outer in shipment.opened:
            return f"not seen yet in the opened outer box {carton.outer}", True
        return f"inside the unopened outer box {carton.outer}, rides in it", False
    if not shipment.here(carton.carton):
        return "not found yet", True
    if carton.carton in shipment.opened and shipment.manifest.inside(carton.carton):
        return "outer box is open; its cartons are staged one by one", False
    if shipment.layout is not None and shipment.goes_to(carton).bay is None:
        return f"{shipment.goes_to(carton).why}; ask the office or store management where it goes", False
    return "", False


def _by_hand(loads: Sequence[Load]) -> tuple[list[Load], list[Held]]:
    """What does not fit the cart: carried by two people one at a time, or held where it is too heavy for that."""
    carried, held = [], []
    for load in loads:
        if load.weight_g <= TWO_PEOPLE_KG * 1000:
            carried.append(load)
        else:
            why = (
                f"{load.weight_g / 1000:g} kg, {load.length_mm / 10:g} × {load.width_mm / 10:g} × "
                f"{load.height_mm / 10:g} cm: more than the cart takes and too heavy to carry by hand; "
                "open it here and stage its contents, or ask store management for suitable equipment"
            )
            held.append(Held(load.carton, why))
    return carried, held


def _routes(shipment: Shipment, cartons: Iterable[Carton]) -> dict[str, Route]:
    stops = {bay.bay: number for number, bay in enumerate(setting_order(shipment.layout))} if shipment.layout else {}
    routes = {}
    for carton in cartons:
        bay = shipment.goes_to(carton).bay
        routes[carton.carton] = Route(stops[bay.bay] if bay else 0)
    return routes


def _trips(shipment: Shipment, carts: Sequence[Sequence[Stood]], by_hand: Sequence[Load]) -> tuple[Trip, ...]:
    trips = []
    for number, stood in enumerate(carts, start=1):
        if not stood:
            continue
        order = tuple(one.load.carton for one in sorted(stood, key=lambda one: one.load.open_first))
        grams = sum(one.load.weight_g for one in stood)
        stacks = tuple(_spot(one) for one in stood)
        trips.append(Trip(number, order, grams / 1000, _stops(shipment, order), stacks=stacks))
    for number, load in enumerate(by_hand, start=len(carts) + 1):
        stops = _stops(shipment, [load.carton])
        trips.append(Trip(number, (load.carton,), load.weight_g / 1000, stops, by_hand=True, people=2))
    return tuple(trips)


def _stops(shipment: Shipment, cartons: Iterable[str]) -> tuple[str, ...]:
    bays = {shipment.goes_to(c).bay for c in shipment.manifest if c.carton in set(cartons)}
    return tuple(bay.bay for bay in sorted((b for b in bays if b is not None), key=lambda b: b.order))


def _spot(stood: Stood) -> Spot:
    return Spot(
        cartons=(stood.load.carton,),
        x_cm=stood.x_mm / 10,
        y_cm=stood.y_mm / 10,
        length_cm=stood.length_mm / 10,
        width_cm=stood.width_mm / 10,
        height_cm=stood.load.height_mm / 10,
        z_cm=stood.z_mm / 10,
    )


def _open_first(shipment: Shipment) -> tuple[OpenFirst, ...]:
    firsts = [carton for carton in shipment.manifest if carton.open_first]
    found = [shipment.here(carton.carton) for carton in firsts]
    return tuple(
        OpenFirst(carton.carton, here, f"{carton.kind.words}, {'here' if here else 'not found yet'}")
        for carton, here in zip(firsts, found, strict=True)
    )


def _bays(shipment: Shipment, staged: Sequence[Carton]) -> tuple[BayStaging, ...]:
    if shipment.layout is None:
        return ()
    bays = []
    for bay in setting_order(shipment.layout):
        here = [c for c in staged if _stands_at(shipment, c) == bay.bay]
        if here:
            here.sort(key=lambda c: (not c.open_first, bool(c.addresses), c.addresses, c.carton))
            moved = tuple(c.carton for c in here if c.carton in shipment.said.moved)
            bays.append(BayStaging(bay.bay, tuple(c.carton for c in here), moved=moved))
    return tuple(bays)


def _stands_at(shipment: Shipment, carton: Carton) -> str:
    if carton.carton in shipment.said.moved:
        return shipment.said.moved[carton.carton]
    bay = shipment.goes_to(carton).bay
    return bay.bay if bay else ""


def _doubts(shipment: Shipment) -> tuple[Caution, ...]:
    """What should be checked before the plan is trusted."""
    if shipment.layout is None:
        cart = ASSUMED_CART
        text = (
            f"No layout: planned for a cart that takes {cart.max_load_kg:g} kg on {cart.deck_length_cm:g} × "
            f"{cart.deck_width_cm:g} cm, stacked to {cart.stack_height_cm:g} cm. Read the cart's own plate first."
        )
        return (Caution(text),)
    found = []
    if shipment.layout.store != shipment.manifest.store:
        text = f"The layout is of store {shipment.layout.store}, the shipment is for store {shipment.manifest.store}."
        found.append(Caution(text))
    found.extend(
        Caution(f"Carton {carton.carton}: {doubt}.", carton.carton)
        for carton in shipment.manifest
        if shipment.here(carton.carton) and (doubt := shipment.goes_to(carton).doubt)
    )
    return tuple(found)
