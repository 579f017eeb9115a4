"""Carton labels in the order of a GS1 logistic label: words on top, data below them, bars at the bottom.

Sources: GS1 Logistic Label Guideline, section 4 (building blocks and placement); GS1 General Specifications,
section 5.12.3, symbol specification tables for logistic units (X-dimension 0.495-1.016 mm for GS1-128, bars at
least 31.75 mm high, quiet zones of 10 X). We keep 32 mm and more. The size of the column and row digits, the
open-first band and the place of the position symbol are common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from receiving.closing.label_drawing import (
    CAP_HEIGHT,
    MM_PER_INCH,
    Box,
    Font,
    LabelDrawing,
    PlacedSymbol,
    Words,
    fit_words,
    fold_into_font,
    snap_to_dots,
    width_of,
)
from receiving.closing.label_stock import LabelExtras
from receiving.closing.label_symbols import (
    Modules,
    barcode_bars,
    barcode_data_matrix,
    position_data_matrix,
    sscc_bars,
    sscc_data_matrix,
    sscc_link,
)
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, Text, figure, joined, message, opening, plural
from receiving.model import (
    ONE_PERSON_KG,
    TWO_PEOPLE_KG,
    Address,
    Carton,
    CartonKind,
    Manifest,
    Units,
)
from receiving.wording import both_weights_words, term, weight_words

MIN_X_MM = 0.495
BARS_MM = 34.0
MATRIX_X_MM = 1.0
"""Module of the Data Matrix codes: twice the bars', so that they survive a photo that the bars do not."""
LINK_X_MM = 0.75
MARGIN_MM = 3.0
DATA_LINE_MM = 8.5
MOST_SENDER_LINES = 3
SIZE_4X6_MM = (101.6, 152.4)


def carton_label(
    carton: Carton,
    manifest: Manifest,
    *,
    size_mm: tuple[float, float] = SIZE_4X6_MM,
    margin_mm: float = MARGIN_MM,
    dpi: int = 300,
    extras: LabelExtras | None = None,
    speaker: Speaker = ENGLISH,
) -> LabelDrawing:
    """The label of one carton of ``manifest``, for stock of this size, snapped to the dots of a ``dpi`` printer.

    ``extras``: who sends it, in which unit its weight is, and where its QR code leads. A carton without SSCC gets its
    barcode or another number as plain Code 128; with none, its position symbol and words alone. BadRequest when the
    stock is too small, the printer too coarse, the barcode cannot be encoded, or no font has its letters.
    """
    sheet = _Sheet(size_mm, margin_mm, dpi, extras or LabelExtras(), speaker)
    try:
        bottom = _codes(sheet, carton)
        top = _strip(sheet, carton, _share(carton, manifest))
        top = _parties(sheet, top, manifest)
        _place(sheet, top, bottom, carton)
    except BadRequest as fault:
        raise BadRequest(
            message("Carton {carton}: {fault}", carton=repr(carton.carton), fault=fault.message),
            next_step=fault.next_step,
        ) from fault
    return sheet.drawing()


def position_label(
    address: Address,
    *,
    size_mm: tuple[float, float] = (76.2, 50.8),
    margin_mm: float = MARGIN_MM,
    dpi: int = 300,
    speaker: Speaker = ENGLISH,
) -> LabelDrawing:
    """A sticker with one planogram address: section, large column and row, and their Data Matrix."""
    sheet = _Sheet(size_mm, margin_mm, dpi, speaker=speaker)
    _cell(sheet, margin_mm, size_mm[1] - margin_mm, address)
    return sheet.drawing()


@dataclass
class _Sheet:
    """What has been drawn so far on a label of this size."""

    size_mm: tuple[float, float]
    margin_mm: float
    dpi: int
    extras: LabelExtras = field(default_factory=LabelExtras)
    speaker: Speaker = ENGLISH
    boxes: list[Box] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    symbols: list[PlacedSymbol] = field(default_factory=list)

    @property
    def inner_mm(self) -> float:
        return self.size_mm[0] - 2 * self.margin_mm

    def write(
        self,
        wording: Text,
        x: float,
        top: float,
        cap_mm: float,
        room: float,
        *,
        font: Font = Font.PLAIN,
        white: bool = False,
    ) -> float:
        """Write one line whose capitals stand ``cap_mm`` high; the y below it."""
        text = self.speaker.say(wording)
        self.words.append(fit_words(text, x, top + cap_mm, cap_mm / CAP_HEIGHT, room, font=font, white=white))
        return top + cap_mm

    def rule(self, y: float) -> None:
        self.boxes.append(Box(self.margin_mm, y, self.inner_mm, 0.4))

    def place(self, modules: Modules, x: float, y: float, module_mm: float, row_mm: float | None = None) -> None:
        module = snap_to_dots(module_mm, self.dpi)
        row = snap_to_dots(row_mm, self.dpi) if row_mm else module
        self.symbols.append(PlacedSymbol(modules, snap_to_dots(x, self.dpi), snap_to_dots(y, self.dpi), module, row))

    def drawing(self) -> LabelDrawing:
        return LabelDrawing(*self.size_mm, self.dpi, tuple(self.boxes), tuple(self.words), tuple(self.symbols))


def _codes(sheet: _Sheet, carton: Carton) -> float:
    """Everything below the rule, from the bottom upwards; the y of the rule."""
    width, height = sheet.size_mm
    if carton.sscc is None and not carton.plain_code:
        return _no_codes(sheet, carton)
    bars = sscc_bars(carton.sscc) if carton.sscc else barcode_bars(carton.plain_code)
    matrix = sscc_data_matrix(carton.sscc) if carton.sscc else barcode_data_matrix(carton.plain_code)
    matrix_w = (matrix.width + 2 * matrix.quiet) * snap_to_dots(MATRIX_X_MM, sheet.dpi)
    beside = width - 2 * sheet.margin_mm - matrix_w >= (bars.width + 2 * bars.quiet) * MIN_X_MM * 1.05
    room = width - 2 * sheet.margin_mm - (matrix_w if beside else 0)
    x_mm = _bar_module(bars, room, sheet.dpi, narrow=carton.sscc is None)
    wide = (bars.width + 2 * bars.quiet) * x_mm
    left = sheet.margin_mm + (room - wide) / 2 + bars.quiet * x_mm
    bars_top = height - sheet.margin_mm - 5.0 - BARS_MM
    sheet.place(bars, left, bars_top, x_mm, BARS_MM)
    _hri(sheet, bars.text, left, bars.width * x_mm)
    return _above_bars(sheet, carton, matrix, bars_top, beside)


def _hri(sheet: _Sheet, text: str, left: float, wide: float) -> None:
    """Human readable interpretation below the bars, centred (GS1 General Specifications, section 4.15)."""
    size = 3.4 / CAP_HEIGHT
    text = fold_into_font(text)
    size *= min(1.0, wide / max(width_of(text, size, Font.PLAIN), 0.1))
    x = left + (wide - width_of(text, size, Font.PLAIN)) / 2
    sheet.words.append(Words(text, x, sheet.size_mm[1] - sheet.margin_mm - 0.4, size))


def _bar_module(bars: Modules, room_mm: float, dpi: int, *, narrow: bool) -> float:
    """The widest module in whole dots that fits, at most 0.8 mm; an SSCC's never below 0.495 mm."""
    dot = MM_PER_INCH / dpi
    least = 0.25 if narrow else MIN_X_MM
    modules = bars.width + 2 * bars.quiet
    dots = int(min(room_mm / modules, 0.8) / dot + 1e-6)
    if dots * dot < least - 1e-6 or dots < 2:
        raise BadRequest(
            message(
                "The {symbol} {text} needs {modules} modules of at least {least} mm; {room} mm at {dpi} "
                "dots per inch hold modules of {module} mm.",
                symbol=bars.name,
                text=repr(bars.text),
                modules=modules,
                least=least,
                room=figure(room_mm),
                dpi=dpi,
                module=figure(dots * dot, 2),
            ),
            next_step=message("Choose wider stock or a finer printer."),
        )
    return dots * dot


def _above_bars(sheet: _Sheet, carton: Carton, matrix: Modules, bars_top: float, beside: bool) -> float:
    """Data Matrix and Digital Link next to the bars, with the same data in words; the y of the rule above."""
    width = sheet.size_mm[0]
    step, link_step = snap_to_dots(MATRIX_X_MM, sheet.dpi), snap_to_dots(LINK_X_MM, sheet.dpi)
    link = sscc_link(carton.sscc, sheet.extras.link_host) if carton.sscc else None
    link_w = (link.width + 2 * link.quiet) * link_step if link else 0.0
    matrix_w = (matrix.width + 2 * matrix.quiet) * step
    low = bars_top - 1.0
    right = width - sheet.margin_mm
    matrix_top = bars_top + (BARS_MM - matrix_w) / 2 if beside else low - matrix_w
    sheet.place(matrix, right - matrix_w + step, matrix_top + step, step)
    if not beside:
        right -= matrix_w
    if link:
        sheet.place(link, right - link_w + 4 * link_step, low - link_w + 4 * link_step, link_step)
        right -= link_w
    lines = _data_lines(carton, pounds=sheet.extras.pounds)
    rule = low - max(link_w, 0.0 if beside else matrix_w, len(lines) * DATA_LINE_MM + 1.0) - 1.0
    _data_words(sheet, lines, rule + 2.5, right - sheet.margin_mm - 1)
    sheet.rule(rule)
    return rule


def _data_lines(carton: Carton, *, pounds: bool) -> list[tuple[Text, Text]]:
    title = message("CARTON BARCODE") if carton.barcode else message("CARTON NUMBER")
    code: tuple[Text, Text] = (title, carton.plain_code)
    if carton.sscc:
        code = (message("SSCC"), str(carton.sscc))
    weight = [_weight(carton.weight_kg, Units.US if pounds else Units.METRIC)] if carton.weight_kg else []
    return [code, (message("CARTON"), carton.carton), *weight]


def _weight(weight_kg: float, units: Units) -> tuple[Text, Text]:
    """The weight in one unit; in both where it warns: above what one person, or two, should lift."""
    if weight_kg > TWO_PEOPLE_KG:
        return message("HEAVY: NOT BY HAND"), both_weights_words(weight_kg, units)
    if weight_kg > ONE_PERSON_KG:
        return message("HEAVY: NOT ALONE"), both_weights_words(weight_kg, units)
    return message("WEIGHT"), weight_words(weight_kg, units, digits=1 if units is Units.US else 3)


def _data_words(sheet: _Sheet, lines: list[tuple[Text, Text]], top: float, room: float) -> None:
    for place, (title, text) in enumerate(lines):
        y = top + place * DATA_LINE_MM
        sheet.write(title, sheet.margin_mm, y, 1.9, room)
        sheet.write(text, sheet.margin_mm, y + 3.2, 3.1, room, font=Font.BOLD)


def _no_codes(sheet: _Sheet, carton: Carton) -> float:
    rule = sheet.size_mm[1] - sheet.margin_mm - 16
    sheet.rule(rule)
    sheet.write(message("CARTON"), sheet.margin_mm, rule + 2.5, 1.9, sheet.inner_mm)
    sheet.write(carton.carton, sheet.margin_mm, rule + 5.7, 4, sheet.inner_mm, font=Font.BOLD)
    sheet.write(message("No code on the manifest: type the carton."), sheet.margin_mm, rule + 12, 2.2, sheet.inner_mm)
    return rule


def _share(carton: Carton, manifest: Manifest) -> Text:
    """Say "carton n of N", counted without outer boxes; an outer says how many it holds."""
    if carton.kind is CartonKind.OUTER:
        return plural(len(manifest.inside(carton.carton)), "holds {number} carton", "holds {number} cartons")
    counted = [c.carton for c in manifest if c.kind is not CartonKind.OUTER]
    if carton.carton not in counted:
        return ""
    return message("carton {number} of {total}", number=counted.index(carton.carton) + 1, total=len(counted))


def _strip(sheet: _Sheet, carton: Carton, share: Text) -> float:
    """The band on top: black with OPEN FIRST in white, or the kind of carton in plain black."""
    band, x, room = 13.0, sheet.margin_mm, sheet.inner_mm
    kind = opening(joined(term(carton.kind), share) if carton.open_first else term(carton.kind))
    if carton.open_first:
        sheet.boxes.append(Box(x, sheet.margin_mm, room, band))
        sheet.write(message("OPEN FIRST"), x + 3, sheet.margin_mm + 3, 7, room * 0.62, font=Font.BOLD, white=True)
        return sheet.write(kind, x, sheet.margin_mm + band + 2.5, 3.6, room, font=Font.BOLD) + 2.5
    sheet.write(kind, x, sheet.margin_mm + 2, 6, room * 0.55, font=Font.BOLD)
    words = fit_words(sheet.speaker.say(share), x, sheet.margin_mm + 8, 4.2 / CAP_HEIGHT, room * 0.43, font=Font.BOLD)
    sheet.words.append(replace(words, x_mm=x + room - width_of(words.text, words.size_mm, Font.BOLD)))
    sheet.rule(sheet.margin_mm + 11)
    return sheet.margin_mm + 13.5


def _parties(sheet: _Sheet, top: float, manifest: Manifest) -> float:
    for at, line in enumerate(sheet.extras.sender[:MOST_SENDER_LINES]):
        top = (
            sheet.write(
                message("FROM {sender}", sender=line) if at == 0 else line, sheet.margin_mm, top, 2.0, sheet.inner_mm
            )
            + 1.4
        )
    half = sheet.inner_mm / 2 - 1
    columns = [(message("TO STORE"), manifest.store), (message("SHIPMENT"), manifest.shipment)]
    for place, (name, text) in enumerate(columns):
        x = sheet.margin_mm + place * (half + 2)
        sheet.write(name, x, top, 1.9, half)
        sheet.write(text, x, top + 3.2, 3.6, half, font=Font.BOLD)
    end = top + 8.6
    if manifest.dispatch_date:
        visit = message("VISIT {day}", day=manifest.dispatch_date)
        end = sheet.write(visit, sheet.margin_mm, end, 2.2, sheet.inner_mm) + 2.0
    sheet.rule(end)
    return end + 2.5


def _place(sheet: _Sheet, top: float, bottom: float, carton: Carton) -> None:
    """The planogram address as large as the room allows, or the section for a section-wide carton."""
    addresses = carton.addresses
    if addresses:
        _cell(sheet, top, bottom - 2, addresses[0], addresses[1:])
        return
    words = list(_section_words(carton))
    each = min(11.0, (bottom - top) / (2 * max(1, len(words))))
    for text in words:
        top = sheet.write(text, sheet.margin_mm, top + each * 0.3, each, sheet.inner_mm, font=Font.BOLD) + each * 0.5


def _section_words(carton: Carton) -> Iterator[Text]:
    if carton.kind is CartonKind.OUTER:
        yield message("OUTER BOX")
    yield from carton.sections[:3]
    if carton.sections and carton.kind is not CartonKind.OUTER:
        yield message("WHOLE SECTION")
    if not carton.sections:
        yield from dict.fromkeys(line.description for line in carton.contents[:3] if line.description)


def _cell(sheet: _Sheet, top: float, bottom: float, address: Address, others: tuple[Address, ...] = ()) -> None:
    """Section, then COL and ROW with digits as high as the room allows; at the right the position symbol.

    A carton for several addresses has words there instead: a symbol that names one of them would send it wrong.
    """
    symbol = position_data_matrix(address)
    dot = MM_PER_INCH / sheet.dpi
    step = int(min(MATRIX_X_MM, (bottom - top) / (symbol.height + 2)) / dot + 1e-6) * dot
    left = sheet.size_mm[0] - sheet.margin_mm - (symbol.width + 2) * step
    if others:
        _also(sheet, left, top, bottom, address, others)
    else:
        sheet.place(symbol, left + step, top + step, step)
    section_mm = min(6.5, (bottom - top) * 0.2)
    room = left - sheet.margin_mm - 2
    low = sheet.write(address.section, sheet.margin_mm, top, section_mm, room, font=Font.BOLD) + 2.5
    half = (left - 3 - sheet.margin_mm) / 2
    cap = min(bottom - low - 5.0, 24.0)
    for place, (title, number) in enumerate(((message("COL"), address.column), (message("ROW"), address.row))):
        x = sheet.margin_mm + place * half
        sheet.write(title, x, low, 3.0, half, font=Font.BOLD)
        sheet.write(str(number), x, low + 4.6, cap, half - 3, font=Font.BOLD)


def _also(sheet: _Sheet, left: float, top: float, bottom: float, first: Address, others: tuple[Address, ...]) -> None:
    """The other addresses of the carton, as many as the room holds."""
    room = sheet.size_mm[0] - sheet.margin_mm - left
    fit = max(1, int((bottom - top - 4.5) / 4.0))
    top = sheet.write(message("ALSO"), left, top, 3.0, room, font=Font.BOLD) + 1.5
    for line in _also_lines(first, others, fit):
        top = sheet.write(line, left, top, 2.5, room, font=Font.BOLD) + 1.5


def _also_lines(first: Address, others: tuple[Address, ...], most: int) -> list[Text]:
    """Column and row of each, below the name of its section where that is another one: on one line it would be cut."""
    lines: list[Text] = []
    section = first.section
    for number, other in enumerate(others):
        new: list[Text] = [other.section] if other.section != section else []
        new.append(message("COL {column} ROW {row}", column=other.column, row=other.row))
        waiting = number + 1 < len(others)
        if len(lines) + len(new) + waiting > most:
            return [*lines, message("and {number} more", number=len(others) - number)]
        lines += new
        section = other.section
    return lines
