"""Characters of a text that show nothing or turn the text around them, so that it reads other than it is.

Sources: Unicode Standard Annex 9 (explicit directional formatting characters), Unicode Technical Reports 36
(section 2, visual spoofing) and 39 (section 5). Joiners and the marks of direction that Arabic, Hebrew and Indic
scripts are typed with (U+200C to U+200F, U+061C) stay: they change no order beyond their own letters.
"""

import unicodedata

from receiving.messages import Text, message

_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Embeddings, overrides and isolates, with what ends them (UAX 9, table 1)."""

_SHOWING_NOTHING = frozenset("\ufeff\u2028\u2029\u206a\u206b\u206c\u206d\u206e\u206f\ufff9\ufffa\ufffb")
"""A byte order mark within a text, separators of lines, and format controls that nobody uses any more."""

_OF_LINES = frozenset("\t\n\r")


def find_hidden_character(text: str, *, lines: bool = True) -> int | None:
    r"""The index of the first character that may not stand in what people write; None where each may.

    ``lines``: it may have several lines.

    >>> find_hidden_character("Ida\u202e greB")
    3
    """
    if text.isascii() and text.isprintable():
        return None
    return next((at for at, character in enumerate(text) if _is_hidden(character, lines=lines)), None)


def _is_hidden(character: str, *, lines: bool) -> bool:
    if character in _OF_LINES:
        return not lines
    point = ord(character)
    not_a_character = 0xFDD0 <= point <= 0xFDEF or point & 0xFFFE == 0xFFFE
    return (
        unicodedata.category(character) in ("Cc", "Cs")
        or character in _TURNING
        or character in _SHOWING_NOTHING
        or not_a_character
    )


def hidden_character_words(text: str, *, lines: bool = True) -> Text:
    """Which character may not stand in this text, and where; empty where each may."""
    at = find_hidden_character(text, lines=lines)
    if at is None:
        return ""
    values: dict[str, object] = {"place": at + 1, "character": f"U+{ord(text[at]):04X}"}
    if text[at] in _TURNING:
        return message("character {place} is {character}, which turns the order of the text around it", **values)
    return message("character {place} is {character}, which shows nothing", **values)


def without_hidden_characters(text: str) -> str:
    """One line of text without such characters, for names of files, which nobody types."""
    return "".join(character for character in text if not _is_hidden(character, lines=False))
