"""A text of master data on the page: what is in it, what is wrong with it and where, and its versions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from receiving.errors import Fault, FileFaults, ReceivingError
from receiving.service import TextVersion
from web.pages.words import moment_words

MOST_ROWS, LEAST_ROWS = 28, 10
MAX_SHOWN_LINE = 160


@dataclass(frozen=True)
class FaultLine:
    """One fault: where, what, and the text of that line as it was typed."""

    where: str
    words: str
    text: str


@dataclass(frozen=True)
class VersionLine:
    """One version that was in use; ``current`` is the newest, ``open`` the one that stands in the editor."""

    number: int
    words: str
    current: bool
    open: bool


@dataclass(frozen=True)
class Editor:
    """A text to edit. ``follows`` is the version that it is saved over; texts are empty where nothing is to say."""

    text: str
    rows: int
    follows: int
    done: str
    unsaved: str
    trouble: str
    next_step: str
    faults: tuple[FaultLine, ...]
    versions: tuple[VersionLine, ...]


@dataclass(frozen=True)
class Typed:
    """What a person typed or chose, and what came of it."""

    text: str
    fault: ReceivingError | None = None
    version: int = 0
    done: str = ""


def editor(typed: Typed, versions: Iterable[TextVersion], *, now: datetime, unsaved: str = "") -> Editor:
    """The editor with what was typed; ``unsaved`` says why the text is not the one in use."""
    versions = tuple(versions)
    lines, fault = typed.text.splitlines(), typed.fault
    opened = typed.version or len(versions)
    if opened != len(versions):
        unsaved = f"This is version {opened}. It is in use again only after you save it."
    return Editor(
        text=typed.text,
        rows=max(LEAST_ROWS, min(MOST_ROWS, len(lines) + 2)),
        follows=len(versions),
        done=typed.done,
        unsaved=unsaved,
        trouble=fault.message if fault else "",
        next_step=fault.next_step if fault else "",
        faults=fault_lines(fault.faults, lines) if isinstance(fault, FileFaults) else (),
        versions=tuple(_version(v, len(versions), opened, now) for v in reversed(versions)),
    )


def fault_lines(faults: Iterable[Fault], lines: Sequence[str]) -> tuple[FaultLine, ...]:
    """Faults beside the lines that they are in."""
    return tuple(_fault_line(fault, lines) for fault in faults)


def _fault_line(fault: Fault, lines: Sequence[str]) -> FaultLine:
    number = _place_of_field(fault, lines)
    text = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    shown = text if len(text) <= MAX_SHOWN_LINE else text[: MAX_SHOWN_LINE - 1] + "…"
    return FaultLine(f"Line {number}" if number else "", fault.message, shown)


def _place_of_field(fault: Fault, lines: Sequence[str]) -> int:
    """The line of the key at fault, where the fault names the head of its TOML table alone."""
    if not fault.field or not 0 < fault.line <= len(lines) or not lines[fault.line - 1].lstrip().startswith("["):
        return fault.line
    for number, line in enumerate(lines[fault.line :], fault.line + 1):
        if line.lstrip().startswith("["):
            break
        if line.split("=", 1)[0].strip() == fault.field:
            return number
    return fault.line


def _version(version: TextVersion, last: int, opened: int, now: datetime) -> VersionLine:
    words = f"{moment_words(version.added_at, now)}, {version.file_name}"
    return VersionLine(version.number, words, version.number == last, version.number == opened)
