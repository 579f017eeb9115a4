"""The list of stores: zone, public holidays, lead days and name of many stores at once; a layout says it better."""

from receiving.expected import read_stores, write_stores_csv
from receiving.model import StoreDetails
from receiving.service.context import Context
from receiving.service.documents import TextDocument, name_layout, value_in
from receiving.store import DocumentKind, Store
from receiving.store.records import from_text, to_text


def import_stores(ctx: Context, name: str, data: bytes) -> int:
    """Keep what a list says of its stores, all or none; gives of how many it says something new. Raises FileFaults.

    Stores that the list does not name stay as they are; a row without anything takes back what was said before.
    """
    listed = read_stores(name, data)
    changed = 0
    with ctx.transaction() as store:
        for details in listed:
            if details != (details_of(store, details.store) or StoreDetails(details.store)):
                body = to_text(details)
                store.add_document(DocumentKind.STORE, details.store, body, file_name=name, added_at=ctx.now())
                changed += 1
    return changed


def _details_of_store(store_id: str) -> TextDocument[StoreDetails | None]:
    def read(_: str, data: bytes) -> StoreDetails:
        return from_text(data.decode(), StoreDetails)

    return TextDocument(DocumentKind.STORE, read, lambda: None, key=store_id)


def details_of(store: Store, store_id: str) -> StoreDetails | None:
    """What the list of stores says about this one, where it says anything."""
    return value_in(store, _details_of_store(store_id))


def make_stores_csv(ctx: Context) -> str:
    """Every store that a shipment goes to, with what is known of it, as the list that can be filled in and taken back.

    What its layout says stands there too; where both say something the layout counts.
    """
    with ctx.store() as store:
        known = sorted({record.store for record in store.shipments()})
        return write_stores_csv(_known(store, each) for each in known)


def _known(store: Store, store_id: str) -> StoreDetails:
    listed = details_of(store, store_id) or StoreDetails(store_id)
    layout = value_in(store, name_layout(store_id))
    if layout is None:
        return listed
    where = layout if layout.country else listed
    return StoreDetails(
        store_id,
        layout.name or listed.name,
        layout.time_zone or listed.time_zone,
        where.country,
        where.region,
        layout.lead_days or listed.lead_days,
        layout.order_cut_off or listed.order_cut_off,
    )
