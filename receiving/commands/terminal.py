"""What goes to the terminal: every command prints through here, so that no code on a label can steer the terminal.

People read it, so messages are said in the language of the environment (LANGUAGE, LC_ALL, LC_MESSAGES, LANG); what is
printed for machines, as JSON, stays English.
"""

import json
import os
import re
import sys
from functools import cache
from typing import TextIO

from receiving.errors import FileFaults, ReceivingError, StoreError
from receiving.language import LANGUAGES, best_language, environment_tags, language_of
from receiving.messages import ENGLISH, Message, Speaker, Text, joined, message

_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
"""Control characters (ECMA-48, C0 and C1) but tab and line feed, and those that turn the direction of writing round
(Unicode Standard Annex 9)."""


def visible(text: str) -> str:
    r"""The text with every control character written out, so that it does nothing: ESC as ``\x1b``.

    A GS, which separates the elements of a GS1 element string, is written ``<GS>``, as elsewhere.
    """
    return _STEERING.sub(_written_out, text)


def _written_out(found: re.Match[str]) -> str:
    code = ord(found[0])
    return "<GS>" if code == 0x1D else f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


@cache
def speaker() -> Speaker:
    """The language of the environment; English where the libraries of the others are not installed yet."""
    code = best_language(environment_tags(os.environ), of=LANGUAGES)
    if code == ENGLISH.code:
        return ENGLISH
    try:
        return language_of(code)
    except ImportError:  # it needs Babel, and help is shown before that is installed
        return ENGLISH


def say(words: Text) -> str:
    """A message in the language of the environment."""
    return speaker().say(words)


def _(text: str) -> str:
    """A text without values in the language of the environment; the extraction of the catalogues knows this name."""
    return say(Message(text))


def show(words: Text = "", *, to: TextIO | None = None) -> None:
    """Print a result, to standard output unless told otherwise."""
    clear_progress()
    print(visible(say(words)), file=to or sys.stdout, flush=True)


def show_fault(words: Text) -> None:
    """Print a fault or a warning, to standard error."""
    show(words, to=sys.stderr)


def fault_words(fault: ReceivingError) -> Text:
    """All that an error says, on as many lines as it takes, with the place of the data where it is about them."""
    if isinstance(fault, FileFaults):
        return joined(*fault.lines, separator="\n")
    if isinstance(fault, StoreError) and fault.where:
        return message("{place}: {fault}", place=fault.where, fault=fault.words)
    return fault.words


def show_json(value: object) -> None:
    """Print one JSON value on one line; what JSON leaves as it is and a terminal might obey is escaped too."""
    clear_progress()
    text = json.dumps(value, ensure_ascii=False)
    print(_STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text), flush=True)


_shown = [False]
"""Whether a line of progress is on the screen."""


def show_photo_progress(done: int, total: int) -> None:
    """Say on a terminal how many photos are read, in a line that the next result takes away; a pipe gets nothing."""
    if total > 1 and sys.stderr.isatty():
        _shown[0] = True
        words = visible(say(message("photo {number} of {total}", number=done, total=total)))
        print(f"\r\x1b[K{words}", end="", file=sys.stderr, flush=True)


def clear_progress() -> None:
    """Take the line of progress off the screen."""
    if _shown[0]:
        _shown[0] = False
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
