"""The first tables: shipments with their revisions, photos, reads, notes, receipts and documents.

A schema that is out there never changes, down to its spaces: `tests/store/test_migrations.py` holds its digest.
"""

FIRST_SCHEMA = (
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
)
