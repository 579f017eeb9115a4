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
from receiving.messages import ENGLISH, Speaker, listing, message
from receiving.model import Carton, Manifest


@dataclass(frozen=True)
class LabelPrint:
    """How labels are printed: stock, resolution, where the picture sits, what all of them show, in which language."""

    stock: str = "4x6in"
    dpi: int = 300
    offset_mm: tuple[float, float] = (0.0, 0.0)
    extras: LabelExtras = field(default_factory=LabelExtras)
    speaker: Speaker = ENGLISH

    def __post_init__(self) -> None:
        if self.dpi not in RESOLUTIONS:
            raise BadRequest(
                message("There are no printers of {dpi} dots per inch here.", dpi=self.dpi),
                next_step=message("Use {known}.", known=listing(RESOLUTIONS, choice=True)),
            )
        if any(abs(mm) > MOST_OFFSET_MM or mm != mm for mm in self.offset_mm):
            raise BadRequest(
                message(
                    "The labels cannot be moved by {across} and {down} mm.",
                    across=float(self.offset_mm[0]),
                    down=float(self.offset_mm[1]),
                ),
                next_step=message("Move them by at most {most} mm.", most=float(MOST_OFFSET_MM)),
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
                "Label place {place} is not on a sheet of {number}.",
                place=first_place,
                number=sheet.per_page,
            ),
            next_step=message("Count from 1 at the top left to {number}.", number=sheet.per_page),
        )
    title = how.speaker.say(message("Carton labels of shipment {shipment}", shipment=manifest.shipment))
    moved, language = how.offset_mm, how.speaker.code
    return drawings_pdf(drawings, sheet, title=title, skip=first_place - 1, offset_mm=moved, language=language)


def labels_raster(cartons: Iterable[Carton], manifest: Manifest, how: LabelPrint | None = None) -> bytes:
    """The labels as pictures in the language of label printers (ZPL), one label after the other.

    BadRequest as in `carton_label`, when there is no carton, and for stock that is a sheet of several labels.
    """
    how = how or LabelPrint()
    sheet = stock_named(how.stock)
    if sheet.per_page > 1:
        raise BadRequest(
            message("{stock} is for an office printer; a label printer takes single labels.", stock=sheet.words),
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
        carton_label(
            carton, manifest, size_mm=size, margin_mm=margin, dpi=how.dpi, extras=how.extras, speaker=how.speaker
        )
        for carton in cartons
    ]
    if not drawings:
        raise BadRequest(
            message("There is no carton to print a label for."), next_step=message("Choose at least one carton.")
        )
    return drawings
