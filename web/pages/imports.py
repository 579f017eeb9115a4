"""Files coming in: what they would change, and what they did."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text
from receiving.model import Layout
from receiving.service import FilePreview, ImportResult
from web.pages.tone import Tone
from web.pages.words import counted, listed

ORDER = {
    "changed": (Tone.QUESTION, "Changed"),
    "new": (Tone.HERE, "New"),
    "unchanged": (Tone.PLAIN, "Unchanged"),
}
MOST_OPEN = 10
"""A longer group is folded: its title says how many there are."""


@dataclass(frozen=True)
class ImportPage:
    """Where files come in."""

    template: ClassVar[str] = "import.html"
    title: ClassVar[str] = "Import"

    shippers: tuple[str, ...]


@dataclass(frozen=True)
class ImportLine:
    """What a file does to one shipment."""

    shipment: str
    store: str
    words: str
    changes: tuple[Text, ...]


@dataclass(frozen=True)
class ImportGroup:
    """The shipments that a file does the same to: those that it changes one by one, the others folded."""

    title: str
    tone: Tone
    lines: tuple[ImportLine, ...]
    folded: bool


@dataclass(frozen=True)
class PreviewPage:
    """What a file would change; ``ticket`` stands for the file until the coordinator says yes."""

    template: ClassVar[str] = "preview.html"

    name: str
    ticket: str
    sentence: str
    groups: tuple[ImportGroup, ...]
    warnings: tuple[Text, ...]
    unused: tuple[Text, ...]
    changing: int
    zeros: int
    restored: bool

    title: ClassVar[str] = "Check before importing"


@dataclass(frozen=True)
class ImportedPage:
    """What a file did."""

    template: ClassVar[str] = "imported.html"

    title: str
    sentence: str
    groups: tuple[ImportGroup, ...]


def preview_page(seen: FilePreview, *, name: str, ticket: str, restored: bool = False) -> PreviewPage:
    """The preview of a manifest file."""
    lines = [
        (m.status, ImportLine(m.shipment, m.store, counted(m.cartons, "carton"), m.changes)) for m in seen.manifests
    ]
    changing = sum(m.status != "unchanged" for m in seen.manifests)
    zeros = sum(bool(lost.store) + len(lost.cartons) for lost in seen.zeros)
    sentence = _sentence(status for status, _ in lines)
    return PreviewPage(name, ticket, sentence, _groups(lines), seen.warnings, seen.unused, changing, zeros, restored)


def imported_page(results: Iterable[ImportResult], name: str) -> ImportedPage:
    """What importing a manifest file did."""
    results = tuple(results)
    lines = [(r.status, ImportLine(r.shipment, r.store, f"revision {r.revision}", r.changes)) for r in results]
    changed = sum(r.status != "unchanged" for r in results)
    sentence = f"{name}: {counted(changed, 'shipment')} stored." if changed else f"{name} changes nothing."
    return ImportedPage("Imported", sentence, _groups(lines))


def _sentence(statuses: Iterable[str]) -> str:
    """How many shipments the file changes, adds and leaves as they are."""
    counts = Counter(statuses)
    parts = (f"{counts[status]} {words.lower()}" for status, (_, words) in ORDER.items() if counts[status])
    return f"{listed(parts)}.".capitalize()


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


def layout_page(layout: Layout) -> ImportedPage:
    """A layout was stored."""
    return ImportedPage("Layout stored", f"Store {layout.store} has {counted(len(layout.bays), 'bay')}.", ())


def patterns_page(patterns: int) -> ImportedPage:
    """Label patterns were stored."""
    return ImportedPage("Label patterns stored", f"{counted(patterns, 'pattern')} in use from now on.", ())


def stores_page(changed: int, name: str) -> ImportedPage:
    """A list of stores was stored."""
    sentence = f"{name}: {counted(changed, 'store')} changed." if changed else f"{name} changes nothing."
    return ImportedPage("List of stores", sentence, ())
