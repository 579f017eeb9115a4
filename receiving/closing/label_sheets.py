"""Labels onto stock: single labels and sheets as vector PDF, and one label as a picture."""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Any

from PIL import Image, ImageDraw, ImageFont
from reportlab.pdfgen.canvas import Canvas

from receiving.closing.label_drawing import MM_PER_INCH, LabelDrawing, drawn_runs, font_file, snapped
from receiving.closing.label_stock import Stock

if TYPE_CHECKING:
    from PIL import Image

POINTS_PER_MM = 72 / MM_PER_INCH


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
