"""The one replacement request of a store: drafted from all its open shipments, issued, revised, and received."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

from receiving.closing import (
    replacement_csv,
    replacement_json,
    replacement_manifest,
    replacement_request,
    request_changes,
)
from receiving.closing import replacement_pdf as print_request
from receiving.errors import NotFound, StoreError
from receiving.matching import replacement_lines
from receiving.model.replacement import Delivery, ReplacementLine, ReplacementRequest
from receiving.service.contents import parts_of
from receiving.service.desk import Desk
from receiving.service.intake import store_manifests
from receiving.service.issued import issued_requests
from receiving.service.standing import Standing, standing
from receiving.store import DocumentKind, RevisionOrigin, Store

RECENT_DAYS = 30
"""A shipment whose visit is longer ago is not asked for again."""


@dataclass(frozen=True)
class RequestDraft:
    """What a store lacks now. ``previous`` is the request that issuing this one would revise, where there is one.

    ``changes`` says in words what the revision would change; ``shipments`` are those that were looked at.
    """

    store: str
    lines: tuple[ReplacementLine, ...]
    shipments: tuple[str, ...]
    previous: ReplacementRequest | None
    changes: tuple[str, ...]

    @property
    def separate(self) -> int:
        """How many separate requests (a delivery charge each) the one request replaces."""
        return len({(line.shipment, line.section) for line in self.lines})


def draft_request(desk: Desk, store_id: str) -> RequestDraft:
    """Everything that the store lacks, over all its brands, sections and open shipments."""
    with desk.store() as store:
        return _draft(desk, store, store_id)


def issue_request(desk: Desk, store_id: str, delivery: Delivery, *, by: str) -> ReplacementRequest:
    """Number and store the request; unchanged content gives the one issued before, other content its next revision.

    What it should bring becomes a shipment of its own, to be received like any other. Raises BadRequest when there is
    nothing to ask for or no one to send it to.
    """
    with desk.transaction() as store:
        draft = _draft(desk, store, store_id)
        request = replacement_request(
            store_id,
            draft.lines,
            delivery,
            number=max((each.number for each in issued_requests(store, store_id)), default=0) + 1,
            requested_at=desk.now(),
            requested_by=by,
            previous=draft.previous,
        )
        if request != draft.previous:
            _keep(desk, store, request)
    return request


def requests(desk: Desk, store_id: str) -> tuple[ReplacementRequest, ...]:
    """The store's requests, oldest first, each in its newest revision."""
    with desk.store() as store:
        return issued_requests(store, store_id)


def request(desk: Desk, store_id: str, number: int) -> ReplacementRequest:
    """One request of the store in its newest revision. Raises NotFound."""
    found = next((r for r in requests(desk, store_id) if r.number == number), None)
    if found is None:
        raise NotFound(
            f"Store {store_id!r} has no replacement request {number}.", next_step="Choose one from the store's list."
        )
    return found


def request_pdf(desk: Desk, store_id: str, number: int, *, paper: str = "A4") -> bytes:
    """One request on paper, to leave with the store. Raises NotFound."""
    return print_request(request(desk, store_id, number), paper=paper)


def request_csv(desk: Desk, store_id: str, number: int) -> str:
    """One request as CSV. Raises NotFound."""
    return replacement_csv(request(desk, store_id, number))


def request_json(desk: Desk, store_id: str, number: int) -> str:
    """One request as JSON. Raises NotFound."""
    return replacement_json(request(desk, store_id, number))


def _draft(desk: Desk, store: Store, store_id: str) -> RequestDraft:
    issued = issued_requests(store, store_id)
    of_requests = {request.reference for request in issued}
    found = tuple(_standings(desk, store, store_id))
    own = [s for s in found if s.record.shipment not in of_requests and _recent(desk, s)]
    parts = parts_of(store)
    lacking = [line for s in own for line in replacement_lines(s.manifest, s.reconciliation, s.notes, parts)]
    lines = tuple(_not_yet_sent(lacking, [s for s in found if s.record.shipment in of_requests]))
    previous = issued[-1] if issued and not store.receipts(issued[-1].reference) else None
    return RequestDraft(
        store_id,
        lines,
        tuple(s.record.shipment for s in own),
        previous,
        _changes(store_id, lines, previous),
    )


def _changes(store_id: str, lines: tuple[ReplacementLine, ...], previous: ReplacementRequest | None) -> tuple[str, ...]:
    if previous is None:
        return ()
    revised = replacement_request(
        store_id,
        lines,
        previous.delivery,
        number=previous.number,
        requested_at=previous.requested_at,
        requested_by=previous.requested_by,
        previous=previous,
    )
    return request_changes(previous, revised)


def _standings(desk: Desk, store: Store, store_id: str) -> Iterator[Standing]:
    for record in store.shipments():
        if record.store != store_id:
            continue
        try:
            yield standing(desk, store, record)
        except StoreError as fault:
            store.set_aside("shipments", record.shipment, record.shipment, fault)


def _recent(desk: Desk, found: Standing) -> bool:
    visit = found.record.dispatch_date
    return visit is None or visit >= desk.now().date() - timedelta(days=RECENT_DAYS)


def _not_yet_sent(lacking: Iterable[ReplacementLine], sent: Iterable[Standing]) -> Iterator[ReplacementLine]:
    """The lines without what earlier requests have brought already."""
    here: Counter[tuple[object, ...]] = Counter()
    for found in sent:
        for finding in found.reconciliation.received:
            for content in finding.carton.contents:
                here[(content.section, content.address, content.item, content.description)] += content.qty or 1
    for line in lacking:
        key = (line.section, line.address, line.item, line.description)
        brought = min(here[key], line.qty)
        here[key] -= brought
        if brought < line.qty:
            yield replace(line, qty=line.qty - brought)


def _keep(desk: Desk, store: Store, request: ReplacementRequest) -> None:
    store.add_document(
        DocumentKind.REQUEST,
        request.store,
        replacement_json(request),
        file_name=request.reference,
        added_at=desk.now(),
    )
    store_manifests(
        desk,
        store,
        [replacement_manifest(request)],
        source=request.reference,
        origin=RevisionOrigin.REQUEST,
        by=request.requested_by,
    )
