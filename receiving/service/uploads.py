"""A file that a person chose to import: kept until it is taken, previewed, its columns mapped where need be."""

from collections.abc import Callable
from dataclasses import dataclass

from receiving.errors import BadRequest, Conflict, ManifestFaults
from receiving.expected import ColumnMapping, TableSample, mapped
from receiving.messages import message
from receiving.service.columns import list_column_mappings, needs_mapping, save_mapping
from receiving.service.context import Context
from receiving.service.intake import FilePreview, ImportResult, import_manifest, preview_import
from receiving.store.pending import Purpose


@dataclass(frozen=True)
class Previewed:
    """What importing the file would do; ``ticket`` stands for it until it is taken.

    ``restored``: numbers that are known with leading zeros are taken so.
    """

    ticket: str
    name: str
    seen: FilePreview
    restored: bool


@dataclass(frozen=True)
class ColumnsToMap:
    """A table with headings of its own, which a person has to map; ``fault`` says what is wrong so far.

    ``chosen`` is the mapping as it was sent, or the one that is kept for these headings.
    """

    ticket: str
    name: str
    sample: TableSample
    chosen: ColumnMapping | None
    fault: ManifestFaults | BadRequest


@dataclass(frozen=True)
class Taken:
    """What importing the file did to each shipment."""

    name: str
    results: tuple[ImportResult, ...]


def preview_upload(
    ctx: Context, ticket: str, name: str, data: bytes, *, shipper: str = "", restore_zeros: bool = False
) -> Previewed | ColumnsToMap:
    """Keep a file under this ticket and say what it would change. Raises ManifestFaults where no mapping would help."""
    with ctx.transaction() as store:
        store.add_pending(Purpose.IMPORT, ticket, data, shown_at=ctx.now(), name=name, detail=shipper)
    try:
        seen = preview_import(ctx, name, data, shipper=shipper, restore_zeros=restore_zeros)
    except ManifestFaults as fault:
        sample = None if shipper else _sample_to_map(ctx, name, data)
        if sample is None:
            raise
        return ColumnsToMap(ticket, name, sample, mapped(list_column_mappings(ctx), sample.headings), fault)
    return Previewed(ticket, name, seen, restore_zeros)


def preview_again(ctx: Context, ticket: str, *, restore_zeros: bool) -> Previewed | ColumnsToMap:
    """The preview of a kept file with or without the zeros that are known. Raises Conflict where it is too old."""
    shipper, name, data = _kept(ctx, ticket)
    return preview_upload(ctx, ticket, name, data, shipper=shipper, restore_zeros=restore_zeros)


def apply_mapping(
    ctx: Context, ticket: str, choose: Callable[[TableSample], ColumnMapping], *, restore_zeros: bool = False
) -> Previewed | ColumnsToMap:
    """Keep the mapping that a person chose for a kept file, and preview it. Raises Conflict, ManifestFaults."""
    _, name, data = _kept(ctx, ticket)
    sample = ctx.manifests.sample(name, data)
    chosen = choose(sample)
    try:
        shipper = save_mapping(ctx, chosen).shipper
    except BadRequest as fault:
        return ColumnsToMap(ticket, name, sample, chosen, fault)
    return preview_upload(ctx, ticket, name, data, shipper=shipper, restore_zeros=restore_zeros)


def take_upload(ctx: Context, ticket: str, *, restore_zeros: bool) -> Taken:
    """Import a kept file. Raises as `import_manifest`, and Conflict where it is too old."""
    shipper, name, data = _kept(ctx, ticket)
    return Taken(name, import_manifest(ctx, name, data, shipper=shipper, restore_zeros=restore_zeros))


def _kept(ctx: Context, ticket: str) -> tuple[str, str, bytes]:
    """The shipper, name and bytes of a kept file. Raises Conflict."""
    with ctx.store() as store:
        found = store.pending(Purpose.IMPORT, ticket)
    if found is None:
        raise Conflict(
            message("This preview is too old; nothing was imported."), next_step=message("Choose the file again.")
        )
    return found.detail, found.name, found.body


def _sample_to_map(ctx: Context, name: str, data: bytes) -> TableSample | None:
    try:
        sample = ctx.manifests.sample(name, data)
    except ManifestFaults:
        return None
    return sample if sample.headings and needs_mapping(sample) else None
