"""One shipment's result as a file to take away: what came, what is missing, what does not belong; CSV, XLSX, JSON."""

import json
from collections.abc import Iterator

from receiving.model import CartonFinding, Over
from receiving.service.as_json import Plain, reconciliation_as_json
from receiving.service.context import Context
from receiving.service.queries import ShipmentView, shipment
from receiving.service.staging import wait_for_plan
from receiving.sheets import csv_text, workbook
from receiving.wording import finding_words, term, whose_words, words_of

RESULT_COLUMNS = (
    *("shipment", "store", "carton", "kind", "state", "how", "sscc", "code", "places", "open_first", "bay", "seen_at"),
    *("damage", "why"),
)
"""One row for each carton of the manifest, then one for each label that belongs to none of them (state ``over``), and
one for each text that was typed or scanned and says nothing (``not_understood``)."""


def result_csv(ctx: Context, shipment_id: str) -> str:
    """The result as CSV. Raises NotFound."""
    return csv_text(RESULT_COLUMNS, _rows(_view(ctx, shipment_id)))


def result_xlsx(ctx: Context, shipment_id: str) -> bytes:
    """The result as a workbook: its counts, then the rows of the CSV; every id is text. Raises NotFound."""
    view = _view(ctx, shipment_id)
    return workbook({"Counts": (("what", "number"), _counts(view)), "Cartons": (RESULT_COLUMNS, _rows(view))})


def result_json(ctx: Context, shipment_id: str) -> str:
    """The result as one JSON object: that of ``receiving reconcile --json``, and ``to_check``. Raises NotFound."""
    view = _view(ctx, shipment_id)
    names = {photo.photo: photo.name for photo in view.photos}
    plain: Plain = reconciliation_as_json(view.reconciliation, view.plan, view.manifest, names)
    return json.dumps({**plain, "to_check": view.to_check.count}, ensure_ascii=False) + "\n"


def _view(ctx: Context, shipment_id: str) -> ShipmentView:
    """The shipment with its whole plan, which a file that is taken away cannot wait for later."""
    wait_for_plan(ctx, shipment_id)
    return shipment(ctx, shipment_id)


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
