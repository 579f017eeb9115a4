"""Writing systems on paper: which way letters run, how they join, and in which installed font each is.

The problem: a PDF and a picture draw glyph after glyph from left to right, each as it is asked for. The method: Hebrew
and Arabic are put into the order of the page by the Unicode Bidirectional Algorithm (UAX #9; the library python-bidi),
Arabic letters into the forms in which they join (Unicode's Arabic Presentation Forms; the library arabic-reshaper).
Invariant: texts stay as they were written until they are drawn; letters that would come out apart, in the wrong order
or not at all are named before.
"""

import re
import unicodedata
from collections.abc import Callable, Container, Iterator
from functools import cache
from itertools import groupby
from pathlib import Path

from arabic_reshaper import ArabicReshaper
from arabic_reshaper.letters import LETTERS_ARABIC
from bidi import get_base_level, get_display
from bidi.mirror import MIRRORED
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

_HEBREW = "\u05be\u05c0\u05c3\u05d0-\u05ea\u05f0-\u05f4\ufb1d-\ufb4f"
_ARABIC = "\u0600-\u06ff\ufb50-\ufdff\ufe70-\ufefc"
_RIGHT_TO_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff]")
_SET_HERE = re.compile(f"[{_HEBREW}{_ARABIC}]")
_POINTS = (
    "\u0591-\u05bd\u05bf\u05c1\u05c2\u05c4\u05c5\u05c7"
    "\u0610-\u061a\u064b-\u065f\u0670\u06d6-\u06dc\u06df-\u06e8\u06ea-\u06ed"
)
"""Points of Hebrew and of Arabic, which say how a word sounds: whoever reads the language reads without them."""
_MARKS = re.compile(f"[{_POINTS}\u034f]")
_UNDRAWN = re.compile("[\u061c\u200b-\u200f\u202a-\u202e\u2060\u2066-\u2069]")
"""Characters that say how letters run and join, and are not drawn themselves."""

FONT_FOLDERS = (
    "/usr/share/fonts",
    "/usr/local/share/fonts",
    "~/.local/share/fonts",
    "~/.fonts",
    "/System/Library/Fonts/Supplemental",
    "/Library/Fonts",
    "~/Library/Fonts",
    "C:/Windows/Fonts",
)

OTHER_FONTS = {
    "EastAsian": ("DroidSansFallbackFull", "Arial Unicode"),
    "Korean": ("NanumGothic", "UnDotum", "AppleGothic", "malgun"),
}
"""Fonts for letters that the others lack, by the names of their files; their outlines are TrueType, which is what
reportlab can put into a file. In Debian: fonts-droid-fallback (Apache), fonts-nanum (OFL), fonts-unfonts-core (GPL)."""
_FIRST_EAST_ASIAN = 0x1100
"""Where the Hangul Jamo begin (Unicode block list): what comes before are scripts of other shapes."""
_RIGHT_TO_LEFT_FORMS = frozenset((*range(0xFB1D, 0xFE00), *range(0xFE70, 0xFF00)))
"""Forms of Hebrew and Arabic letters stand in one font with the letters."""

_PACKAGES = (
    ("fonts-nanum", "NanumGothic", re.compile("[\u1100-\u11ff\u3130-\u318f\ua960-\ua97f\uac00-\ud7ff]")),
    ("fonts-droid-fallback", "DroidSansFallbackFull", re.compile("[\u2e80-\u9fff\uf900-\ufaff\uff00-\uffef]")),
    ("fonts-dejavu-core", "DejaVuSans", re.compile("[\u00a0-\u058f\u05d0-\u06ff\u1e00-\u1fff\u2000-\u2bff]")),
)


@cache
def font_file_named(name: str) -> Path | None:
    """The file of this font in the system's folders; None where it is not installed."""
    folders = (Path(folder).expanduser() for folder in FONT_FOLDERS)
    return next((file for folder in folders if folder.is_dir() for file in folder.rglob(f"{name}.ttf")), None)


@cache
def other_fonts() -> tuple[tuple[str, frozenset[int]], ...]:
    """The installed ones of `OTHER_FONTS`, by the names of their files, as reportlab knows them, with their letters."""
    found = []
    for files in OTHER_FONTS.values():
        name = next(filter(font_file_named, files), None)
        if name is not None:
            font = TTFont(name, str(font_file_named(name)))
            pdfmetrics.registerFont(font)
            has = frozenset(each for each in font.face.charToGlyph if each >= _FIRST_EAST_ASIAN)
            found.append((name, has - _RIGHT_TO_LEFT_FORMS))
    return tuple(found)


def packages_with(letters: str) -> tuple[str, ...]:
    """The packages of Debian whose fonts would print these letters and are not installed here."""
    return tuple(
        package
        for package, font, has in _PACKAGES
        if has.search(letters) and font_file_named(font) is None and not all(map(cannot_be_set, letters))
    )


def runs_right_to_left(text: str) -> bool:
    """Whether any letter of the text is written from right to left."""
    return not text.isascii() and _RIGHT_TO_LEFT.search(text) is not None


def begins_right_to_left(text: str) -> bool:
    """Whether the text as a whole is read from right to left: its first letter decides (UAX #9, rules P2 and P3)."""
    return runs_right_to_left(text) and get_base_level(text) == 1


def as_drawn(text: str, *, right_to_left: bool | None = None) -> str:
    r"""One line as its glyphs follow each other from left to right; what has no right-to-left letters stays.

    ``right_to_left``: how the paragraph runs that the line is of; None where the line stands alone.

    >>> as_drawn("Dana"), as_drawn("\u05d0\u05d1 12") == "12 \u05d1\u05d0"
    ('Dana', True)
    """
    if not runs_right_to_left(text):
        return text
    base = None if right_to_left is None else "R" if right_to_left else "L"
    drawn = get_display(_with_marks(_joiner()(_MARKS.sub("", text))), base_dir=base)
    assert isinstance(drawn, str)
    return "".join(_mirrored(_UNDRAWN.sub("", drawn)))


_MARK = "\u034f"
"""A character that is not drawn and runs as the one that it follows does (UAX #9, W1 and N0): behind a bracket it tells
which way that one came to run, as the library gives places and no levels."""


def _with_marks(text: str) -> str:
    return "".join(each + _MARK if unicodedata.mirrored(each) else each for each in text)


def _mirrored(drawn: str) -> Iterator[str]:
    """The characters without marks; a bracket that runs right to left, thus behind its mark, as its mirror."""
    characters = iter(drawn)
    for character in characters:
        if character == _MARK:
            bracket = next(characters, "")
            yield MIRRORED.get(bracket, bracket)
            continue
        yield character
        if unicodedata.mirrored(character):
            next(characters, "")


@cache
def _joiner() -> Callable[[str], str]:
    # Of ligatures those alone without which a text is misspelt; others are in few fonts.
    return ArabicReshaper({"delete_harakat": True, "ARABIC LIGATURE ALLAH": False}).reshape  # type: ignore[no-any-return]


def cannot_be_set(char: str) -> bool:
    """Whether a letter would come out in the wrong order or apart: a right-to-left script that is not set here."""
    if not runs_right_to_left(char) or _MARKS.match(char):
        return False
    return not _SET_HERE.match(char) or _stays_apart(char)


def forms_of(char: str) -> tuple[str, ...]:
    """The shapes in which this letter is drawn: an Arabic one has up to four, a point of a letter none."""
    if char.isascii() or not runs_right_to_left(char):
        return (char,)
    if _MARKS.match(char):
        return ()
    return tuple(filter(None, LETTERS_ARABIC.get(char, (char,))))


def _stays_apart(char: str) -> bool:
    """An Arabic letter without the forms in which it joins."""
    return unicodedata.category(char) == "Lo" and "\u0620" <= char <= "\u06ff" and char not in LETTERS_ARABIC


def font_runs(text: str, own: str, has: Container[int]) -> list[tuple[str, str]]:
    """The text in runs of letters, each with the name of its font: ``own``, or the first other one that has them.

    A character that none has goes with ``own``. The others are looked for where the text asks for them.
    """
    if all(ord(char) in has for char in text):
        return [(text, own)] if text else []

    def font_of(char: str) -> str:
        if ord(char) in has:
            return own
        return next((name for name, codes in other_fonts() if ord(char) in codes), own)

    return [("".join(run), name) for name, run in groupby(text, key=font_of)]
