"""Files coming in: what they would change, and what they did."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.model import Layout
from receiving.service import FilePreview, ImportResult
from web.pages.tone import Tone
from web.pages.words import counted

STATUS_TONES = {
    "new": (Tone.HERE, "New"),
    "unchanged": (Tone.PLAIN, "Unchanged"),
    "changed": (Tone.QUESTION, "Changed"),
}


@dataclass(frozen=True)
class ImportPage:
    """Where files come in."""

    template: ClassVar[str] = "import.html"
    title: ClassVar[str] = "Import"


@dataclass(frozen=True)
class ImportLine:
    """What a file does to one shipment."""

    shipment: str
    store: str
    tone: Tone
    word: str
    words: str
    changes: tuple[str, ...]


@dataclass(frozen=True)
class PreviewPage:
    """What a file would change; ``ticket`` stands for the file until the coordinator says yes."""

    template: ClassVar[str] = "preview.html"

    name: str
    ticket: str
    lines: tuple[ImportLine, ...]
    warnings: tuple[str, ...]
    unused: tuple[str, ...]
    changing: int

    title: ClassVar[str] = "Check before importing"


@dataclass(frozen=True)
class ImportedPage:
    """What a file did."""

    template: ClassVar[str] = "imported.html"

    title: str
    sentence: str
    lines: tuple[ImportLine, ...]


def preview_page(seen: FilePreview, *, name: str, ticket: str) -> PreviewPage:
    """The preview of a manifest file."""
    lines = tuple(
        ImportLine(m.shipment, m.store, *STATUS_TONES[m.status], counted(m.cartons, "carton"), m.changes)
        for m in seen.manifests
    )
    return PreviewPage(
        name, ticket, lines, seen.warnings, seen.unused, sum(m.status != "unchanged" for m in seen.manifests)
    )


def imported_page(results: Iterable[ImportResult], name: str) -> ImportedPage:
    """What importing a manifest file did."""
    results = tuple(results)
    lines = tuple(
        ImportLine(r.shipment, r.store, *STATUS_TONES[r.status], f"revision {r.revision}", r.changes) for r in results
    )
    changed = sum(r.status != "unchanged" for r in results)
    sentence = f"{name}: {counted(changed, 'shipment')} stored." if changed else f"{name} changes nothing."
    return ImportedPage("Imported", sentence, lines)


def layout_page(layout: Layout) -> ImportedPage:
    """A layout was stored."""
    return ImportedPage("Layout stored", f"Store {layout.store} has {counted(len(layout.bays), 'bay')}.", ())


def patterns_page(patterns: int) -> ImportedPage:
    """Label patterns were stored."""
    return ImportedPage("Label patterns stored", f"{counted(patterns, 'pattern')} in use from now on.", ())
