"""A label as ink on paper in millimetres: one geometry, drawn by the PDF and by the picture alike.

The origin is the label's top left corner, y points down. Everything that a scanner measures is snapped to the
printer's dots, because a bar of 4.06 dots prints as 4 here and 5 there.
"""

import unicodedata
from collections.abc import Container
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path

from receiving.closing.label_symbols import Modules

MM_PER_INCH = 25.4
CAP_HEIGHT = 0.73
"""Height of a capital in Vera as a part of the font size."""


class Font(StrEnum):
    """The two fonts of a label, by the names of the files that reportlab ships (Bitstream Vera, free licence)."""

    PLAIN = "Vera"
    BOLD = "VeraBd"


@dataclass(frozen=True)
class Box:
    """A filled rectangle: left, top, width, height in mm; black unless ``white``."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    white: bool = False


@dataclass(frozen=True)
class Words:
    """One line of text: left end and baseline in mm, font size in mm; black unless ``white``."""

    text: str
    x_mm: float
    baseline_mm: float
    size_mm: float
    font: Font = Font.PLAIN
    white: bool = False


@dataclass(frozen=True)
class PlacedSymbol:
    """A symbol at its place: top left of the first module, module width and row height in mm."""

    modules: Modules
    x_mm: float
    y_mm: float
    module_mm: float
    row_mm: float

    @property
    def w_mm(self) -> float:
        """Width without quiet zones."""
        return self.modules.width * self.module_mm

    @property
    def h_mm(self) -> float:
        """Height without quiet zones."""
        return self.modules.height * self.row_mm

    def boxes(self) -> tuple[Box, ...]:
        """Its dark modules, each horizontal run as one rectangle."""
        step, row = self.module_mm, self.row_mm
        return tuple(
            Box(self.x_mm + x * step, self.y_mm + y * row, length * step, row) for y, x, length in self.modules.runs()
        )


@dataclass(frozen=True)
class LabelDrawing:
    """One label: its size in mm, the printer's resolution that it was snapped to, and its ink in painting order."""

    width_mm: float
    height_mm: float
    dpi: int
    boxes: tuple[Box, ...] = ()
    words: tuple[Words, ...] = ()
    symbols: tuple[PlacedSymbol, ...] = ()


def printable(text: str) -> str:
    """``text`` on one line, in characters that the font has."""
    return in_font(" ".join(text.split()))


def in_font(text: str, glyphs: Container[int] | None = None) -> str:
    """``text`` in characters that the font has: accents are dropped where needed, other scripts become ``?``.

    ``glyphs`` are the code points of another font than the labels' own.
    """
    has = _glyphs() if glyphs is None else glyphs
    plain = []
    for char in unicodedata.normalize("NFC", text):
        folded = unicodedata.normalize("NFKD", char)[0]
        plain.append(char if ord(char) in has else folded if ord(folded) in has else "?")
    return "".join(plain)


def width_of(text: str, size_mm: float, font: Font) -> float:
    """Width in mm of a line of text."""
    return float(_face(font).stringWidth(text, size_mm))


def fitted(
    text: str,
    x_mm: float,
    baseline_mm: float,
    size_mm: float,
    room_mm: float,
    *,
    font: Font = Font.PLAIN,
    white: bool = False,
) -> Words:
    """``text`` at this size, or smaller so that it fits in ``room_mm``; cut with … where it would be unreadable."""
    text = printable(text)
    least = min(size_mm, 2.2)
    wide = width_of(text, size_mm, font)
    size = max(least, size_mm * min(1.0, room_mm / wide)) if wide else size_mm
    while len(text) > 1 and width_of(text, size, font) > room_mm + 1e-6:
        text = text[:-2].rstrip() + "…"
    return Words(text, x_mm, baseline_mm, size, font, white)


def snapped(mm: float, dpi: int) -> float:
    """The whole number of printer dots that is nearest to ``mm``, in mm."""
    return round(mm * dpi / MM_PER_INCH) * MM_PER_INCH / dpi


def font_file(font: Font) -> Path:
    """Where reportlab keeps this font."""
    import reportlab

    return Path(reportlab.__file__).parent / "fonts" / f"{font}.ttf"


@cache
def _face(font: Font):  # type: ignore[no-untyped-def]
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    pdfmetrics.registerFont(TTFont(str(font), str(font_file(font))))
    return pdfmetrics.getFont(str(font))


@cache
def _glyphs() -> frozenset[int]:
    return frozenset(_face(Font.PLAIN).face.charToGlyph) & frozenset(_face(Font.BOLD).face.charToGlyph)
