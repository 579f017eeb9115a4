"""What goes to the terminal: every command prints through here, so that no code on a label can steer the terminal."""

import json
import re
import sys
from typing import TextIO

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


def counted(number: int, one: str) -> str:
    """A count with its noun: "1 photo", "2 photos"."""
    return f"{number} {one}{'' if number == 1 else 's'}"


def show(text: str = "", *, to: TextIO | None = None) -> None:
    """Print a result, to standard output unless told otherwise."""
    clear_progress()
    print(visible(text), file=to or sys.stdout, flush=True)


def show_fault(text: str) -> None:
    """Print a fault or a warning, to standard error."""
    show(text, to=sys.stderr)


def show_json(value: object) -> None:
    """Print one JSON value on one line; what JSON leaves as it is and a terminal might obey is escaped too."""
    clear_progress()
    text = json.dumps(value, ensure_ascii=False)
    print(_STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text), flush=True)


_shown = [False]
"""Whether a line of progress is on the screen."""


def show_progress(what: str, done: int, total: int) -> None:
    """Say on a terminal how far long work is, in a line that the next result takes away; a pipe gets nothing."""
    if total > 1 and sys.stderr.isatty():
        _shown[0] = True
        print(f"\r\x1b[K{what} {done} of {total}", end="", file=sys.stderr, flush=True)


def clear_progress() -> None:
    """Take the line of progress off the screen."""
    if _shown[0]:
        _shown[0] = False
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
