"""Small shipments and layouts for the tests of staging, and a check of a load that shares no code with the planner."""

from datetime import UTC, datetime
from typing import Any

from receiving import staging
from receiving.model import (
    Address,
    Bay,
    Cart,
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    ContentLine,
    Layout,
    Manifest,
    Reconciliation,
    Spot,
    StagingPlan,
)
from tests.spoken import in_english, verbatim

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)
CART = Cart(max_load_kg=110, deck_length_cm=120, deck_width_cm=60, stack_height_cm=100)


def bay(name: str, section: str, *columns: int, order: int = 1, length: float = 122, depth: float = 60) -> Bay:
    return Bay(name, section, columns, order, 122, length, depth)


def layout(*bays: Bay, cart: Cart = CART, store: str = "0417") -> Layout:
    return Layout(store, 60, cart, bays or (bay("B1", "Sol", 1, 2, 3), bay("B2", "Sol", 4, 5, order=2)))


def carton(
    name: str,
    *cells: tuple[int, int],
    kind: CartonKind = CartonKind.TRAY,
    section: str = "Sol",
    weight: float | None = 8,
    size: tuple[float, float, float] | None = (60, 40, 15),
    open_first: bool = False,
    outer: str = "",
) -> Carton:
    lines = tuple(ContentLine(section, Address(section, column, row)) for column, row in cells)
    length, width, height = size or (None, None, None)
    contents = lines or ((ContentLine(section),) if section else ())
    return Carton(
        name,
        kind,
        outer=outer,
        open_first=open_first,
        contents=contents,
        weight_kg=weight,
        length_cm=length,
        width_cm=width,
        height_cm=height,
    )


def manifest(*cartons: Carton) -> Manifest:
    return Manifest("S1", "0417", cartons)


def reconciled(shipment: Manifest, *, short: str = "", inside: str = "") -> Reconciliation:
    """All cartons received but those named in ``short`` and ``inside`` (ids between spaces)."""
    findings = []
    for one in shipment:
        state = CartonState.RECEIVED
        if one.carton in short.split():
            state = CartonState.SHORT
        if one.carton in inside.split():
            state = CartonState.INSIDE
        findings.append(CartonFinding(one, state, verbatim("read")))
    return Reconciliation(shipment.shipment, shipment.store, tuple(findings))


def assert_loaded_well(plan: StagingPlan, shipment: Manifest, cart: Cart) -> None:
    """Every cart trip keeps weight, deck, height and support, and no two cartons share space."""
    cartons = {one.carton: one for one in shipment}
    for trip in plan.trips:
        if trip.by_hand:
            continue
        spots = {spot.cartons[0]: spot for spot in trip.stacks}
        assert len(trip.stacks) == len(spots) == len(trip.cartons)
        assert set(spots) == set(trip.cartons)
        assert trip.load_kg <= cart.max_load_kg + 1e-9
        for name, spot in spots.items():
            assert spot.x_cm >= 0
            assert spot.y_cm >= 0
            assert spot.x_cm + spot.length_cm <= cart.deck_length_cm + 1e-9
            assert spot.y_cm + spot.width_cm <= cart.deck_width_cm + 1e-9
            assert spot.z_cm + spot.height_cm <= cart.stack_height_cm + 1e-9
            others = [(other, at) for other, at in spots.items() if other != name and overlap(spot, at) > 1e-9]
            for _, at in others:
                assert spot.z_cm >= at.z_cm + at.height_cm - 1e-9 or at.z_cm >= spot.z_cm + spot.height_cm - 1e-9
            below = [other for other, at in others if abs(at.z_cm + at.height_cm - spot.z_cm) <= 0.5 + 1e-9]
            if spot.z_cm > 0:
                carried = sum(overlap(spot, spots[other]) for other in below)
                assert carried >= 0.5 * spot.length_cm * spot.width_cm - 1e-6
                assert not any(cartons[other].open_first and not cartons[name].open_first for other in below)
                fragile = {CartonKind.LIGHTING, CartonKind.GRAPHIC, CartonKind.HEADER}
                assert cartons[name].kind in fragile or not any(cartons[other].kind in fragile for other in below)
            order = trip.cartons.index
            assert all(order(other) < order(name) for other, at in others if at.z_cm < spot.z_cm)


def overlap(a: Spot, b: Spot) -> float:
    """The area in square centimetres that two footprints share."""
    wide = min(a.x_cm + a.length_cm, b.x_cm + b.length_cm) - max(a.x_cm, b.x_cm)
    deep = min(a.y_cm + a.width_cm, b.y_cm + b.width_cm) - max(a.y_cm, b.y_cm)
    return max(0.0, wide) * max(0.0, deep)


def plan_staging(*given: Any, **named: Any) -> StagingPlan:
    """The plan with what it says in English."""
    return in_english(staging.plan_staging(*given, **named))
