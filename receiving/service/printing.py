"""Labels on paper: for one carton, a whole shipment, or the cartons that are missing."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving.closing import label_png as draw_label
from receiving.closing import labels_pdf as print_labels
from receiving.errors import BadRequest
from receiving.model import Carton, CartonState, Manifest
from receiving.service.desk import Desk
from receiving.service.standing import standing

ALL, MISSING = "all", "missing"


@dataclass(frozen=True)
class LabelStock:
    """A label stock to choose: its name in requests, its words, and how many labels one sheet has."""

    name: str
    words: str
    per_page: int


def label_stocks() -> tuple[LabelStock, ...]:
    """The label stocks that there are, the usual one first."""
    from receiving.closing.label_sheets import STOCKS

    return tuple(LabelStock(stock.name, stock.words, stock.per_page) for stock in STOCKS)


def labels_pdf(
    desk: Desk, shipment: str, cartons: Iterable[str] | str, *, stock: str = "4x6in", first_place: int = 1
) -> bytes:
    """Labels as PDF: of the cartons named, of ``"all"``, or of the ``"missing"`` ones.

    ``first_place`` (from 1, row by row) is the first free place of a used sheet. Raises NotFound, BadRequest.
    """
    with desk.store() as store:
        found = standing(desk, store, store.shipment(shipment))
    if cartons == ALL:
        chosen: tuple[Carton, ...] = found.manifest.cartons
    elif cartons == MISSING:
        chosen = tuple(f.carton for f in found.reconciliation.in_state(CartonState.SHORT))
    else:
        chosen = tuple(carton_on(found.manifest, carton) for carton in cartons)
    return print_labels(chosen, found.manifest, stock=stock, first_place=first_place)


def label_png(desk: Desk, shipment: str, carton: str, *, stock: str = "4x6in") -> bytes:
    """One carton's label as PNG, in the size of this stock. Raises NotFound, BadRequest."""
    with desk.store() as store:
        manifest = store.revision(shipment).manifest
    return draw_label(carton_on(manifest, carton), manifest, stock=stock)


def carton_on(manifest: Manifest, carton: str) -> Carton:
    """The carton with this id; raises BadRequest."""
    found = manifest.find(carton)
    if found is None:
        raise BadRequest(
            f"Carton {carton!r} is not on the manifest of shipment {manifest.shipment!r}.",
            next_step="Choose a carton from the shipment's page.",
        )
    return found
