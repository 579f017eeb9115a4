"""Carton labels for a printer: a PDF on the chosen stock, or one label as a picture."""

from collections.abc import Iterable

from receiving.closing.label_sheets import drawing_png, drawings_pdf, stock_named
from receiving.closing.labels import carton_label
from receiving.errors import BadRequest
from receiving.model import Carton, Manifest


def labels_pdf(
    cartons: Iterable[Carton], manifest: Manifest, *, stock: str = "4x6in", dpi: int = 300, first_place: int = 1
) -> bytes:
    """The labels of ``cartons`` as one vector PDF for this stock, snapped to the dots of a ``dpi`` printer.

    ``first_place`` (from 1) skips the labels of the first sheet that were used already. Print it at 100 %: scaling
    changes the X-dimension. BadRequest as in `carton_label`, when there is no carton, or no such place.
    """
    sheet = stock_named(stock)
    drawings = [
        carton_label(carton, manifest, size_mm=sheet.label_mm, margin_mm=sheet.margin_mm, dpi=dpi) for carton in cartons
    ]
    if not drawings:
        raise BadRequest("There is no carton to print a label for.", next_step="Choose at least one carton.")
    if not 1 <= first_place <= sheet.per_page:
        raise BadRequest(
            f"Label place {first_place} is not on a sheet of {sheet.per_page}.",
            next_step=f"Count from 1 at the top left to {sheet.per_page}.",
        )
    return drawings_pdf(drawings, sheet, title=f"Carton labels of shipment {manifest.shipment}", skip=first_place - 1)


def label_png(carton: Carton, manifest: Manifest, *, dpi: int = 300, stock: str = "4x6in") -> bytes:
    """The label of one carton as PNG at ``dpi`` dots per inch, for a phone or a label printer; see `carton_label`."""
    sheet = stock_named(stock)
    return drawing_png(carton_label(carton, manifest, size_mm=sheet.label_mm, margin_mm=sheet.margin_mm, dpi=dpi))
