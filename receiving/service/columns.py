"""How shippers head their tables: mapped once on the page, kept by shipper, used at every import after it."""

import json
from collections.abc import Sequence

from receiving.errors import BadRequest, FieldFault, NotFound
from receiving.expected import (
    MANIFEST_COLUMNS,
    ColumnMapping,
    DateForm,
    DecimalSign,
    TableSample,
    column_name,
    mapped,
)
from receiving.messages import Text, message
from receiving.service.context import Context
from receiving.store import DocumentKind, Store

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
    return mapped(list_column_mappings(ctx), sample.headings)


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
    if twice:
        raise BadRequest(
            message("Column {column} is chosen for two headings.", column=repr(twice[0])),
            next_step=message("Choose it for one of them."),
            fields=tuple(
                FieldFault("heading", message("Heading {heading}: {column}", heading=heading, column=column), heading)
                for heading, column in mapping.columns
                if column == twice[0]
            ),
        )
    if unknown := sorted(given.difference(known)):
        raise BadRequest(
            message("There is no column {unknown}.", unknown=repr(unknown[0])),
            next_step=message("Choose one of the list."),
            fields=tuple(
                FieldFault("heading", message("Heading {heading}: {column}", heading=heading, column=column), heading)
                for heading, column in mapping.columns
                if column == unknown[0]
            ),
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
