"""Paragraphs of papers in any writing system that is set here: broken into lines as read, then drawn as written.

Reportlab breaks a text where it stands and draws it from left to right, so a Hebrew or Arabic text goes to it line by
line: broken in the order of reading, each line then in the order of the page (UAX #9, L2). What was written stays with
the paragraph for whoever copies, searches or hears it (ActualText, ISO 32000-1, 14.9.4).
"""

from collections.abc import Iterator
from typing import Any

from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.pdfbase.pdfmetrics import stringWidth

from receiving.closing.paper import BOLD_FAMILY, in_fonts, runs_in_fonts
from receiving.closing.tagging import TaggedParagraph
from receiving.closing.writing import as_drawn, begins_right_to_left, runs_right_to_left

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
    set_ = "&nbsp;".join(map(in_fonts, words.split(NO_BREAK)))
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
