"""What should arrive comes in: manifests and ship notices, first as a preview, then for good.

A file that a person chose is kept until it is taken, previewed, its columns mapped where need be. Leading zeros that a
spreadsheet took from store and carton numbers are given back where what is known already shows them.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import BinaryIO

from receiving.errors import BadRequest, Conflict, Fault, ManifestFaults, NotFound, ReceivingError, StoreError
from receiving.expected import (
    ColumnMapping,
    NotUnderstood,
    Progress,
    TableSample,
    Unused,
    choose_mapping,
    is_ship_notice,
    manifest_changes,
    stream_manifests,
)
from receiving.messages import Message, Text, joined, message, plural
from receiving.model import EVERYTHING, DataScope, Manifest, StoredMessage
from receiving.model.limits import A_NUMBER_EACH, MOST_CARTONS, too_many_cartons
from receiving.service.context import Context
from receiving.service.documents import (
    KIT,
    list_column_mappings,
    mappings_of,
    named_mapping,
    needs_mapping,
    save_mapping,
    value_in,
)
from receiving.service.pools import ManifestSpool
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.store import DocumentKind, RevisionOrigin, Store
from receiving.store.actions import Purpose
from receiving.wording import change_words, to_stored


@dataclass(frozen=True)
class LostZeros:
    """The numbers of a manifest as they were known before: ``store`` empty where it is right, cartons by pairs."""

    shipment: str
    written_store: str
    store: str
    cartons: tuple[tuple[str, str], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.store or self.cartons)

    def restored(self, manifest: Manifest) -> Manifest:
        """The manifest with its zeros."""
        names = dict(self.cartons)
        cartons = tuple(
            replace(c, carton=names.get(c.carton, c.carton), outer=names.get(c.outer, c.outer)) for c in manifest
        )
        return replace(manifest, store=self.store or manifest.store, cartons=cartons)


@dataclass(frozen=True)
class ImportPreview:
    """What importing a file would do to one shipment. ``status``: new, unchanged or changed."""

    shipment: str
    store: str
    status: str
    cartons: int
    changes: tuple[Text, ...]


@dataclass(frozen=True)
class FilePreview:
    """What importing a file would do; warnings do not hinder it.

    ``unused`` names the values of a ship notice that no carton needs, by segment and qualifier with how often;
    ``zeros`` what is known with leading zeros and stands in the file without.
    """

    manifests: tuple[ImportPreview, ...]
    warnings: tuple[Text, ...]
    unused: tuple[Text, ...] = ()
    zeros: tuple[LostZeros, ...] = ()


@dataclass(frozen=True)
class ImportResult:
    """What importing a file did to one shipment; ``revision`` is the current one now."""

    shipment: str
    store: str
    status: str
    revision: int
    changes: tuple[Text, ...]


@dataclass(frozen=True)
class FileResult:
    """What importing a file did; ``warnings`` name what was odd or could not be understood, and hindered nothing."""

    manifests: tuple[ImportResult, ...]
    warnings: tuple[Text, ...]
    unused: tuple[Text, ...] = ()


@dataclass(frozen=True)
class _Planned:
    manifest: Manifest
    follows: int
    status: str
    changes: tuple[Text, ...]

    @property
    def result(self) -> ImportResult:
        revision = self.follows + (self.status != "unchanged")
        return ImportResult(self.manifest.shipment, self.manifest.store, self.status, revision, self.changes)


def preview_import(
    ctx: Context, name: str, data: bytes, *, shipper: str = "", restore_zeros: bool = False
) -> FilePreview:
    """What this manifest or ship notice would change; stores nothing. Raises ManifestFaults.

    ``shipper`` names whose columns a table has; without it they are known by their headings. ``restore_zeros``: numbers
    that are known with leading zeros are taken so.
    """
    with ctx.store() as store:
        file = ctx.manifests.read(name, data, value_in(store, KIT), _mappings(store, shipper))
        stores = known_stores(store)
        zeros = tuple(lost_zeros(store, manifest, stores) for manifest in file.manifests)
        manifests = _restored(file.manifests, zeros) if restore_zeros else file.manifests
        previews = tuple(
            ImportPreview(p.manifest.shipment, p.manifest.store, p.status, len(p.manifest.cartons), p.changes)
            for p in _compare_all(store, manifests)
        )
    warnings = (*_in_words(file.warnings, file.not_understood), *(() if restore_zeros else _zeros_in_words(zeros)))
    return FilePreview(previews, warnings, _in_words(file.unused), tuple(filter(None, zeros)))


class NotWithin(ReceivingError):
    """A file brings a shipment of other stores or programmes than who sends it may see, or takes one from them."""


def import_manifest(
    ctx: Context,
    name: str,
    data: bytes,
    *,
    shipper: str = "",
    restore_zeros: bool = False,
    scope: DataScope = EVERYTHING,
) -> tuple[ImportResult, ...]:
    """Store the file's manifests as new revisions, all or none; unchanged ones stay as they are.

    ``shipper`` and ``restore_zeros`` as in `preview_import`; all must be within ``scope``, before and after. Raises
    ManifestFaults, Conflict when somebody else changed one meanwhile, NotWithin.
    """
    return _import(ctx, name, data, shipper, restore_zeros=restore_zeros, scope=scope).manifests


def import_stream(
    ctx: Context,
    name: str,
    file: BinaryIO,
    *,
    progress: Callable[[Progress], None] | None = None,
    shipper: str = "",
    restore_zeros: bool = False,
) -> FileResult:
    """As `import_manifest`, for a file too long to hold in memory: all of it is understood before any is stored.

    A ship notice is read here, block by block; a table in a process of its own. Raises ManifestFaults, Conflict.
    """
    head = file.read(_HEAD_BYTES)
    file.seek(0)
    if not is_ship_notice(head):
        return _import(ctx, name, file.read(), shipper, restore_zeros=restore_zeros)
    with ctx.store() as store, ManifestSpool() as spool:
        stream = stream_manifests(name, file, kit=value_in(store, KIT), progress=progress)
        spool.fill(stream)
        with ctx.transaction():
            results = store_manifests(ctx, store, spool, source=name)
    return FileResult(results, _in_words(stream.warnings, stream.not_understood), _in_words(stream.unused))


_HEAD_BYTES = 4096


def _import(
    ctx: Context, name: str, data: bytes, shipper: str, *, restore_zeros: bool, scope: DataScope = EVERYTHING
) -> FileResult:
    with ctx.store() as store:
        file = ctx.manifests.read(name, data, value_in(store, KIT), _mappings(store, shipper))
        stores = known_stores(store)
        zeros = tuple(lost_zeros(store, manifest, stores) for manifest in file.manifests)
        manifests = _restored(file.manifests, zeros) if restore_zeros else file.manifests
        with ctx.transaction():
            results = store_manifests(ctx, store, manifests, source=name)
            _check_scope(store, results, scope)
    warnings = (*_in_words(file.warnings, file.not_understood), *(() if restore_zeros else _zeros_in_words(zeros)))
    return FileResult(results, warnings, _in_words(file.unused))


def _check_scope(store: Store, results: Iterable[ImportResult], scope: DataScope) -> None:
    """Who may see some stores or programmes brings nothing of others, and takes no shipment from them."""
    for each in results if scope.limited else ():
        *_, before, now = [None, *(record.manifest for record in store.revisions(each.shipment))]
        assert now is not None, "an imported shipment has a revision"
        step = message("Send a notice of those stores and programmes alone, or use another token.")
        if not scope.sees(now.store, now.programme):
            raise NotWithin(_not_of_token(now, by_store=not scope.sees_store(now.store)), next_step=step)
        if each.status != "unchanged" and before is not None and not scope.sees(before.store, before.programme):
            raise NotWithin(
                message("This token may not store what is known of shipment {shipment}.", shipment=each.shipment),
                next_step=step,
            )


def _not_of_token(manifest: Manifest, *, by_store: bool) -> Message:
    if by_store:
        return message("This token may not store what is of store {store}.", store=manifest.store)
    if not manifest.programme:
        return message("This token may not store what is of no programme.")
    return message("This token may not store what is of programme {programme}.", programme=manifest.programme)


def _mappings(store: Store, shipper: str) -> tuple[ColumnMapping, ...]:
    mappings = mappings_of(store)
    return (named_mapping(mappings, shipper),) if shipper else mappings


def _restored(manifests: Iterable[Manifest], zeros: Iterable[LostZeros]) -> tuple[Manifest, ...]:
    return tuple(lost.restored(manifest) for manifest, lost in zip(manifests, zeros, strict=True))


def _zeros_in_words(zeros: Iterable[LostZeros]) -> tuple[Text, ...]:
    return tuple(
        message(
            "shipment {shipment}: {known}; a spreadsheet may have taken the zeros: import it with them",
            shipment=repr(lost.shipment),
            known=joined(*_known_with_zeros(lost), separator=", "),
        )
        for lost in filter(None, zeros)
    )


MOST_SHOWN = 3


def _known_with_zeros(lost: LostZeros) -> Iterator[Text]:
    if lost.store:
        yield message("store {written} is known as {store}", written=repr(lost.written_store), store=repr(lost.store))
    if lost.cartons:
        pairs = [
            message("{written} as {padded}", written=repr(written), padded=repr(padded))
            for written, padded in lost.cartons[:MOST_SHOWN]
        ]
        cartons, more = joined(*pairs, separator=", "), len(lost.cartons) - MOST_SHOWN
        if more > 0:
            yield plural(
                more, "carton {cartons} and {number} more", "carton {cartons} and {number} more", cartons=cartons
            )
        else:
            yield message("carton {cartons}", cartons=cartons)


def store_manifests(
    ctx: Context,
    store: Store,
    manifests: Iterable[Manifest],
    *,
    source: str,
    origin: RevisionOrigin = RevisionOrigin.FILE,
    by: str = "",
) -> tuple[ImportResult, ...]:
    """Store manifests as new revisions, all or none; unchanged ones stay as they are. Raises Conflict."""
    results: list[ImportResult] = []

    def changed() -> Iterator[tuple[Manifest, int, tuple[StoredMessage, ...]]]:
        for planned in _compare_all(store, manifests):
            results.append(planned.result)
            if planned.status != "unchanged":
                yield planned.manifest, planned.follows, tuple(map(to_stored, planned.changes))

    store.add_revisions(changed(), source=source, origin=origin, by=by or ctx.actor.name, imported_at=ctx.now())
    return tuple(results)


def restore_revision(
    ctx: Context, shipment: str, revision: int, *, follows: int | None = None, by: str = ""
) -> ImportResult:
    """Undo: make an earlier revision the current one, as a new revision.

    ``follows`` is the revision that it was compared with in a preview. Raises NotFound, and Conflict when another
    revision came since.
    """
    refuse_hidden_characters({"by": by}, lines=False)
    with ctx.transaction() as store:
        current = store.shipment(shipment).revision
        if follows not in (None, current):
            raise Conflict(
                message(
                    "Shipment {shipment} is at revision {current} by now; revision {follows} was compared.",
                    shipment=repr(shipment),
                    current=current,
                    follows=follows,
                ),
                next_step=message("Look at the changes again."),
            )
        planned = _compare(store, store.revision(shipment, revision).manifest, current)
        if planned.status != "unchanged":
            store.add_revisions(
                [(planned.manifest, planned.follows, tuple(map(to_stored, planned.changes)))],
                origin=RevisionOrigin.RESTORED,
                source=str(revision),
                by=by,
                imported_at=ctx.now(),
            )
    return planned.result


def _compare_all(store: Store, manifests: Iterable[Manifest]) -> Iterator[_Planned]:
    current = {record.shipment: record.revision for record in store.shipments(voided=None)}
    for manifest in manifests:
        yield _compare(store, manifest, current.get(manifest.shipment, 0))


def _compare(store: Store, manifest: Manifest, follows: int) -> _Planned:
    _check_size(manifest)
    if not follows:
        return _Planned(manifest, 0, "new", ())
    try:
        before = store.revision(manifest.shipment).manifest
    except StoreError:  # importing it again mends it
        unread = message("Revision {number} cannot be read; this one takes its place.", number=follows)
        return _Planned(manifest, follows, "changed", (unread,))
    changes = tuple(map(change_words, manifest_changes(before, manifest)))
    return _Planned(manifest, follows, "changed" if changes else "unchanged", changes)


def _check_size(manifest: Manifest) -> None:
    if len(manifest.cartons) > MOST_CARTONS:
        what = too_many_cartons(manifest.shipment, len(manifest.cartons), MOST_CARTONS)
        raise BadRequest(what, next_step=A_NUMBER_EACH)


def _in_words(*findings: Iterable[Fault | NotUnderstood | Unused]) -> tuple[Text, ...]:
    return tuple(finding.words for part in findings for finding in part)


class KnownNumbers:
    """Numbers as they are known, found by what is left of them without the zeros in front."""

    def __init__(self, numbers: Iterable[str]) -> None:
        self._numbers = frozenset(numbers)
        self._bare: dict[str, list[str]] = {}
        for number in self._numbers:
            if number.isdigit():
                self._bare.setdefault(number.lstrip("0"), []).append(number)

    def padded(self, written: str) -> str:
        """The known number that is this one with zeros in front; empty where this is known, or none or two fit."""
        if written in self._numbers or not written.isascii() or not written.isdigit():
            return ""
        fitting = self._bare.get(written, ())
        return fitting[0] if len(fitting) == 1 else ""


def known_stores(store: Store) -> KnownNumbers:
    """The store numbers of all shipments and layouts."""
    laid_out = {document.key for document in store.newest_documents(DocumentKind.LAYOUT)}
    return KnownNumbers(laid_out | {record.store for record in store.shipments()})


def lost_zeros(store: Store, manifest: Manifest, stores: KnownNumbers) -> LostZeros:
    """What of this manifest's numbers is known with zeros in front, and with them only."""
    padded = stores.padded(manifest.store)
    try:
        before = store.revision(manifest.shipment).manifest
    except (NotFound, StoreError):
        return LostZeros(manifest.shipment, manifest.store, padded)
    former = KnownNumbers(carton.carton for carton in before)
    pairs = ((carton.carton, former.padded(carton.carton)) for carton in manifest)
    found = tuple((written, known) for written, known in pairs if known)
    taken = {carton.carton for carton in manifest}
    if any(known in taken for _, known in found) or len({known for _, known in found}) != len(found):
        found = ()
    return LostZeros(manifest.shipment, manifest.store, padded, found)


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
        return ColumnsToMap(ticket, name, sample, choose_mapping(list_column_mappings(ctx), sample.headings), fault)
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
