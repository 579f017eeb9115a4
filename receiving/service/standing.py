"""Where a shipment stands now: recomputed from manifest, reads and notes, and kept until one of them changes."""

from dataclasses import dataclass, replace
from functools import cached_property

from receiving import dispatch
from receiving.matching import reconcile, standing_notes
from receiving.model import (
    Carton,
    CartonState,
    LabelRead,
    Layout,
    Manifest,
    Note,
    Reconciliation,
    StagingPlan,
    Unreadable,
    VisitDecided,
)
from receiving.reading import interpret
from receiving.service.desk import Desk
from receiving.service.issued import requested_cartons
from receiving.service.masterdata import layout_of, patterns_of
from receiving.staging import destination, plan_staging
from receiving.store import PhotoRecord, RevisionRecord, ShipmentRecord, Store


@dataclass(frozen=True)
class Standing:
    """One shipment, worked out."""

    record: ShipmentRecord
    revision: RevisionRecord
    layout: Layout | None
    reads: tuple[LabelRead, ...]
    notes: tuple[Note, ...]
    photos: tuple[PhotoRecord, ...]
    reconciliation: Reconciliation
    version: str

    @property
    def manifest(self) -> Manifest:
        """The current manifest."""
        return self.revision.manifest

    @cached_property
    def plan(self) -> StagingPlan:
        """The staging plan, worked out when it is first looked at: a scan's answer and a list do not wait for it."""
        return plan_staging(self.manifest, self.reconciliation, self.layout, self.notes)

    def bay_of(self, carton: Carton) -> str:
        """The bay that this carton goes to, empty where none is known."""
        if "plan" in vars(self):
            return next((bay.bay for bay in self.plan.bays if carton.carton in bay.cartons), "")
        bay = destination(carton, self.layout, self.manifest.inside(carton.carton)).bay if self.layout else None
        return bay.bay if bay else ""


def version_of(store: Store, record: ShipmentRecord) -> str:
    """Text that changes whenever anything is stored that this shipment's page may show."""
    documents, revisions = store.stamp()
    return f"{record.version}.{documents}.{revisions}"


def standing(desk: Desk, store: Store, record: ShipmentRecord) -> Standing:
    """Where the shipment stands; worked out again only when something was stored since."""
    version = version_of(store, record)
    kept: Standing | None = desk.standings.get(record.shipment, version)
    if kept is None:
        kept = _work_out(store, record, version)
        desk.standings.put(record.shipment, version, kept)
    return kept


def _work_out(store: Store, record: ShipmentRecord, version: str) -> Standing:
    revision = store.revision(record.shipment)
    patterns = patterns_of(store)
    reads = tuple(interpret(raw, patterns) for raw in store.reads(record.shipment))
    notes, photos, layout = store.notes(record.shipment), store.photos(record.shipment), layout_of(store, record.store)
    reconciliation = reconcile(
        revision.manifest, reads, notes, others=_others(store, revision.manifest, reads), unread=_unread(photos)
    )
    return Standing(record, revision, layout, reads, notes, photos, reconciliation, version)


def _others(store: Store, manifest: Manifest, reads: tuple[LabelRead, ...]) -> tuple[Manifest, ...]:
    """The manifests of other shipments that carry a code which was read here."""
    codes = {str(read.claim.sscc) for read in reads if read.claim.sscc} | {r.claim.barcode for r in reads}
    own = {str(carton.sscc) for carton in manifest if carton.sscc} | {carton.barcode for carton in manifest}
    found = store.shipments_with_codes(codes - own - {""})
    return tuple(store.revision(shipment).manifest for shipment in found if shipment != manifest.shipment)


def _unread(photos: tuple[PhotoRecord, ...]) -> tuple[Unreadable, ...]:
    return tuple(
        Unreadable(photo.photo, region.quad_px, region.advice)
        for photo in photos
        if photo.reading
        for region in photo.reading.unread
    )


def list_row(desk: Desk, store: Store, record: ShipmentRecord) -> dispatch.ShipmentRow:
    """The shipment as one row of a list, kept for longer than all that it was worked out from."""
    version = version_of(store, record)
    kept: dispatch.ShipmentRow | None = desk.rows.get(record.shipment, version)
    if kept is None:
        kept = row(store, standing(desk, store, record))
        desk.rows.put(record.shipment, version, kept)
    return kept


def row(store: Store, found: Standing) -> dispatch.ShipmentRow:
    """The shipment as one row of a list, with what is done about its missing cartons."""
    record, notes = found.record, standing_notes(found.notes)
    visit = next((note for note in reversed(notes) if isinstance(note, VisitDecided)), None)
    short = found.reconciliation.in_state(CartonState.SHORT)
    bare = dispatch.shipment_row(
        found.reconciliation,
        dispatch_date=record.dispatch_date,
        revision=record.revision,
        last_read_at=record.last_read_at,
        confirmed=bool(store.receipts(record.shipment)),
        visit=visit,
    )
    followed = dispatch.missing_cartons(
        found.reconciliation,
        notes,
        visit_date=bare.visit_date,
        requested=requested_cartons(store, record.store, record.shipment) if short else {},
    )
    return replace(bare, followed=followed)
