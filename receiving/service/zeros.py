"""Leading zeros that a spreadsheet took from store and carton numbers, told by what is known already."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from receiving.errors import NotFound, StoreError
from receiving.model import Manifest
from receiving.store import DocumentKind, Store


@dataclass(frozen=True)
class LostZeros:
    """The numbers of a manifest as they were known before: ``store`` empty where it is right, cartons by pairs."""

    shipment: str
    written_store: str
    store: str
    cartons: tuple[tuple[str, str], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.store or self.cartons)

    def restored(self, manifest: Manifest) -> Manifest:
        """The manifest with its zeros."""
        names = dict(self.cartons)
        cartons = tuple(
            replace(c, carton=names.get(c.carton, c.carton), outer=names.get(c.outer, c.outer)) for c in manifest
        )
        return replace(manifest, store=self.store or manifest.store, cartons=cartons)


def known_stores(store: Store) -> frozenset[str]:
    """The store numbers of all shipments and layouts."""
    laid_out = {document.key for document in store.newest_documents(DocumentKind.LAYOUT)}
    return frozenset(laid_out | {record.store for record in store.shipments()})


def lost_zeros(store: Store, manifest: Manifest, stores: frozenset[str]) -> LostZeros:
    """What of this manifest's numbers is known with zeros in front, and with them only."""
    padded = _padded(manifest.store, stores)
    try:
        before = store.revision(manifest.shipment).manifest
    except (NotFound, StoreError):
        return LostZeros(manifest.shipment, manifest.store, padded)
    former = [carton.carton for carton in before]
    pairs = ((carton.carton, _padded(carton.carton, former)) for carton in manifest)
    found = tuple((written, known) for written, known in pairs if known)
    taken = {carton.carton for carton in manifest}
    if any(known in taken for _, known in found) or len({known for _, known in found}) != len(found):
        found = ()
    return LostZeros(manifest.shipment, manifest.store, padded, found)


def _padded(written: str, known: Iterable[str]) -> str:
    """The one known number that is this one with zeros in front; empty where it is known itself, or none or two fit."""
    known = set(known)
    if written in known or not written.isascii() or not written.isdigit():
        return ""
    fitting = [number for number in known if number.isdigit() and number.lstrip("0") == written and number != written]
    return fitting[0] if len(fitting) == 1 else ""
