"""What should arrive comes in: manifests and ship notices, first as a preview, then for good."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving.expected import manifest_changes, read_manifests
from receiving.model import Manifest
from receiving.service.desk import Desk
from receiving.service.masterdata import kit_of
from receiving.store import Store


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
    """What importing a file would do; warnings do not hinder it."""

    manifests: tuple[ImportPreview, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class ImportResult:
    """What importing a file did to one shipment; ``revision`` is the current one now."""

    shipment: str
    store: str
    status: str
    revision: int
    changes: tuple[str, ...]


@dataclass(frozen=True)
class _Planned:
    manifest: Manifest
    follows: int
    status: str
    changes: tuple[str, ...]


def preview_import(desk: Desk, name: str, data: bytes) -> FilePreview:
    """What this manifest or ship notice would change; stores nothing. Raises ManifestFaults."""
    with desk.store() as store:
        file = read_manifests(name, data, kit=kit_of(store))
        planned = _compare_all(store, file.manifests)
    return FilePreview(
        tuple(
            ImportPreview(p.manifest.shipment, p.manifest.store, p.status, len(p.manifest.cartons), p.changes)
            for p in planned
        ),
        (*(str(warning) for warning in file.warnings), *(str(part) for part in file.not_understood)),
    )


def import_manifest(desk: Desk, name: str, data: bytes) -> tuple[ImportResult, ...]:
    """Store the file's manifests as new revisions, all or none; unchanged ones stay as they are.

    Raises ManifestFaults, or Conflict when somebody else changed one meanwhile.
    """
    with desk.store() as store:
        return store_manifests(desk, store, read_manifests(name, data, kit=kit_of(store)).manifests, file_name=name)


def store_manifests(
    desk: Desk, store: Store, manifests: Iterable[Manifest], *, file_name: str
) -> tuple[ImportResult, ...]:
    """Store manifests as new revisions, all or none; unchanged ones stay as they are. Raises Conflict."""
    planned = _compare_all(store, manifests)
    store.add_revisions(
        [(p.manifest, p.follows, p.changes) for p in planned if p.status != "unchanged"],
        file_name=file_name,
        imported_at=desk.now(),
    )
    return tuple(_result(p) for p in planned)


def restore_revision(desk: Desk, shipment: str, revision: int) -> ImportResult:
    """Undo: make an earlier revision the current one, as a new revision. Raises NotFound, Conflict."""
    with desk.store() as store:
        follows = store.shipment(shipment).revision
        planned = _compare(store, store.revision(shipment, revision).manifest, follows)
        if planned.status != "unchanged":
            store.add_revisions(
                [(planned.manifest, planned.follows, planned.changes)],
                file_name=f"revision {revision} restored",
                imported_at=desk.now(),
            )
    return _result(planned)


def _compare_all(store: Store, manifests: Iterable[Manifest]) -> tuple[_Planned, ...]:
    current = {record.shipment: record.revision for record in store.shipments()}
    return tuple(_compare(store, manifest, current.get(manifest.shipment, 0)) for manifest in manifests)


def _compare(store: Store, manifest: Manifest, follows: int) -> _Planned:
    if not follows:
        return _Planned(manifest, 0, "new", ())
    changes = tuple(change.words for change in manifest_changes(store.revision(manifest.shipment).manifest, manifest))
    return _Planned(manifest, follows, "changed" if changes else "unchanged", changes)


def _result(planned: _Planned) -> ImportResult:
    revision = planned.follows + (planned.status != "unchanged")
    return ImportResult(planned.manifest.shipment, planned.manifest.store, planned.status, revision, planned.changes)
