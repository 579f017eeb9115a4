"""The replacement requests that were issued for a store."""

from receiving.closing import replacement_from_json
from receiving.errors import ReceivingError
from receiving.model.replacement import ReplacementRequest
from receiving.store import DocumentKind, Store


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
