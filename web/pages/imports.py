"""Files coming in: what they would change, and what they did."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Message, Text, listing, message, plural
from receiving.model import Layout
from receiving.service import FilePreview, ImportResult
from web.pages.tone import Tone

ORDER = {
    "changed": (Tone.QUESTION, message("Changed")),
    "new": (Tone.HERE, message("New")),
    "unchanged": (Tone.PLAIN, message("Unchanged")),
}
MOST_OPEN = 10
"""A longer group is folded: its title says how many there are."""


@dataclass(frozen=True)
class ImportsPage:
    """Where files come in."""

    template: ClassVar[str] = "imports.html"
    title: ClassVar[Text] = message("Import")

    shippers: tuple[str, ...]


@dataclass(frozen=True)
class ImportLine:
    """What a file does to one shipment."""

    shipment: str
    store: str
    words: Text
    changes: tuple[Text, ...]


@dataclass(frozen=True)
class ImportGroup:
    """The shipments that a file does the same to: those that it changes one by one, the others folded."""

    title: Text
    tone: Tone
    lines: tuple[ImportLine, ...]
    folded: bool


@dataclass(frozen=True)
class ImportsPreviewPage:
    """What a file would change; ``ticket`` stands for the file until the coordinator says yes."""

    template: ClassVar[str] = "imports_preview.html"

    name: str
    ticket: str
    sentence: Text
    groups: tuple[ImportGroup, ...]
    warnings: tuple[Text, ...]
    unused: tuple[Text, ...]
    changing: int
    zeros: int
    restored: bool

    title: ClassVar[Text] = message("Check before importing")


@dataclass(frozen=True)
class ImportsTakenPage:
    """What a file did."""

    template: ClassVar[str] = "imports_taken.html"

    title: Text
    sentence: Text
    groups: tuple[ImportGroup, ...]


def preview_page(seen: FilePreview, *, name: str, ticket: str, restored: bool = False) -> ImportsPreviewPage:
    """The preview of a manifest file."""
    lines = [
        (m.status, ImportLine(m.shipment, m.store, plural(m.cartons, "{number} carton", "{number} cartons"), m.changes))
        for m in seen.manifests
    ]
    changing = sum(m.status != "unchanged" for m in seen.manifests)
    zeros = sum(bool(lost.store) + len(lost.cartons) for lost in seen.zeros)
    sentence = _sentence(status for status, _ in lines)
    return ImportsPreviewPage(
        name, ticket, sentence, _groups(lines), seen.warnings, seen.unused, changing, zeros, restored
    )


def imported_page(results: Iterable[ImportResult], name: str) -> ImportsTakenPage:
    """What importing a manifest file did."""
    results = tuple(results)
    lines = [
        (r.status, ImportLine(r.shipment, r.store, message("revision {number}", number=r.revision), r.changes))
        for r in results
    ]
    changed = sum(r.status != "unchanged" for r in results)
    stored = plural(changed, "{file}: {number} shipment stored.", "{file}: {number} shipments stored.", file=name)
    sentence = stored if changed else _nothing(name)
    return ImportsTakenPage(message("Imported"), sentence, _groups(lines))


def _nothing(name: str) -> Message:
    return message("{file} changes nothing.", file=name)


def _sentence(statuses: Iterable[str]) -> Message:
    """How many shipments the file changes, adds and leaves as they are."""
    counts = Counter(statuses)
    changed, new, unchanged = counts["changed"], counts["new"], counts["unchanged"]
    parts = (
        plural(changed, "{number} changed", "{number} changed") if changed else "",
        plural(new, "{number} new", "{number} new") if new else "",
        plural(unchanged, "{number} unchanged", "{number} unchanged") if unchanged else "",
    )
    return message("{counts}.", counts=listing(part for part in parts if part))


def _groups(lines: Iterable[tuple[str, ImportLine]]) -> tuple[ImportGroup, ...]:
    """What changes first, one by one; what is new or unchanged is folded where it is long."""
    by_status: dict[str, list[ImportLine]] = {}
    for status, line in lines:
        by_status.setdefault(status, []).append(line)
    return tuple(
        ImportGroup(word, tone, tuple(found), status != "changed" and (status == "unchanged" or len(found) > MOST_OPEN))
        for status, (tone, word) in ORDER.items()
        if (found := by_status.get(status, []))
    )


def layout_page(layout: Layout) -> ImportsTakenPage:
    """A layout was stored."""
    bays = plural(
        len(layout.bays), "Store {store} has {number} bay.", "Store {store} has {number} bays.", store=layout.store
    )
    return ImportsTakenPage(message("Layout stored"), bays, ())


def patterns_page(patterns: int) -> ImportsTakenPage:
    """Label patterns were stored."""
    words = plural(patterns, "{number} pattern in use from now on.", "{number} patterns in use from now on.")
    return ImportsTakenPage(message("Label patterns stored"), words, ())


def stores_page(changed: int, name: str) -> ImportsTakenPage:
    """A list of stores was stored."""
    words = plural(changed, "{file}: {number} store changed.", "{file}: {number} stores changed.", file=name)
    return ImportsTakenPage(message("List of stores"), words if changed else _nothing(name), ())
