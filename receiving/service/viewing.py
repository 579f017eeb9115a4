"""What a person looks at: the list of shipments, one shipment, the coordinator's overview."""

from dataclasses import dataclass
from datetime import date

from receiving import dispatch
from receiving.dispatch import DispatchRow, ShipmentRow
from receiving.matching import with_owners
from receiving.model import LabelRead, Layout, Manifest, Note, Receipt, Reconciliation, StagingPlan
from receiving.service.desk import Desk
from receiving.service.seeing import PhotoRow, photo_row
from receiving.service.standing import Standing, list_row, row, standing, version_of
from receiving.sheets import csv_text
from receiving.store import RevisionRecord, Store

_COLUMNS = (
    "shipment",
    "store",
    "dispatch_date",
    "days_to_visit",
    "expected",
    "here",
    "inside",
    "missing",
    "settled",
    "extra",
    "questions",
    "damaged",
    "last_read_at",
    "confirmed",
    "held",
    "advice",
)


@dataclass(frozen=True)
class ShipmentView:
    """All of one shipment, as of ``version``; ``revisions`` oldest first, each with what it changed in words."""

    manifest: Manifest
    revision: int
    revisions: tuple[RevisionRecord, ...]
    layout: Layout | None
    reconciliation: Reconciliation
    plan: StagingPlan
    reads: tuple[LabelRead, ...]
    notes: tuple[Note, ...]
    photos: tuple[PhotoRow, ...]
    receipts: tuple[Receipt, ...]
    row: ShipmentRow
    version: str


def shipments(desk: Desk) -> tuple[ShipmentRow, ...]:
    """Every shipment with its counts, nearest visit first."""
    with desk.store() as store:
        return tuple(list_row(desk, store, record) for record in store.shipments())


def shipment(desk: Desk, shipment_id: str) -> ShipmentView:
    """One shipment in full. Raises NotFound."""
    with desk.store() as store:
        found = standing(desk, store, store.shipment(shipment_id))
        return ShipmentView(
            manifest=found.manifest,
            revision=found.revision.revision,
            revisions=store.revisions(shipment_id),
            layout=found.layout,
            reconciliation=_with_owners(desk, store, found),
            plan=found.plan,
            reads=found.reads,
            notes=found.notes,
            photos=tuple(photo_row(record) for record in found.photos),
            receipts=store.receipts(shipment_id),
            row=row(store, found),
            version=found.version,
        )


def _with_owners(desk: Desk, store: Store, found: Standing) -> Reconciliation:
    """The reconciliation whose strays say whether their own shipment is short of them."""
    owners = {over.shipment for over in found.reconciliation.over if over.shipment}
    others = (standing(desk, store, store.shipment(owner)).reconciliation for owner in sorted(owners))
    return with_owners(found.reconciliation, others)


def version(desk: Desk, shipment_id: str) -> str:
    """Text that changes with everything that the shipment's page may show; cheap to ask for. Raises NotFound."""
    with desk.store() as store:
        return version_of(store, store.shipment(shipment_id))


def overview(desk: Desk, today: date) -> tuple[DispatchRow, ...]:
    """Every shipment with what the coordinator should do about it, the most pressing first."""
    return dispatch.for_today(shipments(desk), today)


def decide(view: ShipmentView, today: date) -> DispatchRow:
    """One shipment with what the coordinator should do about it."""
    return dispatch.for_today([view.row], today)[0]


def overview_csv(desk: Desk, today: date) -> str:
    """The overview as CSV with a header row."""
    return csv_text(_COLUMNS, map(_cells, overview(desk, today)))


def _cells(decided: DispatchRow) -> tuple[object, ...]:
    row = decided.row
    return (
        row.shipment,
        row.store,
        row.dispatch_date.isoformat() if row.dispatch_date else "",
        "" if decided.days_to_visit is None else decided.days_to_visit,
        row.expected,
        row.here,
        row.inside,
        row.missing,
        sum(each.settled for each in row.followed),
        row.extra,
        row.questions,
        row.damaged,
        row.last_read_at.isoformat() if row.last_read_at else "",
        "yes" if row.confirmed else "no",
        "yes" if row.held else "no",
        decided.advice,
    )
