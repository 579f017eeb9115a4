"""A text of master data on the page: what is in it, what is wrong with it and where, and its versions."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from receiving.errors import Fault, FileFaults, ReceivingError
from receiving.messages import Message, Text, joined, message, plural
from receiving.service import OpenText, TextVersion
from web.pages.words import moment_words

MOST_ROWS, LEAST_ROWS = 28, 10
MAX_SHOWN_LINE = 160
MOST_DIFFERENCES = 40


@dataclass(frozen=True)
class FaultLine:
    """One fault: its line (0: the text as a whole), what it is, and that line as it was typed."""

    line: int
    words: Text
    text: str


@dataclass(frozen=True)
class VersionLine:
    """One version that was in use; ``current`` is the newest, ``open`` the one that stands in the editor."""

    number: int
    words: Text
    current: bool
    open: bool


@dataclass(frozen=True)
class Differences:
    """The lines that saving would take away and bring; ``more`` counts those left out."""

    gone: tuple[str, ...]
    come: tuple[str, ...]
    more: int


@dataclass(frozen=True)
class Editor:
    """A text to edit. ``follows`` is the version that it is saved over; texts are empty where nothing is to say."""

    text: str
    rows: int
    follows: int
    done: Text
    unsaved: Text
    differences: Differences | None
    trouble: Text
    next_step: Text
    faults: tuple[FaultLine, ...]
    versions: tuple[VersionLine, ...]


@dataclass(frozen=True)
class Typed:
    """What a person typed or chose, and what came of it."""

    text: str
    fault: ReceivingError | None = None
    version: int = 0
    done: Text = ""


def editor(typed: Typed, found: OpenText[Any], now: datetime) -> Editor:
    """The editor with what was typed, and how that differs from the text in use (empty: there is none)."""
    versions, in_use = found.versions, found.in_use
    opened, fault = typed.version or len(versions), typed.fault
    trouble, next_step = _trouble(fault)
    differs = typed.text != in_use and not fault
    return Editor(
        text=typed.text,
        rows=max(LEAST_ROWS, min(MOST_ROWS, typed.text.count("\n") + 3)),
        follows=len(versions),
        done=typed.done,
        unsaved=_unsaved(opened if opened != len(versions) else 0) if differs else "",
        differences=differences(in_use, typed.text) if differs and in_use else None,
        trouble=trouble,
        next_step=next_step,
        faults=fault_lines(fault.faults, typed.text.splitlines()) if isinstance(fault, FileFaults) else (),
        versions=tuple(_version(v, len(versions), opened, now) for v in reversed(versions)),
    )


def _trouble(fault: ReceivingError | None) -> tuple[Text, Text]:
    if isinstance(fault, FileFaults):
        faults = plural(len(fault.faults), "{number} fault; nothing was saved.", "{number} faults; nothing was saved.")
        return faults, message("Correct the lines named, then save again.")
    return (fault.message, fault.next_step) if fault else ("", "")


def _unsaved(version: int) -> Message:
    if version:
        return message("This is version {version}. It is in use again only after you save it.", version=version)
    return message("This is not saved yet. It is in use only after you save it.")


def differences(old: str, new: str) -> Differences | None:
    """The lines that only one of two texts has, in time linear to their length; None where only the order differs."""
    before, after = Counter(_lines(old)), Counter(_lines(new))
    gone, come = tuple((before - after).elements()), tuple((after - before).elements())
    more = max(0, len(gone) - MOST_DIFFERENCES) + max(0, len(come) - MOST_DIFFERENCES)
    return Differences(gone[:MOST_DIFFERENCES], come[:MOST_DIFFERENCES], more) if gone or come else None


def _lines(text: str) -> list[str]:
    return [_cut(line.strip()) for line in text.splitlines() if line.strip()]


def _cut(line: str) -> str:
    return line if len(line) <= MAX_SHOWN_LINE else line[: MAX_SHOWN_LINE - 1] + "…"


def fault_lines(faults: Iterable[Fault], lines: Sequence[str]) -> tuple[FaultLine, ...]:
    """Faults beside the lines that they are in."""
    return tuple(_fault_line(fault, lines) for fault in faults)


def _fault_line(fault: Fault, lines: Sequence[str]) -> FaultLine:
    number = _place_of_field(fault, lines)
    text = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    return FaultLine(number, fault.message, _cut(text))


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
    words = joined(moment_words(version.added_at, now), version.file_name, separator=", ")
    return VersionLine(version.number, words, version.number == last, version.number == opened)
