"""Texts that people keep and edit in versions: label patterns, a programme's kit, a store's layout, shippers' columns.

All are read, checked, saved and listed in one way; what tells them apart stands in a `TextDocument`. How a shipper
heads his tables is mapped once on the page, kept by shipper, and used at every import after it.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Generic, TypeVar

from receiving.errors import BadRequest, Fault, FieldFault, LayoutFaults, NotFound, ReceivingError
from receiving.expected import (
    MANIFEST_COLUMNS,
    ColumnMapping,
    DateForm,
    DecimalSign,
    Kit,
    TableSample,
    choose_mapping,
    column_name,
    read_kit,
    read_layout,
)
from receiving.messages import Text, message
from receiving.model import Layout
from receiving.reading import LabelPattern, default_patterns, read_patterns, write_patterns
from receiving.service.context import Context
from receiving.service.stored_texts import refuse_hidden_characters, refuse_hidden_in_file
from receiving.store import Document, DocumentKind, Store

V = TypeVar("V")


def _none() -> None:
    return None


def _no_text() -> str:
    return ""


@dataclass(frozen=True)
class TextDocument(Generic[V]):
    """One text that is kept: its kind, how it is read, and what holds while there is none.

    ``read`` raises FileFaults. An empty body stands for ``without`` and ``text_without``, so that what is shipped comes
    new with a release; ``may_be_empty`` lets a person save one. ``key`` is the store, where each store has its own.
    """

    kind: DocumentKind
    read: Callable[[str, bytes], V]
    without: Callable[[], V]
    text_without: Callable[[], str] = _no_text
    may_be_empty: bool = False
    key: str = ""


@dataclass(frozen=True)
class StoredText:
    """A text to edit; ``shipped`` True while nobody has changed it."""

    text: str
    shipped: bool


@dataclass(frozen=True)
class TextVersion:
    """One text as it was stored; the newest is in use. ``number`` counts from 1."""

    number: int
    added_at: datetime
    file_name: str
    text: str


@dataclass(frozen=True)
class OpenText(Generic[V]):
    """A text opened to edit: the one in use, or an earlier version (``number``; 0: the one in use).

    ``in_use`` and ``value`` are the text in use and what it says, ``shipped`` True while nobody has changed it.
    """

    text: str
    number: int
    in_use: str
    value: V
    shipped: bool
    versions: tuple[TextVersion, ...]


def open_text(ctx: Context, of: TextDocument[V], number: int = 0) -> OpenText[V]:
    """The text in use, or an earlier version of it, with all versions. Raises NotFound for one that never was."""
    with ctx.moment():
        kept, versions, value = get_text(ctx, of), list_text_versions(ctx, of), get_value(ctx, of)
    if number and not 1 <= number <= len(versions):
        raise NotFound(
            message("There is no version {number}.", number=number),
            next_step=message("Choose one of the versions on the page."),
        )
    text = versions[number - 1].text if number else kept.text
    return OpenText(text, number, kept.text, value, kept.shipped, versions)


def get_value(ctx: Context, of: TextDocument[V]) -> V:
    """What holds now: the value of the newest text that can be read."""
    with ctx.store() as store:
        return value_in(store, of)


def value_in(store: Store, of: TextDocument[V]) -> V:
    """The same, within a transaction."""

    def value(document: Document) -> V:
        return of.read(document.file_name, document.body.encode()) if document.body.strip() else of.without()

    found = newest_readable(store, of.kind, of.key, lambda document: (value(document),))
    return found[0] if found else of.without()


def get_text(ctx: Context, of: TextDocument[V]) -> StoredText:
    """The text in use, to edit."""
    with ctx.store() as store:
        document = store.document(of.kind, of.key)
    if document and document.body.strip():
        return StoredText(document.body, shipped=False)
    return StoredText(of.text_without(), shipped=True)


def list_text_versions(ctx: Context, of: TextDocument[V]) -> tuple[TextVersion, ...]:
    """Every text that there was, oldest first."""
    with ctx.store() as store:
        documents = store.documents(of.kind, of.key)
    return tuple(
        TextVersion(n, d.added_at, d.file_name, d.body if d.body.strip() else of.text_without())
        for n, d in enumerate(documents, 1)
    )


def check_text(of: TextDocument[V], name: str, text: str) -> V:
    """What this text gives; stores nothing. Raises FileFaults."""
    if of.may_be_empty and not text.strip():
        return of.without()
    refuse_hidden_in_file(name, text)
    return of.read(name, text.encode())


def save_text(ctx: Context, of: TextDocument[V], name: str, text: str, *, follows: int) -> V:
    """Store this text, made from version ``follows``; gives what it says.

    Raises FileFaults, and Conflict when somebody saved meanwhile.
    """
    value = check_text(of, name, text)
    add_text(ctx, of, name, text.encode() if text.strip() else b"", follows=follows)
    return value


def import_text(ctx: Context, of: TextDocument[V], name: str, data: bytes) -> V:
    """Store a file as the text in use, whatever was there. Raises FileFaults."""
    value = of.read(name, data)
    refuse_hidden_in_file(name, data.decode("utf-8-sig"))
    add_text(ctx, of, name, data)
    return value


def reset_text(ctx: Context, of: TextDocument[V], *, follows: int) -> None:
    """Use what is shipped again; the texts before stay in the versions. Raises Conflict."""
    add_text(ctx, of, f"shipped {of.kind.value}", b"", follows=follows)


def add_text(ctx: Context, of: TextDocument[V], name: str, data: bytes, *, follows: int | None = None) -> None:
    """Store a text that was read already."""
    with ctx.transaction() as store:
        body = data.decode("utf-8-sig")
        store.add_document(of.kind, of.key, body, file_name=name, added_at=ctx.now(), follows=follows)


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


# The texts that there are


@lru_cache(maxsize=4)
def _patterns(name: str, data: bytes) -> tuple[LabelPattern, ...]:
    return read_patterns(name, data)


def _shipped_patterns() -> str:
    return write_patterns(default_patterns())


PATTERNS: TextDocument[tuple[LabelPattern, ...]] = TextDocument(
    DocumentKind.PATTERNS, _patterns, default_patterns, _shipped_patterns
)
KIT: TextDocument[Kit | None] = TextDocument(DocumentKind.KIT, read_kit, _none, may_be_empty=True)


@lru_cache(maxsize=1024)
def _layout(name: str, data: bytes) -> Layout:
    """The layout of this text, parsed once: every page, scan and row of a store asks for it."""
    return read_layout(name, data)


def name_layout(store_id: str) -> TextDocument[Layout | None]:
    """The layout of this store; the text of another store's is refused with LayoutFaults."""

    def read(name: str, data: bytes) -> Layout:
        layout = _layout(name, data)
        if layout.store != store_id:
            fault = message(
                "id {written} is another store; this page keeps the layout of store {store}",
                written=repr(layout.store),
                store=repr(store_id),
            )
            raise LayoutFaults(name, (Fault(_line_of_id(data.decode()), 0, fault, "id"),))
        return layout

    return TextDocument(DocumentKind.LAYOUT, read, _none, key=store_id)


def _line_of_id(text: str) -> int:
    """Where the store's id stands, or 0 where it is written in an unusual way."""
    lines = ("".join(line.split()) for line in text.splitlines())
    return next((number for number, line in enumerate(lines, 1) if line.startswith("id=")), 0)


def import_layout(ctx: Context, name: str, data: bytes) -> Layout:
    """Store a layout; it becomes the current one of the store that it names. Raises LayoutFaults."""
    layout = _layout(name, data)
    import_text(ctx, name_layout(layout.store), name, data)
    return layout


def get_layout_text(ctx: Context, store_id: str) -> str:
    """The current layout of a store as its TOML text. Raises NotFound."""
    kept = get_text(ctx, name_layout(store_id))
    if kept.shipped:
        raise NotFound(
            message("There is no layout of store {store_id}.", store_id=repr(store_id)),
            next_step=message("Import its layout file."),
        )
    return kept.text


NOT_USED = ""
_LONGEST_NAME = 80


def list_manifest_columns() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The columns that a manifest may have, and those that it must have."""
    return MANIFEST_COLUMNS.known, MANIFEST_COLUMNS.required


def list_column_mappings(ctx: Context) -> tuple[ColumnMapping, ...]:
    """The mappings in use, by shipper."""
    with ctx.store() as store:
        return mappings_of(store)


def mappings_of(store: Store) -> tuple[ColumnMapping, ...]:
    """The mappings in use, by shipper; a removed one is kept without columns and left out here."""
    kept = (_mapping(document.body) for document in store.newest_documents(DocumentKind.COLUMNS))
    return tuple(sorted((mapping for mapping in kept if mapping.columns), key=lambda mapping: mapping.shipper))


def read_table_sample_of(ctx: Context, name: str, data: bytes) -> TableSample:
    """The headings and the first rows of a table, to map them. Raises ManifestFaults where it is not a table."""
    return ctx.manifests.sample(name, data)


def needs_mapping(sample: TableSample) -> bool:
    """True where a table's own headings do not name all columns that a manifest must have."""
    return not set(MANIFEST_COLUMNS.required).issubset(map(column_name, sample.headings))


def find_mapping(ctx: Context, sample: TableSample) -> ColumnMapping | None:
    """The mapping that is kept for these headings; None where none or several are."""
    return choose_mapping(list_column_mappings(ctx), sample.headings)


def save_mapping(ctx: Context, mapping: ColumnMapping) -> ColumnMapping:
    """Keep a mapping under its shipper's name, in place of an earlier one. Raises BadRequest."""
    checked = _checked(mapping)
    with ctx.transaction() as store:
        store.add_document(
            DocumentKind.COLUMNS, checked.shipper, _text(checked), file_name="columns", added_at=ctx.now()
        )
    return checked


def remove_mapping(ctx: Context, shipper: str) -> None:
    """Read this shipper's tables as written again. Raises NotFound."""
    with ctx.transaction() as store:
        if shipper not in {mapping.shipper for mapping in mappings_of(store)}:
            raise NotFound(
                message("No columns are kept for shipper {shipper}.", shipper=repr(shipper)),
                next_step=message("Choose one of the list."),
            )
        empty = _text(ColumnMapping(shipper))
        store.add_document(DocumentKind.COLUMNS, shipper, empty, file_name="columns", added_at=ctx.now())


def named_mapping(mappings: Sequence[ColumnMapping], shipper: str) -> ColumnMapping:
    """The mapping of this shipper. Raises NotFound."""
    found = next((mapping for mapping in mappings if mapping.shipper.casefold() == shipper.casefold()), None)
    if found is None:
        step: Text = message("Map the headings on the import page first; none are kept.")
        if mappings:
            shippers = ", ".join(mapping.shipper for mapping in mappings)
            step = message("Map the headings on the import page first; kept are: {shippers}.", shippers=shippers)
        raise NotFound(message("No columns are kept for shipper {shipper}.", shipper=repr(shipper)), next_step=step)
    return found


def _checked(mapping: ColumnMapping) -> ColumnMapping:
    known, required = list_manifest_columns()
    shipper = mapping.shipper.strip()
    used = [column for _, column in mapping.columns]
    given = {*used, *(column for column, value in mapping.constants if value)}
    twice = sorted({column for column in used if used.count(column) > 1})
    missing = [column for column in required if column not in given]
    if not shipper or len(shipper) > _LONGEST_NAME:
        raise BadRequest(
            message("The shipper has no name."),
            next_step=message("Type a name of at most {longest_name} characters.", longest_name=_LONGEST_NAME),
            field="shipper",
        )
    refuse_hidden_characters({"shipper": shipper, **dict(mapping.constants)}, lines=False)
    refuse_hidden_characters({column: heading for heading, column in mapping.columns})
    if twice:
        raise BadRequest(
            message("Column {column} is chosen for two headings.", column=repr(twice[0])),
            next_step=message("Choose it for one of them."),
            fields=_headings_of(twice[0], mapping),
        )
    if unknown := sorted(given.difference(known)):
        raise BadRequest(
            message("There is no column {unknown}.", unknown=repr(unknown[0])),
            next_step=message("Choose one of the list."),
            fields=_headings_of(unknown[0], mapping),
        )
    if missing:
        raise BadRequest(
            message("Nothing is chosen for {columns}.", columns=", ".join(missing)),
            next_step=message("Choose the heading that holds it, or type what every row has in it."),
            fields=tuple(
                FieldFault("constant", message("Nothing holds {column}.", column=column), column) for column in missing
            ),
        )
    return ColumnMapping(shipper, mapping.columns, mapping.date_form, mapping.decimal, mapping.constants)


def _headings_of(chosen: str, mapping: ColumnMapping) -> tuple[FieldFault, ...]:
    """The headings for which this column was chosen, as fields to look at again."""
    return tuple(
        FieldFault("heading", message("Heading {heading}: {column}", heading=heading, column=column), heading)
        for heading, column in mapping.columns
        if column == chosen
    )


def _text(mapping: ColumnMapping) -> str:
    return json.dumps(
        {
            "shipper": mapping.shipper,
            "columns": mapping.columns,
            "date_form": mapping.date_form.value,
            "decimal": mapping.decimal.value,
            "constants": mapping.constants,
        },
        ensure_ascii=False,
    )


def _mapping(body: str) -> ColumnMapping:
    kept = json.loads(body)
    return ColumnMapping(
        kept["shipper"],
        tuple((heading, column) for heading, column in kept["columns"]),
        DateForm(kept["date_form"]),
        DecimalSign(kept["decimal"]),
        tuple((column, value) for column, value in kept["constants"]),
    )
