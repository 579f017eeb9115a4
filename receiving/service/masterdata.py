"""Master data that people keep on the page: label patterns, a store's layout, the kit of a programme."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import TypeVar

from receiving.errors import Fault, LayoutFaults, NotFound, ReceivingError
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
from receiving.store import Document, DocumentKind, Store

V = TypeVar("V")

STORES_A_PAGE = 50


@dataclass(frozen=True)
class PatternText:
    """The label patterns as text to edit; ``shipped`` True while nobody has changed them."""

    text: str
    shipped: bool


@dataclass(frozen=True)
class TextVersion:
    """One text of master data as it was stored; the newest is in use. ``number`` counts from 1."""

    number: int
    added_at: datetime
    file_name: str
    text: str


@dataclass(frozen=True)
class StoreLayout:
    """A store that shipments go to: their ids, and how many bays its layout has (None: it has no layout yet)."""

    store: str
    shipments: tuple[str, ...]
    bays: int | None


@dataclass(frozen=True)
class StoreLayouts:
    """A page of the stores that shipments go to: ``number`` of ``pages`` (from 1), ``wanted`` stores in all of them.

    ``without`` counts all stores that have no layout yet.
    """

    stores: tuple[StoreLayout, ...]
    number: int
    pages: int
    wanted: int
    without: int


def store_layouts(desk: Desk, words: str = "", page: int = 1) -> StoreLayouts:
    """The stores whose number or shipments hold these words, those without a layout first, a page at a time."""
    with desk.store() as store:
        going: dict[str, list[str]] = {}
        for record in store.shipments():
            going.setdefault(record.store, []).append(record.shipment)
        known = store.keys_of(DocumentKind.LAYOUT)
        asked = words.casefold().split()
        wanted = [name for name, ids in going.items() if _holds(asked, name, ids)]
        wanted.sort(key=lambda name: (name in known, name))
        pages = max(1, -(-len(wanted) // STORES_A_PAGE))
        page = min(max(page, 1), pages)
        shown = wanted[(page - 1) * STORES_A_PAGE : page * STORES_A_PAGE]
        layouts = {name: layout_of(store, name) for name in shown}
    found = (StoreLayout(s, tuple(going[s]), len(kept.bays) if (kept := layouts[s]) else None) for s in shown)
    return StoreLayouts(tuple(found), page, pages, len(wanted), len(going.keys() - known))


def _holds(words: list[str], store: str, shipments: list[str]) -> bool:
    text = " ".join((store, *shipments)).casefold()
    return all(word in text for word in words)


def import_layout(desk: Desk, name: str, data: bytes) -> Layout:
    """Store a layout; it becomes the current one of its store. Raises LayoutFaults."""
    layout = read_layout(name, data)
    _keep(desk, DocumentKind.LAYOUT, layout.store, name, data)
    return layout


def save_layout(desk: Desk, store_id: str, name: str, text: str, *, follows: int) -> Layout:
    """Store the text of this store's layout; ``follows`` is the number of the version that it was made from.

    Raises LayoutFaults, also when the text is for another store, and Conflict when somebody saved meanwhile.
    """
    layout = check_layout(store_id, name, text)
    _keep(desk, DocumentKind.LAYOUT, store_id, name, text.encode(), follows=follows)
    return layout


def check_layout(store_id: str, name: str, text: str) -> Layout:
    """The layout that this text gives the store; stores nothing. Raises LayoutFaults, also for another store's."""
    layout = read_layout(name, text.encode())
    if layout.store != store_id:
        message = f"id {layout.store!r} is another store; this page keeps the layout of store {store_id!r}"
        raise LayoutFaults(name, (Fault(_line_of_id(text), 0, message, "id"),))
    return layout


def _line_of_id(text: str) -> int:
    """Where the store's id stands, or 0 where it is written in an unusual way."""
    lines = ("".join(line.split()) for line in text.splitlines())
    return next((number for number, line in enumerate(lines, 1) if line.startswith("id=")), 0)


def layout(desk: Desk, store_id: str) -> Layout | None:
    """The current layout of a store, where there is one."""
    with desk.store() as store:
        return layout_of(store, store_id)


def layout_versions(desk: Desk, store_id: str) -> tuple[TextVersion, ...]:
    """Every layout that this store had, oldest first."""
    return _versions(desk, DocumentKind.LAYOUT, store_id)


def layout_text(desk: Desk, store_id: str) -> str:
    """The current layout of a store as its TOML text. Raises NotFound."""
    with desk.store() as store:
        document = store.document(DocumentKind.LAYOUT, store_id)
    if document is None:
        raise NotFound(f"There is no layout of store {store_id!r}.", next_step="Import its layout file.")
    return document.body


def layout_of(store: Store, store_id: str) -> Layout | None:
    """The current layout of a store, where there is one."""
    return newest_readable(store, DocumentKind.LAYOUT, store_id, lambda d: _layout(d.file_name, d.body))


@lru_cache(maxsize=1024)
def _layout(file_name: str, body: str) -> Layout:
    """The layout of this text, parsed once: every page, scan and row of a store asks for it."""
    return read_layout(file_name, body.encode())


def newest_readable(store: Store, kind: DocumentKind, key: str, value_of: Callable[[Document], V]) -> V | None:
    """The value of the newest document of this kind and key that can be read; others are set aside."""
    document = store.document(kind, key)
    before: list[Document] | None = None
    while document is not None:
        try:
            return value_of(document)
        except ReceivingError as fault:
            store.set_aside("documents", "", str(document.seq), fault)
        before = list(store.documents(kind, key))[:-1] if before is None else before[:-1]
        document = before[-1] if before else None
    return None


def import_patterns(desk: Desk, name: str, data: bytes) -> int:
    """Store label patterns as the current ones; gives how many. Raises PatternFaults."""
    patterns = read_patterns(name, data)
    _keep(desk, DocumentKind.PATTERNS, "", name, data)
    return len(patterns)


def save_patterns(desk: Desk, name: str, text: str, *, follows: int) -> int:
    """Store the text of the label patterns, made from version ``follows``; gives how many patterns it has.

    Raises PatternFaults, and Conflict when somebody saved meanwhile.
    """
    patterns = check_patterns(name, text)
    _keep(desk, DocumentKind.PATTERNS, "", name, text.encode(), follows=follows)
    return patterns


def check_patterns(name: str, text: str) -> int:
    """How many label patterns this text has; stores nothing. Raises PatternFaults."""
    return len(read_patterns(name, text.encode()))


def reset_patterns(desk: Desk, *, follows: int) -> None:
    """Use the shipped label patterns again; the texts before stay in the versions. Raises Conflict.

    An empty text stands for the shipped patterns, so that a later release brings its own.
    """
    _keep(desk, DocumentKind.PATTERNS, "", "shipped patterns", b"", follows=follows)


def patterns_text(desk: Desk) -> PatternText:
    """The current label patterns as text to edit."""
    with desk.store() as store:
        document = store.document(DocumentKind.PATTERNS)
    if document and document.body.strip():
        return PatternText(document.body, shipped=False)
    return PatternText(_shipped_text(), shipped=True)


def patterns_of(store: Store) -> tuple[LabelPattern, ...]:
    """The current label patterns."""

    def value_of(document: Document) -> tuple[LabelPattern, ...]:
        shipped = not document.body.strip()
        return default_patterns() if shipped else _patterns(document.file_name, document.body)

    kept = newest_readable(store, DocumentKind.PATTERNS, "", value_of)
    return default_patterns() if kept is None else kept


@lru_cache(maxsize=4)
def _patterns(file_name: str, body: str) -> tuple[LabelPattern, ...]:
    return read_patterns(file_name, body.encode())


def patterns_versions(desk: Desk) -> tuple[TextVersion, ...]:
    """Every text of label patterns that was in use after the first change, oldest first."""
    return tuple(
        version if version.text.strip() else replace(version, text=_shipped_text())
        for version in _versions(desk, DocumentKind.PATTERNS, "")
    )


def _shipped_text() -> str:
    return write_patterns(default_patterns())


def pattern_groups() -> tuple[str, ...]:
    """The named groups that a label pattern may have."""
    from receiving.reading.patterns import GROUPS

    return GROUPS


def try_patterns(text: str, example: str) -> PatternTrial:
    """What these patterns make of a pasted example; stores nothing and raises nothing."""
    return try_pattern(text, example)


def import_kit(desk: Desk, name: str, data: bytes) -> Kit:
    """Store a kit (item to planogram place); notices imported after it are joined with it. Raises FileFaults."""
    kit = read_kit(name, data)
    _keep(desk, DocumentKind.KIT, "", name, data)
    return kit


def save_kit(desk: Desk, name: str, text: str, *, follows: int) -> Kit | None:
    """Store the text of the kit, made from version ``follows``; an empty text says that there is no kit.

    Raises FileFaults, and Conflict when somebody saved meanwhile.
    """
    kit = check_kit(name, text)
    _keep(desk, DocumentKind.KIT, "", name, text.encode() if kit else b"", follows=follows)
    return kit


def check_kit(name: str, text: str) -> Kit | None:
    """The kit of this text, None for an empty one; stores nothing. Raises FileFaults."""
    return read_kit(name, text.encode()) if text.strip() else None


def kit(desk: Desk) -> Kit | None:
    """The current kit, where there is one."""
    with desk.store() as store:
        return kit_of(store)


def kit_versions(desk: Desk) -> tuple[TextVersion, ...]:
    """Every kit that there was, oldest first."""
    return _versions(desk, DocumentKind.KIT, "")


def kit_text(desk: Desk) -> str:
    """The current kit as CSV text, empty where there is none."""
    with desk.store() as store:
        document = store.document(DocumentKind.KIT)
    return document.body if document else ""


def kit_of(store: Store) -> Kit | None:
    """The current kit, where there is one."""

    def value_of(document: Document) -> Kit | None:
        return read_kit(document.file_name, document.body.encode()) if document.body.strip() else None

    return newest_readable(store, DocumentKind.KIT, "", value_of)


def manifest_csv(desk: Desk, shipment: str, revision: int | None = None) -> str:
    """The manifest of a shipment as CSV, of the current revision by default; imported again it changes nothing.

    Raises NotFound.
    """
    with desk.store() as store:
        return write_manifest_csv([store.revision(shipment, revision).manifest])


def _versions(desk: Desk, kind: DocumentKind, key: str) -> tuple[TextVersion, ...]:
    with desk.store() as store:
        documents = store.documents(kind, key)
    return tuple(TextVersion(n, d.added_at, d.file_name, d.body) for n, d in enumerate(documents, 1))


def _keep(desk: Desk, kind: DocumentKind, key: str, name: str, data: bytes, *, follows: int | None = None) -> None:
    with desk.store() as store:
        store.add_document(kind, key, data.decode("utf-8-sig"), file_name=name, added_at=desk.now(), follows=follows)
