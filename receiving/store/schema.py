"""The tables, as migrations that only append.

Reads, notes, revisions, receipts and documents are append-only: triggers refuse a change or a removal, whoever asks.
"""

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

migrations = Migrations("receiving")

_APPEND_ONLY = ("manifest_revisions", "reads", "notes", "receipts", "documents")


@migrations()
def m001_first_tables(db: Database) -> None:
    """Shipments with their revisions, photos, reads, notes, receipts and documents."""
    for statement in (
        """CREATE TABLE shipments (
            shipment TEXT PRIMARY KEY,
            store TEXT NOT NULL,
            dispatch_date TEXT,
            revision INTEGER NOT NULL,
            version INTEGER NOT NULL,
            last_read_at TEXT
        ) STRICT""",
        """CREATE TABLE manifest_revisions (
            seq INTEGER PRIMARY KEY,
            shipment TEXT NOT NULL REFERENCES shipments,
            revision INTEGER NOT NULL,
            imported_at TEXT NOT NULL,
            file_name TEXT NOT NULL,
            manifest TEXT NOT NULL,
            changes TEXT NOT NULL,
            UNIQUE (shipment, revision)
        ) STRICT""",
        """CREATE TABLE carton_codes (
            code TEXT NOT NULL,
            shipment TEXT NOT NULL REFERENCES shipments,
            PRIMARY KEY (code, shipment)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE photos (
            shipment TEXT NOT NULL REFERENCES shipments,
            photo TEXT NOT NULL,
            name TEXT NOT NULL,
            added_at TEXT NOT NULL,
            place TEXT NOT NULL,
            by TEXT NOT NULL,
            status TEXT NOT NULL,
            error TEXT NOT NULL DEFAULT '',
            reading TEXT,
            PRIMARY KEY (shipment, photo)
        ) STRICT""",
        """CREATE TABLE reads (
            seq INTEGER PRIMARY KEY,
            read_id TEXT NOT NULL,
            shipment TEXT NOT NULL REFERENCES shipments,
            read_at TEXT NOT NULL,
            raw TEXT NOT NULL,
            symbology TEXT NOT NULL,
            source TEXT NOT NULL,
            photo TEXT NOT NULL,
            read TEXT NOT NULL,
            UNIQUE (shipment, read_id)
        ) STRICT""",
        """CREATE TABLE notes (
            seq INTEGER PRIMARY KEY,
            note_id TEXT NOT NULL,
            shipment TEXT NOT NULL REFERENCES shipments,
            kind TEXT NOT NULL,
            noted_at TEXT NOT NULL,
            note TEXT NOT NULL,
            UNIQUE (shipment, note_id)
        ) STRICT""",
        """CREATE TABLE receipts (
            seq INTEGER PRIMARY KEY,
            shipment TEXT NOT NULL REFERENCES shipments,
            number INTEGER NOT NULL,
            confirmed_at TEXT NOT NULL,
            receipt TEXT NOT NULL,
            UNIQUE (shipment, number)
        ) STRICT""",
        """CREATE TABLE documents (
            seq INTEGER PRIMARY KEY,
            kind TEXT NOT NULL,
            key TEXT NOT NULL,
            added_at TEXT NOT NULL,
            file_name TEXT NOT NULL,
            body TEXT NOT NULL
        ) STRICT""",
        "CREATE INDEX documents_by_key ON documents (kind, key, seq)",
        "CREATE INDEX reads_by_photo ON reads (shipment, photo)",
    ):
        db.execute(statement)
    for table in _APPEND_ONLY:
        _append_only(db, table)


def _append_only(db: Database, table: str) -> None:
    for deed in ("UPDATE", "DELETE"):
        db.execute(
            f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} are append-only'); END"
        )


@migrations()
def m002_codes_by_shipment(db: Database) -> None:
    """A revision replaces its shipment's codes: find them without looking at every other shipment's."""
    db.execute("CREATE INDEX carton_codes_by_shipment ON carton_codes (shipment)")


@migrations()
def m003_actions(db: Database) -> None:
    """What was asked for under an id that its sender made, and what was answered; notes say which action made them.

    Who changed a manifest, and in which way, are columns instead of words in a file's name.
    """
    for statement in (
        """CREATE TABLE actions (
            action_id TEXT PRIMARY KEY,
            content_sha256 TEXT NOT NULL,
            answered_at TEXT NOT NULL,
            answer TEXT NOT NULL
        ) STRICT""",
        "ALTER TABLE notes ADD COLUMN action_id TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE manifest_revisions ADD COLUMN by TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE manifest_revisions ADD COLUMN origin TEXT NOT NULL DEFAULT 'file'",
    ):
        db.execute(statement)
    _append_only(db, "actions")
