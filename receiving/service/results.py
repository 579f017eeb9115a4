"""One shipment's result, or one photo's, to take away: a file (CSV, XLSX, JSON) and the plain values of commands.

The staging plan, too: on paper, and what a change of it by hand costs.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass

from receiving import closing
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import (
    CartonFinding,
    ChangeCost,
    Manifest,
    Over,
    StagingChanged,
    StagingPlan,
)
from receiving.service.context import Context
from receiving.service.notes import checked_note
from receiving.service.printing import settings_of
from receiving.service.queries import ShipmentView, get_shipment
from receiving.service.snapshot import snapshot
from receiving.sheets import csv_text, workbook
from receiving.wording import finding_words, term, whose_words, words_of
from receiving.wording.plain import Plain, reconciliation_as_json

RESULT_COLUMNS = (
    *("shipment", "store", "carton", "kind", "state", "how", "sscc", "code", "places", "open_first", "bay", "seen_at"),
    *("damage", "why"),
)
"""One row for each carton of the manifest, then one for each label that belongs to none of them (state ``over``), and
one for each text that was typed or scanned and says nothing (``not_understood``)."""


def make_result_csv(ctx: Context, shipment_id: str) -> str:
    """The result as CSV. Raises NotFound."""
    return csv_text(RESULT_COLUMNS, _rows(_view(ctx, shipment_id)))


def make_result_xlsx(ctx: Context, shipment_id: str) -> bytes:
    """The result as a workbook: its counts, then the rows of the CSV; every id is text. Raises NotFound."""
    view = _view(ctx, shipment_id)
    return workbook({"Counts": (("what", "number"), _counts(view)), "Cartons": (RESULT_COLUMNS, _rows(view))})


def make_result_json(ctx: Context, shipment_id: str) -> str:
    """The result as one JSON object: that of ``receiving reconcile --json``, and ``to_check``. Raises NotFound."""
    view = _view(ctx, shipment_id)
    names = {photo.photo: photo.name for photo in view.photos}
    plain: Plain = reconciliation_as_json(view.reconciliation, view.plan, view.manifest, names)
    return json.dumps({**plain, "to_check": view.to_check.count}, ensure_ascii=False) + "\n"


def _view(ctx: Context, shipment_id: str) -> ShipmentView:
    """The shipment with its whole plan, which a file that is taken away cannot wait for later."""
    get_staging_plan(ctx, shipment_id)
    return get_shipment(ctx, shipment_id)


def _counts(view: ShipmentView) -> Iterator[tuple[str, object]]:
    found, row = view.reconciliation, view.row
    yield "shipment", found.shipment
    yield "store", found.store
    yield "visit", view.manifest.dispatch_date
    yield "expected", found.expected
    yield "received", row.here
    yield "inside an unopened outer box", row.inside
    yield "missing", row.missing
    yield "extra", row.extra
    yield "to check", view.to_check.count
    yield "damaged", row.damaged


def _rows(view: ShipmentView) -> Iterator[tuple[object, ...]]:
    bays = {carton: bay.bay for bay in view.plan.bays for carton in bay.cartons}
    head = (view.manifest.shipment, view.manifest.store)
    for finding in view.reconciliation.cartons:
        yield (*head, *_carton(finding, bays.get(finding.carton.carton, "")))
    for over in view.reconciliation.over:
        yield (*head, *_over(over))
    for unclear in view.reconciliation.unclear:
        yield (*head, "", "", "not_understood", "", "", unclear.raw, "", "", "", "", "", str(words_of(unclear.why)))


def _carton(finding: CartonFinding, bay: str) -> tuple[object, ...]:
    carton = finding.carton
    places = "; ".join(map(str, carton.addresses)) or "; ".join(carton.sections)
    damage = "; ".join(f"{note.reason.value}{'' if note.usable else ', not usable'}" for note in finding.damage)
    return (
        *(carton.carton, carton.kind.value, finding.state.value, finding.how.value if finding.how else ""),
        *(str(carton.sscc or ""), carton.plain_code, places, "yes" if carton.open_first else "no", bay),
        *(finding.place.value if finding.place else "", damage, str(finding_words(finding))),
    )


def _over(over: Over) -> tuple[object, ...]:
    why = f"{term(over.why)}{f', {whose_words(over)}' if over.belongs_to else ''}"
    return (over.carton, "", "over", "", str(over.sscc or ""), "" if over.sscc else over.raw, "", "", "", "", "", why)


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
