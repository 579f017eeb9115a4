"""What all printed papers share: sheet, margins, styles, and a font that bears people's names."""

from collections.abc import Iterable
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
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


def print_paper(story: Iterable[Any], *, title: str, foot: str, paper: str = "A4", landscape: bool = False) -> bytes:
    """The story (reportlab flowables) as a PDF on "A4" or "Letter", with ``foot`` and the page number below.

    The same story gives the same bytes.
    """
    from reportlab.platypus import SimpleDocTemplate

    out = BytesIO()
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN_PT)
    document = SimpleDocTemplate(out, pagesize=page_size_pt(paper, landscape), title=title, invariant=1, **margins)

    def draw_foot(canvas: Any, page: Any) -> None:
        canvas.saveState()
        canvas.setFont(styles()["Normal"].fontName, 7)
        canvas.drawString(MARGIN_PT, MARGIN_PT / 2, foot)
        canvas.drawRightString(page.pagesize[0] - MARGIN_PT, MARGIN_PT / 2, f"page {page.page}")
        canvas.restoreState()

    document.build(list(story), onFirstPage=draw_foot, onLaterPages=draw_foot)
    return out.getvalue()


def page_size_pt(paper: str, landscape: bool = False) -> tuple[float, float]:
    """Width and height of the sheet in points; whatever is not "Letter" is A4."""
    from reportlab.lib import pagesizes

    size: tuple[float, float] = pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4
    return (size[1], size[0]) if landscape else size


def text(words: str, style: str = "Normal", *, bold: bool = False) -> Any:
    """A paragraph of plain words, in letters that the font has."""
    from reportlab.platypus import Paragraph

    safe = escape(in_letters(words))
    return Paragraph(f"<b>{safe}</b>" if bold else safe, styles()[style])


def in_letters(words: str) -> str:
    """The words in letters that the papers' font has."""
    from reportlab.pdfbase import pdfmetrics

    register_family()
    return in_font(words, pdfmetrics.getFont(FAMILY).face.charToGlyph)


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
