"""What all printed papers share: sheet, margins, styles, and a font that bears people's names."""

import unicodedata
from collections.abc import Iterable
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from unicodedata import bidirectional
from xml.sax.saxutils import escape

from receiving.closing.label_drawing import Font, font_file, in_font

MARGIN_PT = 42.0
FAMILY, BOLD_FAMILY = "Paper", "Paper-Bold"

_WIDE_FONTS = tuple(
    (Path(folder) / plain, Path(folder) / bold)
    for folder, plain, bold in (
        ("/usr/share/fonts/truetype/dejavu", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
        ("/usr/share/fonts/dejavu-sans-fonts", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
        ("/usr/share/fonts/truetype/noto", "NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
        ("/System/Library/Fonts/Supplemental", "Arial.ttf", "Arial Bold.ttf"),
        ("C:/Windows/Fonts", "arial.ttf", "arialbd.ttf"),
    )
)


def print_paper(
    story: Iterable[Any], *, title: str, foot: str, paper: str = "A4", landscape: bool = False, tagged: bool = False
) -> bytes:
    """The story (reportlab flowables) as a PDF on "A4" or "Letter", with ``foot`` and the page number below.

    The same story gives the same bytes. ``tagged``: the story is of `receiving.closing.tagging`, and its structure goes
    into the file.
    """
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import SimpleDocTemplate

    from receiving.closing.tagging import TaggedCanvas

    out = BytesIO()
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN_PT)
    document = SimpleDocTemplate(out, pagesize=page_size_pt(paper, landscape), title=title, invariant=1, **margins)

    def draw_foot(canvas: Any, page: Any) -> None:
        canvas.saveState()
        canvas.setFont(styles()["Normal"].fontName, 7)
        canvas.drawString(MARGIN_PT, MARGIN_PT / 2, foot)
        canvas.drawRightString(page.pagesize[0] - MARGIN_PT, MARGIN_PT / 2, f"page {page.page}")
        canvas.restoreState()

    maker = TaggedCanvas if tagged else Canvas
    document.build(list(story), onFirstPage=draw_foot, onLaterPages=draw_foot, canvasmaker=maker)
    return out.getvalue()


def page_size_pt(paper: str, landscape: bool = False) -> tuple[float, float]:
    """Width and height of the sheet in points; whatever is not "Letter" is A4."""
    from reportlab.lib import pagesizes

    size: tuple[float, float] = pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4
    return (size[1], size[0]) if landscape else size


def text(words: str, style: str = "Normal", *, bold: bool = False) -> Any:
    """A paragraph of plain words, in letters that the font has."""
    from receiving.closing.tagging import TaggedParagraph

    safe = escape(in_letters(words))
    return TaggedParagraph(f"<b>{safe}</b>" if bold else safe, styles()[style])


def in_letters(words: str) -> str:
    """The words in letters that the papers' font has."""
    from reportlab.pdfbase import pdfmetrics

    register_family()
    return in_font(words, pdfmetrics.getFont(FAMILY).face.charToGlyph)


def unprintable(words: str) -> str:
    """The letters of these words that cannot be printed as they are written, each once, in their order.

    The papers' font lacks them, or they are written from right to left, joined, which is not done here.
    """
    from reportlab.pdfbase import pdfmetrics

    register_family()
    has = pdfmetrics.getFont(FAMILY).face.charToGlyph
    letters = unicodedata.normalize("NFC", words)
    bad = (
        each for each in letters if (ord(each) not in has or bidirectional(each) in ("R", "AL")) and not each.isspace()
    )
    return "".join(dict.fromkeys(bad))


@cache
def styles() -> Any:
    """Reportlab's sample styles, set in a font that knows more than western Europe's letters where one is installed."""
    from reportlab.lib.styles import getSampleStyleSheet

    register_family()
    sheet = getSampleStyleSheet()
    for style in sheet.byName.values():
        if "fontName" in vars(style) and style.name != "Code":
            style.fontName = BOLD_FAMILY if "Bold" in style.fontName else FAMILY
    return sheet


@cache
def register_family() -> None:
    """Make the papers' font known to reportlab under `FAMILY` and `BOLD_FAMILY`."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    shipped = (font_file(Font.PLAIN), font_file(Font.BOLD))
    plain, bold = next((pair for pair in _WIDE_FONTS if all(file.exists() for file in pair)), shipped)
    pdfmetrics.registerFont(TTFont(FAMILY, str(plain)))
    pdfmetrics.registerFont(TTFont(BOLD_FAMILY, str(bold)))
    pdfmetrics.registerFontFamily(FAMILY, normal=FAMILY, bold=BOLD_FAMILY, italic=FAMILY, boldItalic=BOLD_FAMILY)
