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

import reportlab
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfbase.ttfonts import TTFont

from receiving.closing.label_symbols import Modules
from receiving.closing.writing import (
    as_drawn,
    cannot_be_set,
    font_file_named,
    font_runs,
    forms_of,
    other_fonts,
    packages_with,
)
from receiving.errors import BadRequest
from receiving.messages import Message, listing, message

MM_PER_INCH = 25.4
CAP_HEIGHT = 0.73
"""Height of a capital in Vera as a part of the font size."""


class Font(StrEnum):
    """The fonts of a label, by the names of their files.

    Two that reportlab ships (Bitstream Vera, free licence), and two with more scripts that are used where they are
    installed (DejaVu, made from Vera, free licence; Debian: fonts-dejavu-core).
    """

    PLAIN = "Vera"
    BOLD = "VeraBd"
    WIDE = "DejaVuSans"
    WIDE_BOLD = "DejaVuSans-Bold"


_WIDER = {Font.PLAIN: Font.WIDE, Font.BOLD: Font.WIDE_BOLD}


@dataclass(frozen=True)
class Box:
    """A black rectangle: left, top, width, height in mm."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


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


def make_printable(text: str) -> str:
    """``text`` on one line, in characters that the font has."""
    return fold_into_font(" ".join(text.split()))


def font_for(text: str, font: Font, *, on_manifest: bool = True) -> Font:
    """This font, or the wider one where it is installed and the text needs it; BadRequest names what none can print.

    Accents that this font lacks are left out only where the wider one is not installed. East Asian letters come from
    fonts of their own. Letters that stack or join in a way that is not set here (Thai, Indic scripts) are refused.
    """
    missing, wide = _letters_missing(text, _needed(text, font)), _WIDER.get(font, font)
    lacking = _letters_missing(text, _needed(text, wide)) if is_installed(wide) else missing
    if not missing:
        accents = not lacking and is_installed(wide) and _as_written(text, wide) > _as_written(text, font)
        return wide if accents else font
    lacking += "".join(char for char in missing if _needs_shaping(char) and char not in lacking)
    if not lacking:
        return wide
    shown = ", ".join(f"{char} (U+{ord(char):04X})" for char in dict.fromkeys(lacking[:6]))
    raise BadRequest(
        message("The label's fonts cannot print {letters} of {text}.", letters=shown, text=repr(text[:60])),
        next_step=_other_letters(packages_with(lacking), on_manifest=on_manifest),
    )


def _other_letters(packages: tuple[str, ...], *, on_manifest: bool) -> Message:
    if not packages:
        if on_manifest:
            return message("Write it in Latin letters on the manifest.")
        return message("Write it in Latin letters.")
    if on_manifest:
        return message(
            "Write it in Latin letters on the manifest, or install a font with them (Debian: {packages}).",
            packages=listing(packages),
        )
    return message(
        "Write it in Latin letters, or install a font with them (Debian: {packages}).", packages=listing(packages)
    )


def check_letters(text: str) -> None:
    """BadRequest names the letters of ``text``, which is on no manifest, that no font of a label can print."""
    font_for(text, Font.PLAIN, on_manifest=False)


def _as_written(text: str, font: Font) -> int:
    """How many characters of the text this font prints as they are, accents and all."""
    return sum(ord(char) in _glyphs(font) for char in unicodedata.normalize("NFC", text))


def is_installed(font: Font) -> bool:
    """Whether this font's file is on this machine."""
    return _file_of(font) is not None


def _letters_missing(text: str, has: Container[int]) -> str:
    """Letters and digits that the font lacks and that no accent explains; others may be left out of a label."""
    return "".join(
        char
        for char in unicodedata.normalize("NFC", text)
        if unicodedata.category(char)[0] in "LNM"
        and not all(ord(form) in has for form in forms_of(char))
        and ord(unicodedata.normalize("NFKD", char)[0]) not in has
    )


def _needs_shaping(char: str) -> bool:
    return cannot_be_set(char) or (unicodedata.category(char) in ("Mn", "Mc") and bool(forms_of(char)))


def fold_into_font(text: str, glyphs: Container[int] | None = None) -> str:
    """``text`` in characters that the font has: accents are dropped where needed, other scripts become ``?``.

    ``glyphs`` are the code points of another font than the labels' own.
    """
    has = _glyphs(Font.PLAIN) if glyphs is None else glyphs
    plain = []
    for char in unicodedata.normalize("NFC", text):
        folded = unicodedata.normalize("NFKD", char)[0]
        plain.append(char if ord(char) in has else folded if ord(folded) in has else "?")
    return "".join(plain)


def split_into_runs(text: str, font: Font) -> list[tuple[str, str]]:
    """One line of a label as its glyphs follow each other, in runs with the name of the font of each."""
    return font_runs(as_drawn(text), str(font), _glyphs(font))


def width_of(text: str, size_mm: float, font: Font) -> float:
    """Width in mm of a line of text."""
    return float(sum(stringWidth(run, name, size_mm) for run, name in split_into_runs(text, font)))


def fit_words(
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
    text = " ".join(text.split())
    font = font_for(text, font)
    text = fold_into_font(text, _needed(text, font))
    least = min(size_mm, 2.2)
    wide = width_of(text, size_mm, font)
    size = max(least, size_mm * min(1.0, room_mm / wide)) if wide else size_mm
    while len(text) > 1 and width_of(text, size, font) > room_mm + 1e-6:
        text = text[:-2].rstrip() + "…"
    return Words(text, x_mm, baseline_mm, size, font, white)


def snap_to_dots(mm: float, dpi: int) -> float:
    """The whole number of printer dots that is nearest to ``mm``, in mm."""
    return round(mm * dpi / MM_PER_INCH) * MM_PER_INCH / dpi


def font_file(font: str) -> Path:
    """Where the font of this name is: beside reportlab, or in the system's folders."""
    found = _file_of(font)
    if found is None:
        raise BadRequest(
            message("The font {font} is not installed.", font=font), next_step=message("Install it and print again.")
        )
    return found


@cache
def _file_of(font: str) -> Path | None:
    own = Path(reportlab.__file__).parent / "fonts" / f"{font}.ttf"
    return own if own.is_file() else font_file_named(font)


@cache
def _face(font: Font):  # type: ignore[no-untyped-def]
    pdfmetrics.registerFont(TTFont(str(font), str(font_file(font))))
    return pdfmetrics.getFont(str(font))


@cache
def _glyphs(font: Font) -> frozenset[int]:
    return frozenset(_face(font).face.charToGlyph)


def _needed(text: str, font: Font) -> frozenset[int]:
    """What this font has; with what those of other writing systems have, where the text asks for it."""
    return _with_others(font) if _letters_missing(text, _glyphs(font)) else _glyphs(font)


@cache
def _with_others(font: Font) -> frozenset[int]:
    return _glyphs(font).union(*(codes for _, codes in other_fonts()))
