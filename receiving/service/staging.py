"""The staging plan as a person uses it: on paper, and changed by hand."""

from dataclasses import dataclass

from receiving import closing
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import ChangeCost, Manifest, StagingChanged, StagingPlan
from receiving.service.context import Context
from receiving.service.house_settings import settings_of
from receiving.service.notes import checked_note
from receiving.service.snapshot import snapshot


def make_plan_pdf(ctx: Context, shipment: str, *, paper: str = "A4", speaker: Speaker = ENGLISH) -> bytes:
    """The staging plan on paper. Raises NotFound."""
    with ctx.store() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
        units = settings_of(store).units
    plan = ctx.planner.wait(found.plan_inputs)
    return closing.plan_pdf(
        plan, found.manifest, found.layout, found.reconciliation, paper=paper, units=units, speaker=speaker
    )


def get_staging_plan(ctx: Context, shipment: str) -> StagingPlan:
    """The staging plan of what is stored now, made where it is not made yet. Raises NotFound, WorkStopped."""
    with ctx.moment() as store:
        inputs = snapshot(ctx, store, store.shipment(shipment)).plan_inputs
    return ctx.planner.wait(inputs)


@dataclass(frozen=True)
class PlanChange:
    """A change of the plan as a person wants it; ``trip`` and ``bay`` are empty where they stay to the plan."""

    manifest: Manifest
    carton: str
    trip: str
    bay: str
    cost: ChangeCost


def work_out_change_cost(
    ctx: Context, shipment: str, carton: str, *, trip: str = "", bay: str = "", by: str
) -> PlanChange:
    """What moving a carton to another trip or bay would cost; stores nothing. Raises BadRequest, NotFound.

    What is chosen as planned stays to the plan, unless nothing else was chosen.
    """
    with ctx.moment() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
    planned = ctx.planner.look(found.plan_inputs).plan
    trips = (str(each.trip) for each in planned.trips if carton in each.cartons)
    bays = (each.bay for each in planned.bays if carton in each.cartons)
    new_trip, new_bay = ("" if trip == next(trips, "") else trip), ("" if bay == next(bays, "") else bay)
    if not (new_trip or new_bay):
        new_trip, new_bay = trip, bay
    fields = {name: value for name, value in (("carton", carton), ("trip", new_trip), ("bay", new_bay)) if value}
    change = checked_note(ctx, found, "staging_changed", fields, by=by)
    if not isinstance(change, StagingChanged):
        raise BadRequest(message("This is not a change of the plan."), next_step=message("Choose a trip or a bay."))
    cost = ctx.planner.change_cost(found.plan_inputs, change)
    return PlanChange(found.manifest, carton, new_trip, new_bay, cost)
