"""A shipment as one row of a list: all facts that dispatch needs, the same whatever day it is."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from receiving import dispatch
from receiving.errors import StoreError
from receiving.matching import blocked_positions, notes_in_force, section_state
from receiving.model import Address, CartonState, Manifest, ShipmentDelivered, ShortageFollowed, VisitDecided
from receiving.model.replacement import ReplacementRequest, RequestReason
from receiving.service.context import Context
from receiving.service.counting import parts_of
from receiving.service.replacing import issued_requests
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stores import StoreDays, details_of, find_zone
from receiving.store import Store


def row(ctx: Context, store: Store, found: Snapshot, *, weighed: bool = True) -> dispatch.ShipmentRow:
    """The shipment as one row of a list, with what is done about its missing cartons.

    Unless it is ``weighed``, it lacks the positions, and how many of them wait for each missing carton.

    It follows from the shipment, the layout, the details and the requests of its store, the shipments of that store
    (what a request brought, and which visit it is for), and the parts list.
    """
    record, notes = found.record, notes_in_force(found.notes)
    requests = issued_requests(store, record.store)
    own = next((request for request in requests if request.reference == record.shipment), None)
    bare = dispatch.shipment_row(
        found.reconciliation,
        planned_visit=record.dispatch_date,
        revision=record.revision,
        last_read_at=record.last_read_at,
        confirmed=bool(store.receipts(record.shipment)),
        visit=_visit(notes),
    )
    details = details_of(store, record.store)
    terms, shipper = dispatch.store_terms(found.layout, details), _shipper(found.manifest)
    bare = replace(
        bare,
        terms=terms,
        store_name=(found.layout.name if found.layout else "") or (details.name if details else ""),
        sections=found.of_manifest.sections,
        shipper=shipper,
        kit=found.of_manifest.kit,
        lane=dispatch.lane_of(found.manifest, shipper, terms),
        to_check=found.to_check.count,
        spares=_spares(found),
        brought=_brought_from_others(found.manifest, notes),
        delivered=_delivered(notes),
    )
    bare = _with_history(bare, found)
    if own is not None:
        bare = _of_a_request(store, bare, own)
    return _with_missing(ctx, store, found, bare, requests, weighed=weighed) if bare.short else bare


def _spares(found: Snapshot) -> tuple[str, ...]:
    """What is in the extra cartons here, as far as the manifest that they belong to says."""
    owners = {other.manifest.shipment: other.manifest for other in found.others}
    whose = ((owners.get(over.shipment), over.carton) for over in found.reconciliation.extra)
    cartons = (manifest.find(carton) for manifest, carton in whose if manifest is not None and carton)
    return tuple(item for carton in cartons if carton is not None and (item := dispatch.carton_item(carton)))


def _brought_from_others(manifest: Manifest, notes: Iterable[object]) -> tuple[tuple[str, str], ...]:
    """What the last word on each carton says is brought from another store, also once it is here."""
    last = {note.carton: note for note in notes if isinstance(note, ShortageFollowed)}
    promised = ((note.spare_of, manifest.find(note.carton)) for note in last.values() if note.spare_of)
    return tuple((shipment, dispatch.carton_item(carton)) for shipment, carton in promised if carton is not None)


def _with_history(bare: dispatch.ShipmentRow, found: Snapshot) -> dispatch.ShipmentRow:
    """The row with the cartons that were missing on the day of the first count, and when each of them was found."""
    at_store, visit = find_zone(bare.terms.time_zone), bare.visit_date
    days = {read.read_id: read.raw.read_at.astimezone(at_store).date() for read in found.reads}
    if not days:
        return bare
    counted = min(days.values())
    bare = replace(bare, counted=counted)
    if visit is None:
        return bare
    seen = (
        min(on for each in finding.evidence if (on := days.get(each, date.max)))
        for finding in found.reconciliation.received
        if any(each in days for each in finding.evidence)
    )
    late = sorted((visit - day).days for day in seen if day > counted)
    never: list[int | None] = [None] * bare.missing
    return replace(bare, waits=tuple(dispatch.Wait((visit - counted).days, day) for day in [*late, *never]))


def _with_missing(
    ctx: Context,
    store: Store,
    found: Snapshot,
    bare: dispatch.ShipmentRow,
    requests: Iterable[ReplacementRequest],
    *,
    weighed: bool,
) -> dispatch.ShipmentRow:
    places, settable, blocked = _blocked(store, found, looked_at=bare.looked_at) if weighed else (0, 0, {})
    requested, replaced = _asked_for(ctx, store, found.record.shipment, requests)
    followed = dispatch.missing_cartons(
        found.reconciliation,
        notes_in_force(found.notes),
        requested=requested,
        replaced=replaced,
        blocked=blocked,
    )
    return replace(bare, followed=followed, positions=places, settable=settable)


def _delivered(notes: Iterable[object]) -> date | None:
    """The day on which the carrier says that it was delivered."""
    return next((note.day for note in reversed(tuple(notes)) if isinstance(note, ShipmentDelivered)), None)


def _shipper(manifest: Manifest) -> str:
    """Who sent it, as far as the manifest's references say."""
    named = dict(manifest.references)
    return named.get("shipper") or named.get("vendor number") or ""


def _visit(notes: Iterable[object]) -> VisitDecided | None:
    return next((note for note in reversed(tuple(notes)) if isinstance(note, VisitDecided)), None)


def _blocked(store: Store, found: Snapshot, *, looked_at: bool) -> tuple[int, int, dict[str, int]]:
    """All positions, how many of them can be set, and how many wait for each missing carton.

    While nobody has looked all positions wait, and nothing is worked out for it.
    """
    missing = [finding.carton for finding in found.reconciliation.in_state(CartonState.SHORT)]
    if not looked_at:
        places: set[Address] = {address for carton in found.manifest for address in carton.addresses}
        return len(places), 0, {carton.carton: len(carton.addresses) for carton in missing}
    parts = parts_of(store)
    state = section_state(found.manifest, found.reconciliation, found.notes, found.layout, parts=parts)
    blocked = blocked_positions(state, found.manifest, found.reconciliation, found.notes, parts)
    return sum(bay.positions for bay in state.bays), len(state.settable), dict(blocked)


def _asked_for(
    ctx: Context, store: Store, shipment: str, requests: Iterable[ReplacementRequest]
) -> tuple[dict[str, str], frozenset[str]]:
    """The missing cartons that a request asks for, each with the newest request; those whose replacement is here."""
    asked: dict[str, str] = {}
    waited_for: dict[str, bool] = {}
    for request in requests:
        wanted = {
            carton: line.carton
            for carton, line in request.cartons
            if line.shipment == shipment and line.reason is RequestReason.CARTON_MISSING and line.carton
        }
        if not wanted:
            continue
        asked.update(dict.fromkeys(wanted.values(), request.reference))
        here = _brought(ctx, store, request.reference)
        for own in set(wanted.values()):
            waited_for[own] = all(carton in here for carton, of in wanted.items() if of == own)
    return asked, frozenset(carton for carton, here in waited_for.items() if here)


def _brought(ctx: Context, store: Store, reference: str) -> set[str]:
    """What came of a request; a shipment of it that cannot be read is set aside, and does not take this row along."""
    try:
        found = snapshot(ctx, store, store.shipment(reference))
    except StoreError as fault:
        store.set_aside("shipments", reference, reference, fault)
        return set()
    return {finding.carton.carton for finding in found.reconciliation.received}


def _of_a_request(store: Store, bare: dispatch.ShipmentRow, request: ReplacementRequest) -> dispatch.ShipmentRow:
    """A replacement shipment: it is for the next visit of those that it serves, and due when it was promised.

    One that goes to another store by now has its visit there: what was sent to this store does not help it.
    """
    served = sorted({line.shipment for line in request.lines})
    visits: list[date] = []
    promised: list[date] = []
    for shipment in (each for each in served if store.shipment(each).store == bare.store):
        notes = notes_in_force(store.notes(shipment))
        asked = {line.carton for line in request.lines if line.shipment == shipment}
        last = {note.carton: note for note in notes if isinstance(note, ShortageFollowed)}
        promised += [note.due for carton, note in last.items() if carton in asked and note.due]
        visits += [day for day in (_day_of_visit(store, shipment, _visit(notes)),) if day]
    due = max(promised, default=None) or request.delivery.needed_by or _usual_arrival(bare, request)
    return replace(bare, planned_visit=min(visits, default=None), replaces=tuple(served), due=due)


def _day_of_visit(store: Store, shipment: str, visit: VisitDecided | None) -> date | None:
    held = visit is not None and not visit.go
    return visit.until if visit and held and visit.until else store.shipment(shipment).dispatch_date


def _usual_arrival(bare: dispatch.ShipmentRow, request: ReplacementRequest) -> date:
    return StoreDays(request.requested_at)(bare.terms).arrival_of_an_order(bare.terms)
