"""What is known of staging without planning carts: what opens first, and to which bay each carton goes by rule."""

from collections.abc import Iterable

from receiving.model import (
    BayStaging,
    Carton,
    Layout,
    Manifest,
    Note,
    OpenFirst,
    Reconciliation,
    StagingPlan,
)
from receiving.staging.destinations import destination, setting_order
from receiving.staging.overrides import overrides_of
from receiving.staging.shipment import Shipment, shipment_of, stay_or_go


def open_first(shipment: Shipment) -> tuple[OpenFirst, ...]:
    """The cartons that are opened before the others, in manifest order, found or not."""
    firsts = [carton for carton in shipment.manifest if carton.open_first]
    found = [shipment.here(carton.carton) for carton in firsts]
    return tuple(
        OpenFirst(carton.carton, here, f"{carton.kind.printed}, {'here' if here else 'not found yet'}")
        for carton, here in zip(firsts, found, strict=True)
    )


def before_planning(
    manifest: Manifest, reconciliation: Reconciliation, layout: Layout | None, notes: Iterable[Note] = ()
) -> StagingPlan:
    """What stands before any cart is planned: open-first order, bays by rule and what was moved there; pure.

    There are no trips and floors yet. The plan may send a carton to a neighbouring bay where its own has no floor.
    """
    shipment = shipment_of(manifest, reconciliation, layout, notes)
    going, held = stay_or_go(shipment)
    return StagingPlan(open_first=open_first(shipment), bays=_bays(shipment, going), held=tuple(held))


def _bays(shipment: Shipment, going: Iterable[Carton]) -> tuple[BayStaging, ...]:
    if shipment.layout is None:
        return ()
    by_bay: dict[str, list[str]] = {}
    for carton in going:
        bay = shipment.goes_to(carton).bay
        if bay is not None:
            by_bay.setdefault(bay.bay, []).append(carton.carton)
    return tuple(
        BayStaging(bay.bay, tuple(ids), moved=tuple(filter(shipment.moved, ids)))
        for bay in setting_order(shipment.layout)
        if (ids := by_bay.get(bay.bay))
    )


def bay_by_rule(carton: Carton, manifest: Manifest, layout: Layout | None, notes: Iterable[Note] = ()) -> str:
    """The bay that this carton goes to by its contents, or as a person said; empty where none is known. Pure."""
    if layout is None:
        return ""
    chosen = overrides_of(notes).bay_of(carton.carton)
    if any(bay.bay == chosen for bay in layout.bays):
        return chosen
    found = destination(carton, layout, manifest.inside(carton.carton)).bay
    return found.bay if found else ""
