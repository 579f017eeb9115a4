"""What all printed papers share: sheet, margins, styles, and a font that bears people's names."""

import unicodedata
from collections.abc import Container, Iterable, Iterator, Mapping
from functools import cache, partial
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import pagesizes
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import getSampleStyleSheet
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import SimpleDocTemplate

from receiving.closing.label_drawing import Font, fold_into_font, font_file
from receiving.closing.tagging import TaggedCanvas, TaggedParagraph
from receiving.closing.writing import (
    as_drawn,
    begins_right_to_left,
    cannot_be_set,
    font_runs,
    forms_of,
    other_fonts,
    runs_right_to_left,
)
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
    attached: Mapping[str, bytes] | None = None,
) -> tuple[bytes, int]:
    """The same as `print_paper`, with how many pages it took; ``attached``: files to put into a tagged one."""
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

    maker = partial(TaggedCanvas, language=speaker.code, attached=attached) if tagged else Canvas
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
    size: tuple[float, float] = pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4
    return (size[1], size[0]) if landscape else size


def text(words: str, style: str = "Normal", *, bold: bool = False) -> Any:
    """A paragraph of plain words, in letters that the fonts have."""
    return paragraph(words, styles()[style], bold=bold)


def set_in_fonts(words: str) -> str:
    """The words as reportlab's markup, each run of letters in a font that has them."""
    return "".join(
        escape(run) if font in (FAMILY, BOLD_FAMILY) else f'<font name="{font}">{escape(run)}</font>'
        for run, font in runs_in_fonts(words)
    )


def runs_in_fonts(words: str, own: str = FAMILY) -> list[tuple[str, str]]:
    """The words in runs of letters with the font of each, ``own`` or another writing system's.

    Where no font has a sign there is what `fit_letters` makes of it.
    """
    runs = font_runs(unicodedata.normalize("NFC", words), FAMILY, _letters())
    return [(fit_letters(run), own) if font == FAMILY else (run, font) for run, font in runs]


def _letters() -> Container[int]:
    """What the papers' own font has."""
    register_family()
    has: Container[int] = pdfmetrics.getFont(FAMILY).face.charToGlyph
    return has


def fit_letters(words: str) -> str:
    """The words in letters that the papers' font has."""
    return fold_into_font(words, _letters())


def find_unprintable(words: str) -> str:
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
    register_family()
    sheet = getSampleStyleSheet()
    for style in sheet.byName.values():
        if "fontName" in vars(style) and style.name != "Code":
            style.fontName = BOLD_FAMILY if "Bold" in style.fontName else FAMILY
    return sheet


@cache
def register_family() -> None:
    """Make the papers' font known to reportlab under `FAMILY` and `BOLD_FAMILY`."""
    shipped = (font_file(Font.PLAIN), font_file(Font.BOLD))
    plain, bold = next((pair for pair in _WIDE_FONTS if all(file.exists() for file in pair)), shipped)
    pdfmetrics.registerFont(TTFont(FAMILY, str(plain)))
    pdfmetrics.registerFont(TTFont(BOLD_FAMILY, str(bold)))
    pdfmetrics.registerFontFamily(FAMILY, normal=FAMILY, bold=BOLD_FAMILY, italic=FAMILY, boldItalic=BOLD_FAMILY)


# Paragraphs of papers in any writing system that is set here: broken into lines as read, then drawn as written.
#
# Reportlab breaks a text where it stands and draws it from left to right, so a Hebrew or Arabic text goes to it line by
# line: broken in the order of reading, each line then in the order of the page (UAX #9, L2). What was written stays
# with the paragraph for whoever copies, searches or hears it (ActualText, ISO 32000-1, 14.9.4).


NO_BREAK = "\u00a0"
_ROUNDING_PT = 0.01


def paragraph(words: str, style: Any, *, bold: bool = False) -> Any:
    """A paragraph of plain words, in letters that the fonts have."""
    if not runs_right_to_left(words):
        return TaggedParagraph(_markup(words, bold=bold), style)
    from_right = begins_right_to_left(words)
    if from_right and style.alignment == TA_LEFT:
        style = type(style)(f"{style.name}FromRight", parent=style, alignment=TA_RIGHT)
        style.name = style.parent.name
    made = RightToLeftParagraph(_markup(as_drawn(words, right_to_left=from_right), bold=bold), style)
    made.written, made.from_right, made.bold = words, from_right, bold
    return made


def _markup(words: str, *, bold: bool) -> str:
    set_ = "&nbsp;".join(map(set_in_fonts, words.split(NO_BREAK)))
    return f"<b>{set_}</b>" if bold else set_


class RightToLeftParagraph(TaggedParagraph):
    """A paragraph with letters that run from right to left; ``written`` is its text as it was written."""

    written = ""
    from_right = False
    bold = False
    _set_for = 0.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Break what was written into lines of this width, and set them as they are drawn."""
        if self.written and self._set_for != width:
            style = self.style
            room = width - style.leftIndent - style.rightIndent - max(0, style.firstLineIndent) - _ROUNDING_PT
            lines = (as_drawn(line, right_to_left=self.from_right) for line in self._lines(room))
            set_ = "<br/>".join(_markup(line.replace(" ", NO_BREAK), bold=self.bold) for line in lines)
            self._setup(set_, style, None, None, lambda text: text)
            self._set_for = width
        return super().wrap(width, height)  # type: ignore[no-any-return]

    def _lines(self, room: float) -> Iterator[str]:
        """The text in lines that fit, broken between words; a word that is longer than a line is broken in it."""
        line = ""
        for word in self.written.split():
            longer = f"{line} {word}" if line else word
            if self._width(longer) <= room:
                line = longer
                continue
            if line:
                yield line
            while self._width(word) > room and len(word) > 1:
                fit = next((n for n in range(len(word) - 1, 1, -1) if self._width(word[:n]) <= room), 1)
                yield word[:fit]
                word = word[fit:]
            line = word
        if line:
            yield line

    def _width(self, line: str) -> float:
        drawn = as_drawn(line, right_to_left=self.from_right)
        own = BOLD_FAMILY if self.bold else self.style.fontName
        return float(sum(stringWidth(run, font, self.style.fontSize) for run, font in runs_in_fonts(drawn, own)))
