"""The tables of what people sign in and are let in by, as far as they came after the first ones."""

from contextlib import suppress

from sqlite_utils import Database

from receiving.errors import StoreError
from receiving.model import Manifest
from receiving.store.records import from_text


def add_ways_to_sign_in(db: Database) -> None:
    """Passkeys, accounts of a company's sign-on, PINs, what is asked once; and which programme a shipment is of."""
    for statement in (
        "ALTER TABLE people ADD COLUMN programmes TEXT",
        "ALTER TABLE people ADD COLUMN pin_hash TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE people ADD COLUMN subject TEXT",
        "CREATE UNIQUE INDEX people_by_subject ON people (subject)",
        """CREATE TABLE passkeys (
            credential_id TEXT PRIMARY KEY,
            person_id TEXT NOT NULL REFERENCES people,
            public_key TEXT NOT NULL,
            sign_count INTEGER NOT NULL,
            label TEXT NOT NULL,
            created_at TEXT NOT NULL,
            used_at TEXT
        ) STRICT""",
        "CREATE INDEX passkeys_by_person ON passkeys (person_id)",
        """CREATE TABLE challenges (
            challenge_sha256 TEXT PRIMARY KEY,
            purpose TEXT NOT NULL,
            body TEXT NOT NULL,
            expires_at TEXT NOT NULL
        ) STRICT""",
        "ALTER TABLE shipments ADD COLUMN programme TEXT NOT NULL DEFAULT ''",
        "CREATE INDEX shipments_by_programme ON shipments (programme)",
    ):
        db.execute(statement)
    manifests = db.query("SELECT r.manifest FROM manifest_revisions r JOIN shipments s USING (shipment, revision)")
    for row in list(manifests):
        with suppress(StoreError):  # its shipment cannot be shown, and says so; the others go on
            manifest = from_text(row["manifest"], Manifest)
            if manifest.programme:
                db.execute(
                    "UPDATE shipments SET programme = ? WHERE shipment = ?", [manifest.programme, manifest.shipment]
                )


RETENTION_SCHEMA = (
    "CREATE TABLE pruned_photos (photo TEXT PRIMARY KEY, pruned_at TEXT NOT NULL) STRICT",
    "CREATE TABLE erasures (seq INTEGER PRIMARY KEY, erased_at TEXT NOT NULL) STRICT",
)
"""Photos whose files went by rule; when a name was taken out of everything."""

MESSAGE_SCHEMA = """CREATE TABLE written_messages (
    shipment TEXT NOT NULL REFERENCES shipments,
    number INTEGER NOT NULL,
    kind TEXT NOT NULL,
    written_at TEXT NOT NULL,
    PRIMARY KEY (shipment, number, kind)
) STRICT, WITHOUT ROWID"""
"""Which messages of receipts were written into the folder of another program."""
