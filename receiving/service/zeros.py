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


class KnownNumbers:
    """Numbers as they are known, found by what is left of them without the zeros in front."""

    def __init__(self, numbers: Iterable[str]) -> None:
        self._numbers = frozenset(numbers)
        self._bare: dict[str, list[str]] = {}
        for number in self._numbers:
            if number.isdigit():
                self._bare.setdefault(number.lstrip("0"), []).append(number)

    def padded(self, written: str) -> str:
        """The known number that is this one with zeros in front; empty where this is known, or none or two fit."""
        if written in self._numbers or not written.isascii() or not written.isdigit():
            return ""
        fitting = self._bare.get(written, ())
        return fitting[0] if len(fitting) == 1 else ""


def known_stores(store: Store) -> KnownNumbers:
    """The store numbers of all shipments and layouts."""
    laid_out = {document.key for document in store.newest_documents(DocumentKind.LAYOUT)}
    return KnownNumbers(laid_out | {record.store for record in store.shipments()})


def lost_zeros(store: Store, manifest: Manifest, stores: KnownNumbers) -> LostZeros:
    """What of this manifest's numbers is known with zeros in front, and with them only."""
    padded = stores.padded(manifest.store)
    try:
        before = store.revision(manifest.shipment).manifest
    except (NotFound, StoreError):
        return LostZeros(manifest.shipment, manifest.store, padded)
    former = KnownNumbers(carton.carton for carton in before)
    pairs = ((carton.carton, former.padded(carton.carton)) for carton in manifest)
    found = tuple((written, known) for written, known in pairs if known)
    taken = {carton.carton for carton in manifest}
    if any(known in taken for _, known in found) or len({known for _, known in found}) != len(found):
        found = ()
    return LostZeros(manifest.shipment, manifest.store, padded, found)
