"""What should arrive comes in: manifests and ship notices, first as a preview, then for good."""

import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import BinaryIO

from receiving.errors import Conflict, StoreError
from receiving.expected import Progress, manifest_changes, read_manifests, stream_manifests
from receiving.model import Manifest
from receiving.service.desk import Desk
from receiving.service.masterdata import kit_of
from receiving.service.spool import ManifestSpool
from receiving.store import RevisionOrigin, Store


@dataclass(frozen=True)
class ImportPreview:
    """What importing a file would do to one shipment. ``status``: new, unchanged or changed."""

    shipment: str
    store: str
    status: str
    cartons: int
    changes: tuple[str, ...]


@dataclass(frozen=True)
class FilePreview:
    """What importing a file would do; warnings do not hinder it.

    ``unused`` names the values of a ship notice that no carton needs, by segment and qualifier with how often.
    """

    manifests: tuple[ImportPreview, ...]
    warnings: tuple[str, ...]
    unused: tuple[str, ...] = ()


@dataclass(frozen=True)
class ImportResult:
    """What importing a file did to one shipment; ``revision`` is the current one now."""

    shipment: str
    store: str
    status: str
    revision: int
    changes: tuple[str, ...]


@dataclass(frozen=True)
class FileResult:
    """What importing a file did; ``warnings`` name what was odd or could not be understood, and hindered nothing."""

    manifests: tuple[ImportResult, ...]
    warnings: tuple[str, ...]
    unused: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Planned:
    manifest: Manifest
    follows: int
    status: str
    changes: tuple[str, ...]

    @property
    def result(self) -> ImportResult:
        revision = self.follows + (self.status != "unchanged")
        return ImportResult(self.manifest.shipment, self.manifest.store, self.status, revision, self.changes)


def preview_import(desk: Desk, name: str, data: bytes) -> FilePreview:
    """What this manifest or ship notice would change; stores nothing. Raises ManifestFaults."""
    with desk.store() as store:
        file = read_manifests(name, data, kit=kit_of(store))
        previews = tuple(
            ImportPreview(p.manifest.shipment, p.manifest.store, p.status, len(p.manifest.cartons), p.changes)
            for p in _compare_all(store, file.manifests)
        )
    return FilePreview(previews, _in_words(file.warnings, file.not_understood), _in_words(file.unused))


def import_manifest(desk: Desk, name: str, data: bytes) -> tuple[ImportResult, ...]:
    """Store the file's manifests as new revisions, all or none; unchanged ones stay as they are.

    Raises ManifestFaults, or Conflict when somebody else changed one meanwhile.
    """
    return import_stream(desk, name, io.BytesIO(data)).manifests


def import_stream(
    desk: Desk, name: str, file: BinaryIO, *, progress: Callable[[Progress], None] | None = None
) -> FileResult:
    """As `import_manifest`, for a file too long to hold in memory: all of it is understood before any is stored.

    Raises ManifestFaults, Conflict.
    """
    with desk.store() as store, ManifestSpool() as spool:
        stream = stream_manifests(name, file, kit=kit_of(store), progress=progress)
        spool.fill(stream)
        with desk.transaction():
            results = store_manifests(desk, store, spool, source=name)
    return FileResult(results, _in_words(stream.warnings, stream.not_understood), _in_words(stream.unused))


def store_manifests(
    desk: Desk,
    store: Store,
    manifests: Iterable[Manifest],
    *,
    source: str,
    origin: RevisionOrigin = RevisionOrigin.FILE,
    by: str = "",
) -> tuple[ImportResult, ...]:
    """Store manifests as new revisions, all or none; unchanged ones stay as they are. Raises Conflict."""
    results: list[ImportResult] = []

    def changed() -> Iterator[tuple[Manifest, int, tuple[str, ...]]]:
        for planned in _compare_all(store, manifests):
            results.append(planned.result)
            if planned.status != "unchanged":
                yield planned.manifest, planned.follows, planned.changes

    store.add_revisions(changed(), source=source, origin=origin, by=by, imported_at=desk.now())
    return tuple(results)


def restore_revision(
    desk: Desk, shipment: str, revision: int, *, follows: int | None = None, by: str = ""
) -> ImportResult:
    """Undo: make an earlier revision the current one, as a new revision.

    ``follows`` is the revision that it was compared with in a preview. Raises NotFound, and Conflict when another
    revision came since.
    """
    with desk.transaction() as store:
        current = store.shipment(shipment).revision
        if follows not in (None, current):
            raise Conflict(
                f"Shipment {shipment!r} is at revision {current} by now; revision {follows} was compared.",
                next_step="Look at the changes again.",
            )
        planned = _compare(store, store.revision(shipment, revision).manifest, current)
        if planned.status != "unchanged":
            store.add_revisions(
                [(planned.manifest, planned.follows, planned.changes)],
                origin=RevisionOrigin.RESTORED,
                source=str(revision),
                by=by,
                imported_at=desk.now(),
            )
    return planned.result


def _compare_all(store: Store, manifests: Iterable[Manifest]) -> Iterator[_Planned]:
    current = {record.shipment: record.revision for record in store.shipments(voided=None)}
    for manifest in manifests:
        yield _compare(store, manifest, current.get(manifest.shipment, 0))


def _compare(store: Store, manifest: Manifest, follows: int) -> _Planned:
    if not follows:
        return _Planned(manifest, 0, "new", ())
    try:
        before = store.revision(manifest.shipment).manifest
    except StoreError:  # importing it again mends it
        return _Planned(
            manifest, follows, "changed", (f"Revision {follows} cannot be read; this one takes its place.",)
        )
    changes = tuple(change.words for change in manifest_changes(before, manifest))
    return _Planned(manifest, follows, "changed" if changes else "unchanged", changes)


def _in_words(*findings: Iterable[object]) -> tuple[str, ...]:
    return tuple(str(finding) for part in findings for finding in part)
