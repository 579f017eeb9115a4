"""The store's door: save and load values. One `Store` per request or thread."""

from receiving.store.actions import ActionTables, PendingTables
from receiving.store.erasing import ErasingTables
from receiving.store.evidence import EvidenceTables
from receiving.store.list_rows import ListRowTables
from receiving.store.manifests import ManifestTables
from receiving.store.papers import PaperTables
from receiving.store.people import TokenTables
from receiving.store.seals import SealTables
from receiving.store.signing_on import SignOnTables
from receiving.store.snapshots import SnapshotTables


class Store(
    ManifestTables,
    EvidenceTables,
    PaperTables,
    ActionTables,
    SnapshotTables,
    ListRowTables,
    SignOnTables,
    ErasingTables,
    PendingTables,
    SealTables,
    TokenTables,
):
    """Shipments, reads, notes, photos' records, receipts and documents in one SQLite file; a context manager."""
