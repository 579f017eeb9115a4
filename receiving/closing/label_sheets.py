"""Labels onto stock: single labels and sheets as vector PDF, and one label as a picture."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

from receiving.closing.label_drawing import MM_PER_INCH, LabelDrawing, drawn_runs, font_file, snapped
from receiving.errors import BadRequest
from receiving.messages import Text, message

if TYPE_CHECKING:
    from PIL import Image

POINTS_PER_MM = 72 / MM_PER_INCH


@dataclass(frozen=True)
class Stock:
    """Label stock: page and label size in mm, labels across and down; the grid fills the page.

    ``margin_mm`` stays white in each label: office printers cannot print the outer 4 to 5 mm (common practice).
    """

    name: str
    words: Text
    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    across: int = 1
    down: int = 1
    margin_mm: float = 3.0

    @property
    def per_page(self) -> int:
        """Labels on one page."""
        return self.across * self.down

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Top left corner of the label at this place of the page, row by row from the top left."""
        return (place % self.across) * self.label_mm[0], (place // self.across) * self.label_mm[1]


STOCKS = (
    Stock("4x6in", message("4 × 6 in label"), (101.6, 152.4), (101.6, 152.4)),
    Stock("a6", message("A6 label, 105 × 148 mm"), (105.0, 148.0), (105.0, 148.0)),
    Stock("letter-2up", message("Letter sheet, 2 labels"), (215.9, 279.4), (215.9, 139.7), 1, 2, 5.0),
    Stock("letter-4up", message("Letter sheet, 4 labels"), (215.9, 279.4), (107.95, 139.7), 2, 2, 5.0),
    Stock("a4-4up", message("A4 sheet, 4 labels"), (210.0, 297.0), (105.0, 148.5), 2, 2, 5.0),
)


def stock_named(name: str) -> Stock:
    """The stock of this name, in any case; BadRequest lists the names that there are."""
    for stock in STOCKS:
        if stock.name == name.strip().casefold():
            return stock
    raise BadRequest(
        message("There is no label stock {stock}.", stock=repr(name)),
        next_step=message("Use one of: {stocks}.", stocks=", ".join(s.name for s in STOCKS)),
    )


RESOLUTIONS = (200, 203, 300, 600)
"""Dots per inch of label printers: 203 is 8 dots a millimetre (common practice, no source)."""

MOST_OFFSET_MM = 15.0

WITHIN_DOTS = 0.005
"""How far the dark of a symbol stays within its dots in a PDF. PDF paints every dot that an area touches (ISO 32000-1,
10.6.4; from memory): an edge that a rounded number puts a millionth past its dot made that bar a dot wider."""


def drawings_pdf(
    drawings: Sequence[LabelDrawing],
    stock: Stock,
    *,
    title: str,
    skip: int = 0,
    offset_mm: tuple[float, float] = (0.0, 0.0),
    language: str = "en",
) -> bytes:
    """Drawings as a PDF for this stock, the first ``skip`` places of the first page left empty.

    ``offset_mm`` moves everything right and down, for a printer that feeds its sheets askew. ``language`` (BCP 47)
    is that of the words.
    """
    from reportlab.pdfgen.canvas import Canvas

    out = BytesIO()
    size = tuple(round(mm * POINTS_PER_MM, 4) for mm in stock.page_mm)
    canvas = Canvas(out, pagesize=size, pageCompression=1, invariant=1, lang=language)
    canvas.setTitle(title)
    for number, drawing in enumerate(drawings, start=skip):
        if number > skip and number % stock.per_page == 0:
            canvas.showPage()
        x_mm, y_mm = stock.corner_mm(number % stock.per_page)
        top = stock.page_mm[1] - snapped(
            y_mm + offset_mm[1], drawing.dpi
        )  # a page is drawn from its top edge downwards
        _paint(canvas, drawing, snapped(x_mm + offset_mm[0], drawing.dpi), top)
    canvas.save()
    return out.getvalue()


def _paint(canvas: Any, drawing: LabelDrawing, left_mm: float, top_mm: float) -> None:
    """One drawing with its top left corner at this place, counted from the page's bottom left."""
    canvas.saveState()
    canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
    canvas.translate(left_mm, top_mm)
    canvas.setFillGray(0)
    inset = WITHIN_DOTS * MM_PER_INCH / drawing.dpi
    for box in drawing.boxes:
        canvas.rect(box.x_mm, -box.y_mm - box.h_mm, box.w_mm, box.h_mm, stroke=0, fill=1)
    for symbol in drawing.symbols:
        ink = canvas.beginPath()  # one path a symbol: viewers draw seams between rectangles filled one by one
        for box in symbol.boxes():
            low = -box.y_mm - box.h_mm
            ink.rect(box.x_mm + inset, low + inset, box.w_mm - 2 * inset, box.h_mm - 2 * inset)
        canvas.drawPath(ink, stroke=0, fill=1)
    for words in drawing.words:
        canvas.setFillGray(1 if words.white else 0)
        x_mm = words.x_mm
        for run, font in drawn_runs(words.text, words.font):
            canvas.setFont(font, words.size_mm)
            canvas.drawString(x_mm, -words.baseline_mm, run)
            x_mm += canvas.stringWidth(run, font, words.size_mm)
    canvas.restoreState()


def drawing_image(drawing: LabelDrawing) -> "Image.Image":
    """A drawing as a grey picture at its own resolution; every module is a whole number of pixels."""
    from PIL import Image, ImageDraw, ImageFont

    scale = drawing.dpi / MM_PER_INCH
    image = Image.new("L", (round(drawing.width_mm * scale), round(drawing.height_mm * scale)), 255)
    pen = ImageDraw.Draw(image)
    for box in (*drawing.boxes, *(box for symbol in drawing.symbols for box in symbol.boxes())):
        left, top = round(box.x_mm * scale), round(box.y_mm * scale)
        right, bottom = round((box.x_mm + box.w_mm) * scale), round((box.y_mm + box.h_mm) * scale)
        pen.rectangle((left, top, max(left, right - 1), max(top, bottom - 1)), fill=0)
    for words in drawing.words:
        x_px = words.x_mm * scale
        for run, name in drawn_runs(words.text, words.font):
            font = _pil_font(name, words.size_mm * scale, ImageFont)
            place = (x_px, words.baseline_mm * scale)
            pen.text(place, run, fill=255 if words.white else 0, font=font, anchor="ls")
            x_px += font.getlength(run)
    return image


def drawing_png(drawing: LabelDrawing) -> bytes:
    """A drawing as PNG that knows its resolution, so that it prints at its true size."""
    out = BytesIO()
    drawing_image(drawing).save(out, "PNG", dpi=(drawing.dpi, drawing.dpi), optimize=True)
    return out.getvalue()


def _pil_font(name: str, size_px: float, fonts: Any) -> Any:
    return fonts.truetype(str(font_file(name)), size_px, layout_engine=fonts.Layout.BASIC)
