"""Carton labels for a printer: a PDF on the chosen stock, a file for a label printer, or one label as a picture."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from receiving.closing.label_drawing import LabelDrawing
from receiving.closing.label_raster import drawings_raster
from receiving.closing.label_sheets import (
    MOST_OFFSET_MM,
    RESOLUTIONS,
    Stock,
    drawing_png,
    drawings_pdf,
    stock_named,
)
from receiving.closing.labels import LabelExtras, carton_label
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Carton, Manifest


@dataclass(frozen=True)
class LabelPrint:
    """How labels are printed: the stock, the printer's resolution, where the picture sits, what is on every label."""

    stock: str = "4x6in"
    dpi: int = 300
    offset_mm: tuple[float, float] = (0.0, 0.0)
    extras: LabelExtras = field(default_factory=LabelExtras)

    def __post_init__(self) -> None:
        if self.dpi not in RESOLUTIONS:
            known = ", ".join(map(str, RESOLUTIONS))
            raise BadRequest(
                message("There are no printers of {dpi} dots per inch here.", dpi=self.dpi),
                next_step=message("Use {known}.", known=known),
            )
        if any(abs(mm) > MOST_OFFSET_MM or mm != mm for mm in self.offset_mm):
            raise BadRequest(
                message(
                    "The labels cannot be moved by {offset_mm} and {offset_mm2} mm.",
                    offset_mm=float(self.offset_mm[0]),
                    offset_mm2=float(self.offset_mm[1]),
                ),
                next_step=message("Move them by at most {most_offset_mm} mm.", most_offset_mm=float(MOST_OFFSET_MM)),
            )


def labels_pdf(
    cartons: Iterable[Carton], manifest: Manifest, how: LabelPrint | None = None, *, first_place: int = 1
) -> bytes:
    """The labels of ``cartons`` as one vector PDF for this stock, snapped to the dots of the printer.

    ``first_place`` (from 1) skips the labels of the first sheet that were used already. Print it at 100 %: scaling
    changes the X-dimension. BadRequest as in `carton_label`, when there is no carton, or no such place.
    """
    how = how or LabelPrint()
    sheet = stock_named(how.stock)
    drawings = _drawings(cartons, manifest, how, sheet)
    if not 1 <= first_place <= sheet.per_page:
        raise BadRequest(
            message(
                "Label place {first_place} is not on a sheet of {per_page}.",
                first_place=first_place,
                per_page=sheet.per_page,
            ),
            next_step=message("Count from 1 at the top left to {per_page}.", per_page=sheet.per_page),
        )
    title = f"Carton labels of shipment {manifest.shipment}"
    return drawings_pdf(drawings, sheet, title=title, skip=first_place - 1, offset_mm=how.offset_mm)


def labels_raster(cartons: Iterable[Carton], manifest: Manifest, how: LabelPrint | None = None) -> bytes:
    """The labels as pictures in the language of label printers (ZPL), one label after the other.

    BadRequest as in `carton_label`, when there is no carton, and for stock that is a sheet of several labels.
    """
    how = how or LabelPrint()
    sheet = stock_named(how.stock)
    if sheet.per_page > 1:
        raise BadRequest(
            message("{words} is for an office printer; a label printer takes single labels.", words=sheet.words),
            next_step=message("Choose a single label as the stock, or print the PDF."),
        )
    return drawings_raster(_drawings(cartons, manifest, how, sheet), offset_mm=how.offset_mm)


def label_png(carton: Carton, manifest: Manifest, how: LabelPrint | None = None) -> bytes:
    """The label of one carton as PNG in the printer's dots, for a phone or a label printer; see `carton_label`."""
    how = how or LabelPrint()
    (drawing,) = _drawings([carton], manifest, how, stock_named(how.stock))
    return drawing_png(drawing)


def _drawings(cartons: Iterable[Carton], manifest: Manifest, how: LabelPrint, sheet: Stock) -> list[LabelDrawing]:
    size, margin = sheet.label_mm, sheet.margin_mm
    drawings = [
        carton_label(carton, manifest, size_mm=size, margin_mm=margin, dpi=how.dpi, extras=how.extras)
        for carton in cartons
    ]
    if not drawings:
        raise BadRequest(
            message("There is no carton to print a label for."), next_step=message("Choose at least one carton.")
        )
    return drawings
