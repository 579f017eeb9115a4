"""Master data that people keep on the page: label patterns, a store's layout, the kit of a programme."""

from dataclasses import dataclass

from receiving.errors import NotFound
from receiving.expected import Kit, read_kit, read_layout, write_manifest_csv
from receiving.model import Layout
from receiving.reading import (
    LabelPattern,
    PatternTrial,
    default_patterns,
    read_patterns,
    try_pattern,
    write_patterns,
)
from receiving.service.desk import Desk
from receiving.store import DocumentKind, Store


@dataclass(frozen=True)
class PatternText:
    """The label patterns as text to edit; ``shipped`` True while nobody has changed them."""

    text: str
    shipped: bool


def import_layout(desk: Desk, name: str, data: bytes) -> Layout:
    """Store a layout; it becomes the current one of its store. Raises LayoutFaults."""
    layout = read_layout(name, data)
    _keep(desk, DocumentKind.LAYOUT, layout.store, name, data)
    return layout


def layout_text(desk: Desk, store_id: str) -> str:
    """The current layout of a store as its TOML text. Raises NotFound."""
    with desk.store() as store:
        document = store.document(DocumentKind.LAYOUT, store_id)
    if document is None:
        raise NotFound(f"There is no layout of store {store_id!r}.", next_step="Import its layout file.")
    return document.body


def layout_of(store: Store, store_id: str) -> Layout | None:
    """The current layout of a store, where there is one."""
    document = store.document(DocumentKind.LAYOUT, store_id)
    return read_layout(document.file_name, document.body.encode()) if document else None


def import_patterns(desk: Desk, name: str, data: bytes) -> int:
    """Store label patterns as the current ones; gives how many. Raises PatternFaults."""
    patterns = read_patterns(name, data)
    _keep(desk, DocumentKind.PATTERNS, "", name, data)
    return len(patterns)


def patterns_text(desk: Desk) -> PatternText:
    """The current label patterns as text to edit."""
    with desk.store() as store:
        document = store.document(DocumentKind.PATTERNS)
    if document:
        return PatternText(document.body, shipped=False)
    return PatternText(write_patterns(default_patterns()), shipped=True)


def patterns_of(store: Store) -> tuple[LabelPattern, ...]:
    """The current label patterns."""
    document = store.document(DocumentKind.PATTERNS)
    return read_patterns(document.file_name, document.body.encode()) if document else default_patterns()


def try_patterns(text: str, example: str) -> PatternTrial:
    """What these patterns make of a pasted example; stores nothing and raises nothing."""
    return try_pattern(text, example)


def import_kit(desk: Desk, name: str, data: bytes) -> Kit:
    """Store a kit (item to planogram place); notices imported after it are joined with it. Raises FileFaults."""
    kit = read_kit(name, data)
    _keep(desk, DocumentKind.KIT, "", name, data)
    return kit


def kit_text(desk: Desk) -> str:
    """The current kit as CSV text, empty where there is none."""
    with desk.store() as store:
        document = store.document(DocumentKind.KIT)
    return document.body if document else ""


def kit_of(store: Store) -> Kit | None:
    """The current kit, where there is one."""
    document = store.document(DocumentKind.KIT)
    return read_kit(document.file_name, document.body.encode()) if document else None


def manifest_csv(desk: Desk, shipment: str) -> str:
    """The current manifest of a shipment as CSV; importing it again changes nothing. Raises NotFound."""
    with desk.store() as store:
        return write_manifest_csv([store.revision(shipment).manifest])


def _keep(desk: Desk, kind: DocumentKind, key: str, name: str, data: bytes) -> None:
    with desk.store() as store:
        store.add_document(kind, key, data.decode("utf-8-sig"), file_name=name, added_at=desk.now())
