"""What should arrive comes in: manifests, layouts, label patterns; first as a preview, then for good."""

from dataclasses import dataclass

from receiving.expected import manifest_changes, read_layout, read_manifests
from receiving.model import Layout, Manifest
from receiving.reading import read_patterns
from receiving.service.desk import Desk
from receiving.store import DocumentKind, Store


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
    file = read_manifests(name, data)
    with desk.store() as store:
        planned = [_compare(store, manifest) for manifest in file.manifests]
    return FilePreview(
        tuple(
            ImportPreview(p.manifest.shipment, p.manifest.store, p.status, len(p.manifest.cartons), p.changes)
            for p in planned
        ),
        tuple(str(warning) for warning in file.warnings),
    )


def import_manifest(desk: Desk, name: str, data: bytes) -> tuple[ImportResult, ...]:
    """Store the file's manifests as new revisions, all or none; unchanged ones stay as they are.

    Raises ManifestFaults, or Conflict when somebody else changed one meanwhile.
    """
    file = read_manifests(name, data)
    with desk.store() as store:
        planned = [_compare(store, manifest) for manifest in file.manifests]
        store.add_revisions(
            [(p.manifest, p.follows, p.changes) for p in planned if p.status != "unchanged"],
            file_name=name,
            imported_at=desk.now(),
        )
    return tuple(_result(p) for p in planned)


def restore_revision(desk: Desk, shipment: str, revision: int) -> ImportResult:
    """Undo: make an earlier revision the current one, as a new revision. Raises NotFound, Conflict."""
    with desk.store() as store:
        planned = _compare(store, store.revision(shipment, revision).manifest)
        if planned.status != "unchanged":
            store.add_revisions(
                [(planned.manifest, planned.follows, planned.changes)],
                file_name=f"revision {revision} restored",
                imported_at=desk.now(),
            )
    return _result(planned)


def import_layout(desk: Desk, name: str, data: bytes) -> Layout:
    """Store a layout; it becomes the current one of its store. Raises LayoutFaults."""
    layout = read_layout(name, data)
    with desk.store() as store:
        store.add_document(
            DocumentKind.LAYOUT, layout.store, data.decode("utf-8-sig"), file_name=name, added_at=desk.now()
        )
    return layout


def import_patterns(desk: Desk, name: str, data: bytes) -> int:
    """Store a label pattern file as the current one; gives the number of patterns. Raises PatternFaults."""
    patterns = read_patterns(name, data)
    with desk.store() as store:
        store.add_document(DocumentKind.PATTERNS, "", data.decode("utf-8-sig"), file_name=name, added_at=desk.now())
    return len(patterns)


def _compare(store: Store, manifest: Manifest) -> _Planned:
    current = {record.shipment: record.revision for record in store.shipments()}
    follows = current.get(manifest.shipment, 0)
    if not follows:
        return _Planned(manifest, 0, "new", ())
    changes = tuple(change.words for change in manifest_changes(store.revision(manifest.shipment).manifest, manifest))
    return _Planned(manifest, follows, "changed" if changes else "unchanged", changes)


def _result(planned: _Planned) -> ImportResult:
    revision = planned.follows + (planned.status != "unchanged")
    return ImportResult(planned.manifest.shipment, planned.manifest.store, planned.status, revision, planned.changes)
