"""Labels on paper: for one carton, a whole shipment, or the cartons that are missing."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving.closing import STOCKS, Stock, drawings_pdf, position_label
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


def _sticker_sheets() -> tuple[Stock, ...]:
    """Stock for place stickers: single ones for a label printer, and office paper to cut or peel."""
    return (
        Stock("3x2in", "3 × 2 in sticker", (76.2, 50.8), (76.2, 50.8)),
        Stock("a4-10up", "A4 sheet, 10 stickers", (210.0, 297.0), (105.0, 59.4), 2, 5, 6.0),
        Stock("letter-10up", "Letter sheet, 10 stickers", (215.9, 279.4), (107.95, 55.88), 2, 5, 6.0),
    )


def sticker_stocks() -> tuple[LabelStock, ...]:
    """The stock that place stickers are printed on, the usual one first."""
    return tuple(LabelStock(stock.name, stock.words, stock.per_page) for stock in _sticker_sheets())


def place_stickers_pdf(desk: Desk, shipment: str, cartons: Iterable[str] = (), *, stock: str = "3x2in") -> bytes:
    """A sticker for each planogram place of these cartons, by default of those without SSCC and barcode.

    A carton whose label carries no code is found by the place on it, where no other carton is for that place.
    Raises NotFound, and BadRequest where there is no place to print or no such stock.
    """
    sheets = _sticker_sheets()
    sheet = next((each for each in sheets if each.name == stock), None)
    if sheet is None:
        raise BadRequest(
            f"There is no sticker stock {stock[:40]!r}.", next_step=f"Use one of: {', '.join(s.name for s in sheets)}."
        )
    with desk.store() as store:
        manifest = store.revision(shipment).manifest
    chosen = [carton_on(manifest, carton) for carton in cartons] or without_code(manifest)
    places = sorted({address for carton in chosen for address in carton.addresses})
    if not places:
        raise BadRequest(
            "None of these cartons is for a place with column and row.",
            next_step="Choose cartons that are, or print their carton labels.",
        )
    drawings = [position_label(each, size_mm=sheet.label_mm, margin_mm=sheet.margin_mm) for each in places]
    return drawings_pdf(drawings, sheet, title=f"Place stickers of shipment {shipment}")


def without_code(manifest: Manifest) -> list[Carton]:
    """The cartons that have neither SSCC nor barcode."""
    return [carton for carton in manifest if carton.sscc is None and not carton.barcode]


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
