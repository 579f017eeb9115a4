"""Carton labels for a printer: a PDF on the chosen stock, a file for a label printer, or one label as a picture.

Single labels and sheets are drawn as vectors.
"""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Any

from PIL import Image, ImageDraw, ImageFont
from reportlab.pdfgen.canvas import Canvas

from receiving.closing.label_drawing import MM_PER_INCH, LabelDrawing, font_file, snap_to_dots, split_into_runs
from receiving.closing.label_stock import Stock

if TYPE_CHECKING:
    from PIL import Image
import re
from collections.abc import Iterable, Iterator
from itertools import groupby

from PIL import Image

from receiving.closing.label_stock import LabelPrint, stock_named
from receiving.closing.labels import carton_label
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Carton, Manifest

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
        top = stock.page_mm[1] - snap_to_dots(
            y_mm + offset_mm[1], drawing.dpi
        )  # a page is drawn from its top edge downwards
        _paint(canvas, drawing, snap_to_dots(x_mm + offset_mm[0], drawing.dpi), top)
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
        for run, font in split_into_runs(words.text, words.font):
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
        for run, name in split_into_runs(words.text, words.font):
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


# Labels for a label printer: our own 1-bit picture, wrapped in the raster command of ZPL, which most printers take.
#
# The printer draws nothing itself, so that a label looks the same from every printer and our layout stays. Source of
# the compression of hexadecimal digits (G to Y 1 to 19 times, g to z 20 to 400 times, ``,`` and ``!`` for the rest of a
# row, ``:`` for the row above; a set bit is black): the libraries zpl-forge and zebrafy, which read and write the same;
# zebrafy 2.0 puts our files at 203, 300 and 600 dpi on paper dot for dot. ^PW and ^LL are width and length in dots.


_ONES = "GHIJKLMNOPQRSTUVWXY"
"""1 to 19 times the digit that follows."""

_TWENTIES = "ghijklmnopqrstuvwxyz"
"""20 to 400 times, in steps of 20."""

_RASTER = re.compile(rb"\^GFA,([0-9]+),([0-9]+),([0-9]+),([^^]*)\^FS")


def drawings_raster(drawings: Iterable[LabelDrawing], *, offset_mm: tuple[float, float] = (0.0, 0.0)) -> bytes:
    """The labels one after the other, each a format of its own; ``offset_mm`` moves the picture right and down."""
    return b"".join(_format(drawing, offset_mm) for drawing in drawings)


def _format(drawing: LabelDrawing, offset_mm: tuple[float, float]) -> bytes:
    image = move_picture(bitmap(drawing), drawing.dpi, offset_mm)
    width, height = image.size
    across = (width + 7) // 8
    rows = _rows(image, across)
    data = "".join(_compressed(rows, across))
    total = across * height
    head = f"^XA^PW{width}^LL{height}^LH0,0^FO0,0^GFA,{total},{total},{across},"
    return f"{head}{data}^FS^PQ1^XZ\n".encode("ascii")


def bitmap(drawing: LabelDrawing) -> "Image.Image":
    """The drawing in black and white, a pixel for each dot of the printer."""
    return drawing_image(drawing).point(lambda grey: 255 if grey >= 128 else 0).convert("1", dither=Image.Dither.NONE)


def move_picture(image: "Image.Image", dpi: int, offset_mm: tuple[float, float]) -> "Image.Image":
    """The picture moved by whole dots; what leaves the label is cut off."""
    by = tuple(round(mm * dpi / MM_PER_INCH) for mm in offset_mm)
    if not any(by):
        return image
    sheet = Image.new("1", image.size, 255)
    sheet.paste(image, (by[0], by[1]))
    return sheet


def _rows(image: "Image.Image", across: int) -> list[str]:
    """Each row in hexadecimal digits, a set bit for a black dot."""
    data = bytes(byte ^ 0xFF for byte in image.tobytes())
    spare = across * 8 - image.size[0]
    rows = [data[at : at + across] for at in range(0, len(data), across)]
    return [(int.from_bytes(row, "big") >> spare << spare).to_bytes(across, "big").hex().upper() for row in rows]


def _compressed(rows: list[str], across: int) -> Iterator[str]:
    """Digits with their counts before them; ``,`` and ``!`` end a row in 0 or F, ``:`` repeats the row above."""
    before = ""
    for row in rows:
        yield ":" if row == before else _shortened(row, across)
        before = row


def _shortened(row: str, across: int) -> str:
    for digit, sign in (("0", ","), ("F", "!")):
        kept = row.rstrip(digit)
        if len(kept) < 2 * across - 1:
            return _counted(kept) + sign
    return _counted(row)


def _counted(digits: str) -> str:
    return "".join(_times(len(list(run))) + digit for digit, run in groupby(digits))


def _times(count: int) -> str:
    if count == 1:
        return ""
    most = "z" * (count // 400)
    twenties, ones = divmod(count % 400, 20)
    return most + (_TWENTIES[twenties - 1] if twenties else "") + (_ONES[ones - 1] if ones else "")


def raster_images(data: bytes) -> "Iterator[Image.Image]":
    """The pictures in such a file, as a printer would put them on paper: to look at before they are sent."""
    for found in _RASTER.finditer(data):
        across, total = int(found[3]), int(found[1])
        rows = _expanded(found[4].decode("ascii"), across)
        image = Image.frombytes("1", (across * 8, total // across), bytes.fromhex("".join(rows)))
        yield image.point(lambda dot: 255 - dot)


def _expanded(text: str, across: int) -> list[str]:
    rows: list[str] = []
    row, count = "", 0
    for sign in text:
        if sign == ":":
            rows.append(rows[-1])
        elif sign in ",!":
            rows.append(row + ("0" if sign == "," else "F") * (2 * across - len(row)))
            row = ""
        elif sign in _ONES or sign in _TWENTIES:
            count += _ONES.index(sign) + 1 if sign in _ONES else 20 * (_TWENTIES.index(sign) + 1)
        else:
            row += sign * max(1, count)
            count = 0
        if len(row) == 2 * across:
            rows.append(row)
            row = ""
    return rows


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
    offset_mm, language = how.offset_mm, how.speaker.code
    return drawings_pdf(drawings, sheet, title=title, skip=first_place - 1, offset_mm=offset_mm, language=language)


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
