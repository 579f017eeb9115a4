from datetime import UTC, datetime

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
)

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
        findings.append(CartonFinding(one, state, "read"))
    return Reconciliation(shipment.shipment, shipment.store, tuple(findings))
