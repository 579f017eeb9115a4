"""The staging plan as a person uses it: on paper, and changed by hand."""

from typing import Any

from receiving import closing
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import ChangeCost, StagingChanged
from receiving.service.context import Context
from receiving.service.notes import checked_note
from receiving.service.settings import settings_of
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


def wait_for_plan(ctx: Context, shipment: str) -> None:
    """Wait until the staging plan of what is stored now is made. Raises NotFound, WorkStopped."""
    with ctx.store() as store:
        inputs = snapshot(ctx, store, store.shipment(shipment)).plan_inputs
    ctx.planner.wait(inputs)


def work_out_change_cost(ctx: Context, shipment: str, *, by: str, **fields: Any) -> ChangeCost:
    """What moving a carton to another trip or bay would cost; stores nothing. Raises BadRequest, NotFound."""
    with ctx.store() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
    change = checked_note(ctx, found, "staging_changed", fields, by=by)
    if not isinstance(change, StagingChanged):
        raise BadRequest(message("This is not a change of the plan."), next_step=message("Choose a trip or a bay."))
    return ctx.planner.change_cost(found.plan_inputs, change)
