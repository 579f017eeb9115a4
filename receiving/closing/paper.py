"""What all printed papers share: sheet, margins, styles, and a font that bears people's names."""

import unicodedata
from collections.abc import Container, Iterable
from functools import cache, partial
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from receiving.closing.label_drawing import Font, font_file, in_font
from receiving.closing.writing import as_drawn, cannot_be_set, font_runs, forms_of, other_fonts
from receiving.messages import ENGLISH, Speaker, message

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
    made, _ = print_pages(
        story, title=title, foot=foot, paper=paper, landscape=landscape, tagged=tagged, speaker=speaker
    )
    return made


def print_pages(
    story: Iterable[Any],
    *,
    title: str,
    foot: str,
    paper: str = "A4",
    landscape: bool = False,
    tagged: bool = False,
    speaker: Speaker = ENGLISH,
) -> tuple[bytes, int]:
    """The same as `print_paper`, with how many pages it took."""
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
        draw_line(canvas, foot, MARGIN_PT, MARGIN_PT / 2, 7)
        canvas.setFont(FAMILY, 7)
        canvas.drawRightString(
            page.pagesize[0] - MARGIN_PT, MARGIN_PT / 2, speaker.say(message("page {page}", page=page.page))
        )
        canvas.restoreState()

    maker = partial(TaggedCanvas, language=speaker.code) if tagged else Canvas
    document.build(list(story), onFirstPage=draw_foot, onLaterPages=draw_foot, canvasmaker=maker)
    return out.getvalue(), document.page


def draw_line(canvas: Any, words: str, x: float, y: float, size_pt: float) -> None:
    """One line of words from this point on, each run of letters in a font that has them."""
    for run, font in runs_in_fonts(as_drawn(words)):
        canvas.setFont(font, size_pt)
        canvas.drawString(x, y, run)
        x += canvas.stringWidth(run, font, size_pt)


def page_size_pt(paper: str, landscape: bool = False) -> tuple[float, float]:
    """Width and height of the sheet in points; whatever is not "Letter" is A4."""
    from reportlab.lib import pagesizes

    size: tuple[float, float] = pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4
    return (size[1], size[0]) if landscape else size


def text(words: str, style: str = "Normal", *, bold: bool = False) -> Any:
    """A paragraph of plain words, in letters that the fonts have."""
    from receiving.closing.paragraphs import paragraph

    return paragraph(words, styles()[style], bold=bold)


def in_fonts(words: str) -> str:
    """The words as reportlab's markup, each run of letters in a font that has them."""
    return "".join(
        escape(run) if font in (FAMILY, BOLD_FAMILY) else f'<font name="{font}">{escape(run)}</font>'
        for run, font in runs_in_fonts(words)
    )


def runs_in_fonts(words: str, own: str = FAMILY) -> list[tuple[str, str]]:
    """The words in runs of letters with the font of each, ``own`` or another writing system's.

    Where no font has a sign there is what `in_letters` makes of it.
    """
    runs = font_runs(unicodedata.normalize("NFC", words), FAMILY, _letters())
    return [(in_letters(run), own) if font == FAMILY else (run, font) for run, font in runs]


def _letters() -> Container[int]:
    """What the papers' own font has."""
    from reportlab.pdfbase import pdfmetrics

    register_family()
    has: Container[int] = pdfmetrics.getFont(FAMILY).face.charToGlyph
    return has


def in_letters(words: str) -> str:
    """The words in letters that the papers' font has."""
    return in_font(words, _letters())


def unprintable(words: str) -> str:
    """The letters of these words that cannot be printed as they are written, each once, in their order.

    No font here has them, or they run from right to left or join in a way that is not set here.
    """
    letters = unicodedata.normalize("NFC", words)
    lacking = (each for each in letters if not each.isspace() and (cannot_be_set(each) or not _has_all(forms_of(each))))
    return "".join(dict.fromkeys(lacking))


def _has_all(signs: tuple[str, ...]) -> bool:
    own = _letters()
    return all(ord(sign) in own or any(ord(sign) in codes for _, codes in other_fonts()) for sign in signs)


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
