"""The one replacement request of a store: drafted from all its open shipments, issued, revised, received, looked up."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta

from receiving import closing
from receiving.closing import (
    replacement_csv,
    replacement_from_json,
    replacement_json,
    replacement_manifest,
    replacement_request,
    request_changes,
)
from receiving.errors import Conflict, NotFound, ReceivingError, StoreError
from receiving.matching import IssuedRequest, notes_in_force, propose_request, replacement_lines
from receiving.messages import ENGLISH, Speaker, Text, message
from receiving.model import ShortageFollowed
from receiving.model.replacement import Delivery, LeftOut, LeftOutReason, ReplacementLine, ReplacementRequest
from receiving.service.context import Context
from receiving.service.counting import parts_of
from receiving.service.intake import store_manifests
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.service.stores import get_store_now
from receiving.store import DocumentKind, RevisionOrigin, Store

# The replacement requests that were issued for a store.


def issued_requests(store: Store, store_id: str) -> tuple[ReplacementRequest, ...]:
    """The store's requests, oldest first, each in its newest revision."""
    newest: dict[int, ReplacementRequest] = {}
    for document in store.documents(DocumentKind.REQUEST, store_id):
        try:
            issued = replacement_from_json(document.body)
        except ReceivingError as fault:
            store.set_aside("documents", "", str(document.seq), fault)
            continue
        newest[issued.number] = issued
    return tuple(newest[number] for number in sorted(newest))


RECENT_DAYS = 30
"""A shipment whose visit is longer ago is not asked for again."""


@dataclass(frozen=True)
class Withdrawal:
    """An open request and those of its lines that nobody lacks any more, in words."""

    request: ReplacementRequest
    changes: tuple[Text, ...]


@dataclass(frozen=True)
class RequestDraft:
    """What a store lacks now: ``lines`` to ask for, and what is ``left_out`` because it is settled or asked for.

    ``previous`` is the newest request while it is open: more can be added to it as long as it was not sent.
    ``withdrawals`` are what open requests ask for in vain; ``shipments`` are those that were looked at; ``issued`` are
    the store's requests, oldest first.
    """

    store: str
    lines: tuple[ReplacementLine, ...]
    left_out: tuple[LeftOut, ...]
    shipments: tuple[str, ...]
    previous: ReplacementRequest | None
    withdrawals: tuple[Withdrawal, ...]
    issued: tuple[ReplacementRequest, ...]

    @property
    def separate(self) -> int:
        """How many separate requests (a delivery charge each) the one request replaces."""
        return len({(line.shipment, line.section) for line in self.lines})


@dataclass(frozen=True)
class RequestChoice:
    """What the coordinator asks for: the keys of the lines, and the reason for each that is left out, where given.

    ``revise``: the lines are added to the newest open request, instead of a request of their own.
    """

    asked: frozenset[str]
    reasons: Mapping[str, str]
    revise: bool = False


def draft_request(ctx: Context, store_id: str) -> RequestDraft:
    """Everything that the store lacks, over all its brands, sections and open shipments."""
    with ctx.moment() as store:
        return _draft(ctx, store, store_id).draft


def issue_request(
    ctx: Context, store_id: str, delivery: Delivery, *, by: str, choice: RequestChoice | None = None
) -> ReplacementRequest:
    """Number and store a request for what is lacking and not asked for yet; all of it without a ``choice``.

    Where nothing new is asked for, the newest open request stays, or becomes its next revision with another delivery
    and without what nobody lacks any more. What it should bring becomes a shipment of its own, to be received like any
    other. Raises BadRequest when there is nothing to ask for or no one to send it to, and Conflict when a chosen line
    is not as it was shown.
    """
    texts = {"deliver_to": delivery.deliver_to, "contact": delivery.contact, "phone": delivery.phone}
    refuse_hidden_characters({**texts, "remarks": delivery.remarks, "by": by})
    with ctx.transaction() as store:
        found = _draft(ctx, store, store_id)
        lines, left_out = _chosen(found.draft, choice)
        previous = found.draft.previous
        revised = previous if previous and (not lines or (choice is not None and choice.revise)) else None
        request = replacement_request(
            store_id,
            (*found.needed.get(revised.number, ()), *lines) if revised else lines,
            delivery,
            number=max((each.number for each in issued_requests(store, store_id)), default=0) + 1,
            requested_at=ctx.now(),
            requested_by=by,
            previous=revised,
            left_out=left_out,
        )
        if request != revised:
            _keep(ctx, store, request)
    return request


def withdraw_lines(ctx: Context, store_id: str, number: int, *, by: str) -> ReplacementRequest:
    """Revise an open request: without what nobody lacks any more. Raises NotFound, Conflict where there is nothing."""
    with ctx.transaction() as store:
        found = _draft(ctx, store, store_id)
        previous = next((each.request for each in found.draft.withdrawals if each.request.number == number), None)
        if previous is None:
            raise Conflict(
                message(
                    "Request {number} of store {store_id} asks for nothing that is here already.",
                    number=number,
                    store_id=repr(store_id),
                ),
                next_step=message("Look at what the store lacks now."),
            )
        request = _without_the_needless(ctx, previous, found.needed[number], by)
        _keep(ctx, store, request)
    return request


def _without_the_needless(
    ctx: Context, previous: ReplacementRequest, needed: tuple[ReplacementLine, ...], by: str
) -> ReplacementRequest:
    return replacement_request(
        previous.store,
        needed,
        previous.delivery,
        number=previous.number,
        requested_at=ctx.now(),
        requested_by=by,
        previous=previous,
    )


def _chosen(
    draft: RequestDraft, choice: RequestChoice | None
) -> tuple[tuple[ReplacementLine, ...], tuple[LeftOut, ...]]:
    """The lines to ask for, and all others with the reason."""
    if choice is None:
        return draft.lines, draft.left_out
    offered = {line.key: line for line in (*draft.lines, *(each.line for each in draft.left_out))}
    if strange := choice.asked - set(offered):
        raise Conflict(
            message(
                "What store {store} lacks has changed since it was shown ({number} of the chosen lines).",
                store=draft.store,
                number=len(strange),
            ),
            next_step=message("Look at the lines again, then issue the request."),
        )
    asked = tuple(line for key, line in offered.items() if key in choice.asked)
    not_asked = tuple(
        LeftOut(line, LeftOutReason.CHOSEN, choice.reasons.get(line.key, "").strip())
        for line in draft.lines
        if line.key not in choice.asked
    )
    resolved = tuple(each for each in draft.left_out if each.line.key not in choice.asked)
    return asked, (*not_asked, *resolved)


def list_requests(ctx: Context, store_id: str) -> tuple[ReplacementRequest, ...]:
    """The store's requests, oldest first, each in its newest revision."""
    with ctx.store() as store:
        return issued_requests(store, store_id)


def get_request(ctx: Context, store_id: str, number: int) -> ReplacementRequest:
    """One request of the store in its newest revision. Raises NotFound."""
    found = next((r for r in list_requests(ctx, store_id) if r.number == number), None)
    if found is None:
        raise NotFound(
            message("Store {store_id} has no replacement request {number}.", store_id=repr(store_id), number=number),
            next_step=message("Choose one from the store's list."),
        )
    return found


def make_request_pdf(
    ctx: Context, store_id: str, number: int, *, paper: str = "A4", speaker: Speaker = ENGLISH
) -> bytes:
    """One request on paper, to leave with the store. Raises NotFound."""
    zone = get_store_now(ctx, store_id).tzinfo
    return closing.replacement_pdf(get_request(ctx, store_id, number), paper=paper, zone=zone, speaker=speaker)


def make_request_csv(ctx: Context, store_id: str, number: int) -> str:
    """One request as CSV. Raises NotFound."""
    return replacement_csv(get_request(ctx, store_id, number))


def make_request_json(ctx: Context, store_id: str, number: int) -> str:
    """One request as JSON. Raises NotFound."""
    return replacement_json(get_request(ctx, store_id, number))


@dataclass(frozen=True)
class _Drafted:
    """A draft, and what each open request (by number) must still bring."""

    draft: RequestDraft
    needed: Mapping[int, tuple[ReplacementLine, ...]]


def _draft(ctx: Context, store: Store, store_id: str) -> _Drafted:
    issued = issued_requests(store, store_id)
    of_requests = {request.reference for request in issued}
    found = {each.record.shipment: each for each in _standings(ctx, store, store_id)}
    own = [each for name, each in found.items() if name not in of_requests and _recent(ctx, each)]
    parts = parts_of(store)
    lacking = [line for s in own for line in replacement_lines(s.manifest, s.reconciliation, s.notes, parts)]
    requests = [_as_issued(store, request, found.get(request.reference)) for request in issued]
    to_ask = propose_request(lacking, requests, _followed(own))
    previous = issued[-1] if issued and requests[-1].open else None
    draft = RequestDraft(
        store_id,
        to_ask.lines,
        to_ask.left_out,
        tuple(s.record.shipment for s in own),
        previous,
        _withdrawals(ctx, requests, to_ask.needed),
        tuple(issued),
    )
    return _Drafted(draft, to_ask.needed)


def _as_issued(store: Store, request: ReplacementRequest, found: Snapshot | None) -> IssuedRequest:
    """The request with what it has brought; nothing is known of one whose shipment was set aside."""
    here = {finding.carton.carton for finding in found.reconciliation.received} if found else set()
    return IssuedRequest(request, here, open=not store.receipts(request.reference))


def _followed(found: Iterable[Snapshot]) -> dict[tuple[str, str], ShortageFollowed]:
    """The last that was done about each missing carton."""
    return {
        (each.record.shipment, note.carton): note
        for each in found
        for note in notes_in_force(each.notes)
        if isinstance(note, ShortageFollowed)
    }


def _withdrawals(
    ctx: Context, requests: Iterable[IssuedRequest], needed: Mapping[int, tuple[ReplacementLine, ...]]
) -> tuple[Withdrawal, ...]:
    found = []
    for request in (each.request for each in requests if each.open):
        revised = _without_the_needless(ctx, request, needed[request.number], request.requested_by)
        if changes := request_changes(request, revised):
            found.append(Withdrawal(request, changes))
    return tuple(found)


def _standings(ctx: Context, store: Store, store_id: str) -> Iterator[Snapshot]:
    for record in store.shipments():
        if record.store != store_id:
            continue
        try:
            yield snapshot(ctx, store, record)
        except StoreError as fault:
            store.set_aside("shipments", record.shipment, record.shipment, fault)


def _recent(ctx: Context, found: Snapshot) -> bool:
    visit = found.record.dispatch_date
    return visit is None or visit >= ctx.now().date() - timedelta(days=RECENT_DAYS)


def _keep(ctx: Context, store: Store, request: ReplacementRequest) -> None:
    store.add_document(
        DocumentKind.REQUEST,
        request.store,
        replacement_json(request),
        file_name=request.reference,
        added_at=ctx.now(),
    )
    store_manifests(
        ctx,
        store,
        [replacement_manifest(request)],
        source=request.reference,
        origin=RevisionOrigin.REQUEST,
        by=request.requested_by,
    )
