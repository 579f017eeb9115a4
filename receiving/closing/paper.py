"""What all printed papers share: sheet, margins, styles, and a font that bears people's names."""

import unicodedata
from collections.abc import Iterable
from functools import cache, partial
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Any
from unicodedata import bidirectional
from xml.sax.saxutils import escape

from receiving.closing.label_drawing import Font, font_file, in_font
from receiving.messages import ENGLISH, Speaker, message

MARGIN_PT = 42.0
FAMILY, BOLD_FAMILY, EAST_ASIAN = "Paper", "Paper-Bold", "Paper-EastAsian"

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

_EAST_ASIAN_FONTS = tuple(
    Path(folder) / name
    for folder, name in (
        ("/usr/share/fonts/truetype/droid", "DroidSansFallbackFull.ttf"),
        ("/usr/share/fonts/google-droid-sans-fonts", "DroidSansFallbackFull.ttf"),
        ("/System/Library/Fonts/Supplemental", "Arial Unicode.ttf"),
    )
)
"""Fonts of East Asian letters whose outlines reportlab can put into a file; the first one has no Hangul."""


def print_paper(
    story: Iterable[Any],
    *,
    title: str,
    foot: str,
    paper: str = "A4",
    landscape: bool = False,
    tagged: bool = False,
    speaker: Speaker = ENGLISH,
) -> bytes:
    """The story (reportlab flowables) as a PDF on "A4" or "Letter", with ``foot`` and the page number below.

    The same story gives the same bytes. ``tagged``: the story is of `receiving.closing.tagging`, and its structure goes
    into the file. ``speaker`` is the language of the story.
    """
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import SimpleDocTemplate

    from receiving.closing.tagging import TaggedCanvas

    out = BytesIO()
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN_PT)
    document = SimpleDocTemplate(
        out, pagesize=page_size_pt(paper, landscape), title=title, invariant=1, lang=speaker.code, **margins
    )

    def draw_foot(canvas: Any, page: Any) -> None:
        canvas.saveState()
        canvas.setFont(styles()["Normal"].fontName, 7)
        canvas.drawString(MARGIN_PT, MARGIN_PT / 2, foot)
        canvas.drawRightString(
            page.pagesize[0] - MARGIN_PT, MARGIN_PT / 2, speaker.say(message("page {page}", page=page.page))
        )
        canvas.restoreState()

    maker = partial(TaggedCanvas, language=speaker.code) if tagged else Canvas
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

    safe = in_fonts(words)
    return TaggedParagraph(f"<b>{safe}</b>" if bold else safe, styles()[style])


def in_fonts(words: str) -> str:
    """The words as reportlab's markup, each run of letters in a font that has them."""
    register_family()
    east_asian = _east_asian_letters()
    runs = groupby(unicodedata.normalize("NFC", words), lambda each: ord(each) in east_asian)
    parts = (("".join(letters), other) for other, letters in runs)
    return "".join(
        f'<font name="{EAST_ASIAN}">{escape(run)}</font>' if other else escape(in_letters(run)) for run, other in parts
    )


@cache
def _east_asian_letters() -> frozenset[int]:
    """The letters that the papers' font lacks and another one here has; none are written from right to left."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    file = next((file for file in _EAST_ASIAN_FONTS if file.exists()), None)
    if file is None:
        return frozenset()
    font = TTFont(EAST_ASIAN, str(file))
    pdfmetrics.registerFont(font)
    lacking = font.face.charToGlyph.keys() - pdfmetrics.getFont(FAMILY).face.charToGlyph.keys()
    return frozenset(
        each for each in lacking if bidirectional(chr(each)) not in ("R", "AL") and each >= _FIRST_EAST_ASIAN
    )


_FIRST_EAST_ASIAN = 0x1100
"""Where the Hangul Jamo begin (Unicode block list): what comes before are scripts of other shapes."""


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
        each
        for each in letters
        if not each.isspace()
        and ord(each) not in _east_asian_letters()
        and (ord(each) not in has or bidirectional(each) in ("R", "AL"))
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
