"""One shipment's result, or one photo's, to take away: a file (CSV, XLSX, JSON) and the plain values of commands.

The staging plan, too: on paper, and what a change of it by hand costs.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from receiving import closing
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import (
    Address,
    CartonFinding,
    ChangeCost,
    LabelRead,
    Manifest,
    OtherShipment,
    Over,
    PhotoReading,
    Reconciliation,
    StagingChanged,
    StagingPlan,
    Symbol,
    UnreadRegion,
)
from receiving.service.context import Context
from receiving.service.notes import checked_note
from receiving.service.printing import settings_of
from receiving.service.queries import ShipmentView, get_shipment
from receiving.service.snapshot import snapshot
from receiving.sheets import csv_text, workbook
from receiving.wording import finding_words, term, whose_words, words_of

# One photo, one shipment as plain values: what the commands and the export write as JSON.


Plain = dict[str, Any]


def reading_as_json(
    photo: str, reading: PhotoReading, claims: tuple[LabelRead, ...], cartons: Mapping[str, tuple[str, str]]
) -> Plain:
    """One photo: its symbols, each with what it claims, and the regions that need a closer look.

    ``cartons`` gives the shipment and carton of a read by its id, where a manifest knows it.
    """
    return {
        "photo": photo,
        "ms": round(reading.ms, 1),
        "width_px": reading.width_px,
        "height_px": reading.height_px,
        "symbols": [
            _symbol(s, read, cartons.get(read.read_id, ("", "")))
            for s, read in zip(reading.symbols, claims, strict=True)
        ],
        "unread": [_unread(region) for region in reading.unread],
        "advice": reading.advice,
        "refused": list(reading.refused),
    }


def _symbol(symbol: Symbol, read: LabelRead, known: tuple[str, str]) -> Plain:
    claim = read.claim
    shipment, carton = known
    return {
        "raw": symbol.raw,
        "symbology": symbol.symbology,
        "sscc": str(claim.sscc) if claim.sscc else None,
        "address": _address(claim.address) if claim.address else None,
        "quad_px": [list(corner) for corner in symbol.quad_px],
        "reader": symbol.reader,
        "guided": symbol.guided,
        "confidence": round(symbol.confidence, 4),
        "label": symbol.label,
        "alternatives": list(symbol.alternatives),
        "carton": carton or claim.carton or None,
        "shipment": shipment or None,
        "open_first": claim.open_first,
        "warnings": list(map(str, claim.warnings)),
    }


def _unread(region: UnreadRegion) -> Plain:
    return {"quad_px": [list(corner) for corner in region.quad_px], "advice": region.advice}


def _address(address: Address) -> Plain:
    return {"section": address.section or None, "column": address.column, "row": address.row}


def reconciliation_as_json(
    found: Reconciliation, plan: StagingPlan, manifest: Manifest, names: dict[str, str]
) -> Plain:
    """One shipment's state and plan; ``names`` gives the file name of a photo by its SHA-256."""
    return {
        "shipment": found.shipment,
        "store": found.store,
        "expected": found.expected,
        "received": [_received(finding) for finding in found.received],
        "short": [_short(finding) for finding in found.short],
        "over": [
            {"raw": o.raw, "why": o.why.value, "belongs_to": str(whose_words(o)) or None, "evidence": list(o.read_ids)}
            for o in found.over
        ],
        "duplicates": [
            {"carton": d.carton, "raw": d.raw, "why": str(words_of(d.why)), "evidence": list(d.read_ids)}
            for d in found.duplicates
        ],
        "questions": [
            {
                "prompt": str(words_of(q.why)),
                "cartons": list(q.cartons),
                "again": list(q.again),
                "evidence": list(q.read_ids),
            }
            for q in found.questions
        ],
        "not_understood": [
            {"raw": u.raw, "why": str(words_of(u.why)), "evidence": list(u.read_ids)} for u in found.unclear
        ],
        "looks_like": _looks_like(found.looks_like),
        "unreadable": [
            {"photo": names.get(u.photo, u.photo), "quad_px": [list(c) for c in u.quad_px], "advice": u.advice}
            for u in found.unreadable
        ],
        "reads": [
            {"read": e.read_id, "outcome": e.outcome.value, "carton": e.carton or None, "why": str(words_of(e.why))}
            for e in found.explanations
        ],
        "open_first": [{"carton": o.carton, "found": o.found} for o in plan.open_first],
        "staging": staging_as_json(plan),
    }


def _looks_like(other: OtherShipment | None) -> Plain | None:
    if other is None:
        return None
    return {
        "shipment": other.shipment,
        "store": other.store,
        "log_odds": round(other.log_odds, 2),
        "labels": other.labels,
        "own_labels": other.own,
    }


def _received(finding: CartonFinding) -> Plain:
    first = finding.carton.addresses[:1]
    return {
        "carton": finding.carton.carton,
        "sscc": str(finding.carton.sscc) if finding.carton.sscc else None,
        "column": first[0].column if first else None,
        "row": first[0].row if first else None,
        "how": finding.how.value if finding.how else None,
        "evidence": list(finding.evidence),
        "why": str(finding_words(finding)),
        "confidence": round(finding.confidence, 4),
    }


def _short(finding: CartonFinding) -> Plain:
    return {
        "carton": finding.carton.carton,
        "sscc": str(finding.carton.sscc) if finding.carton.sscc else None,
        "kind": finding.carton.kind.value,
        "state": finding.state.value,
        "why": str(finding_words(finding)),
        "addresses": [_address(address) for address in finding.carton.addresses],
    }


def staging_as_json(plan: StagingPlan) -> Plain:
    """The plan: trips, bays, how good it is, cautions, and what stays in the back room."""
    return {
        "trips": [
            {
                "trip": t.trip,
                "cartons": list(t.cartons),
                "load_kg": round(t.load_kg, 2),
                "wave": t.wave,
                "stops": list(t.stops),
                "lifted_off": list(t.lifted_off),
            }
            for t in plan.trips
        ],
        "bays": [
            {
                "bay": b.bay,
                "cartons": list(b.cartons),
                "wave": b.wave,
                "dug_out": list(b.dug_out),
                "restacked": list(b.restacked),
            }
            for b in plan.bays
        ],
        "bound": {
            "trips": plan.bound.planned,
            "trips_at_least": plan.bound.at_least,
            "stops": plan.stop_bound.planned,
            "stops_at_least": plan.stop_bound.at_least,
            "search_s": plan.search_s,
        },
        "cautions": [{"carton": c.carton or None, "text": str(c.text)} for c in plan.cautions],
        "held": [{"carton": h.carton, "why": str(h.why)} for h in plan.held],
    }


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
