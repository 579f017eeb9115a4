"""The first tables: shipments with their revisions, photos, reads, notes, receipts and documents.

A schema that is out there never changes, down to its spaces: `tests/store/test_migrations.py` holds its digest.
"""

from contextlib import suppress

from receiving.errors import StoreError
from receiving.model import Manifest
from receiving.store.library import Database
from receiving.store.records import from_text

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


# The tables of what people sign in and are let in by, as far as they came after the first ones.


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


# The tables of accounts, sessions, links, refused sign-ins, secrets of this service, and the audit log.
#
# Its text is what databases out there hold: it stays as it is, with its indentation.


PEOPLE_SCHEMA = (
    """CREATE TABLE people (
            person_id TEXT PRIMARY KEY,
            name TEXT NOT NULL,
            name_key TEXT NOT NULL UNIQUE,
            role TEXT NOT NULL,
            stores TEXT,
            password_hash TEXT NOT NULL,
            created_at TEXT NOT NULL,
            disabled_at TEXT
        ) STRICT""",
    """CREATE TABLE links (
            link_id TEXT PRIMARY KEY,
            token_sha256 TEXT NOT NULL UNIQUE,
            shipment TEXT NOT NULL REFERENCES shipments,
            label TEXT NOT NULL,
            created_by TEXT NOT NULL,
            created_at TEXT NOT NULL,
            expires_at TEXT NOT NULL,
            revoked_at TEXT
        ) STRICT""",
    "CREATE INDEX links_by_shipment ON links (shipment)",
    """CREATE TABLE sessions (
            token_sha256 TEXT PRIMARY KEY,
            person_id TEXT REFERENCES people,
            link_id TEXT REFERENCES links,
            created_at TEXT NOT NULL,
            seen_at TEXT NOT NULL,
            expires_at TEXT NOT NULL,
            CHECK ((person_id IS NULL) <> (link_id IS NULL))
        ) STRICT""",
    """CREATE TABLE failed_sign_ins (
            name_key TEXT NOT NULL,
            address TEXT NOT NULL,
            at TEXT NOT NULL
        ) STRICT""",
    "CREATE INDEX failed_sign_ins_by_address ON failed_sign_ins (address, at)",
    "CREATE TABLE secrets (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
    """CREATE TABLE audit (
            seq INTEGER PRIMARY KEY,
            at TEXT NOT NULL,
            name TEXT NOT NULL,
            role TEXT NOT NULL,
            action TEXT NOT NULL,
            shipment TEXT NOT NULL,
            store TEXT NOT NULL,
            status INTEGER NOT NULL,
            address TEXT NOT NULL,
            request_id TEXT NOT NULL
        ) STRICT""",
    "CREATE INDEX audit_by_shipment ON audit (shipment, seq)",
)

FIRST_PASSWORD_SCHEMA = (
    "CREATE TABLE first_passwords (person_id TEXT PRIMARY KEY REFERENCES people, until TEXT NOT NULL) STRICT"
)


# The tables of list rows, and the triggers that name the rows which are no longer true.
#
# A row follows from the shipment itself; from the layout, the details, the requests and the other shipments of its
# store; from a manifest, not voided, that lists a code which was read here and is not its own; from label patterns
# where a text was read that they may be tried on; from parts where cartons are missing.


LIST_SCHEMA = (
    """CREATE TABLE list_rows (
        shipment TEXT PRIMARY KEY REFERENCES shipments,
        store TEXT NOT NULL,
        words TEXT NOT NULL,
        urgency INTEGER NOT NULL,
        rank INTEGER NOT NULL,
        distance INTEGER NOT NULL,
        load INTEGER NOT NULL,
        missing INTEGER NOT NULL,
        visit TEXT,
        order_by TEXT,
        here REAL,
        last_read TEXT,
        sections TEXT NOT NULL,
        shipper TEXT NOT NULL,
        good_until TEXT NOT NULL,
        row TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX list_rows_in_order ON list_rows (rank, distance, load, missing, shipment)",
    "CREATE INDEX list_rows_by_urgency ON list_rows (urgency)",
    "CREATE INDEX list_rows_by_end ON list_rows (good_until)",
    "CREATE TABLE stale_rows (shipment TEXT PRIMARY KEY, mark INTEGER NOT NULL) STRICT, WITHOUT ROWID",
    """CREATE TABLE strange_codes (
        code TEXT NOT NULL,
        shipment TEXT NOT NULL REFERENCES shipments,
        PRIMARY KEY (code, shipment)
    ) STRICT, WITHOUT ROWID""",
    "CREATE INDEX strange_codes_by_shipment ON strange_codes (shipment)",
    "CREATE TABLE list_maker (only INTEGER PRIMARY KEY CHECK (only = 1), maker TEXT NOT NULL) STRICT",
    "CREATE INDEX shipments_by_day ON shipments (dispatch_date, shipment)",
    "CREATE INDEX reads_in_order ON reads (shipment, seq)",
    """CREATE TRIGGER list_rows_shipment_new AFTER INSERT ON shipments BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE store = NEW.store
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_shipment AFTER UPDATE ON shipments BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE store IN (OLD.store, NEW.store)
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_voided AFTER UPDATE OF voided ON shipments WHEN NEW.voided <> OLD.voided BEGIN
        INSERT INTO stale_rows SELECT strange_codes.shipment, random()
            FROM carton_codes JOIN strange_codes USING (code) WHERE carton_codes.shipment = NEW.shipment
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_code_new AFTER INSERT ON carton_codes BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM strange_codes WHERE code = NEW.code
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_code_gone AFTER DELETE ON carton_codes BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM strange_codes WHERE code = OLD.code
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_of_store AFTER INSERT ON documents WHEN NEW.kind IN ('layout', 'request') BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE store = NEW.key
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_of_all AFTER INSERT ON documents WHEN NEW.kind NOT IN ('layout', 'request', 'kit') BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE true
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    "INSERT INTO stale_rows SELECT shipment, random() FROM shipments",
)
"""What a migration makes; ``mark`` tells a row that went stale again while it was made from one that is done.

Triggers use ON CONFLICT, since the statement that fires them would overrule OR REPLACE.
"""

LIST_SECTIONS_SCHEMA = (
    """CREATE TABLE list_sections (
        section TEXT NOT NULL,
        shipment TEXT NOT NULL REFERENCES shipments,
        PRIMARY KEY (section, shipment)
    ) STRICT, WITHOUT ROWID""",
    "CREATE INDEX list_sections_by_shipment ON list_sections (shipment)",
    "INSERT INTO list_sections SELECT DISTINCT value, shipment FROM list_rows, json_each(sections)",
    "CREATE INDEX list_rows_by_shipper ON list_rows (shipper)",
)
"""What a later migration adds."""

LISTED_STORES_SCHEMA = (
    "DROP TRIGGER list_rows_of_store",
    "DROP TRIGGER list_rows_of_all",
    """CREATE TRIGGER list_rows_of_store AFTER INSERT ON documents WHEN NEW.kind IN ('layout', 'request', 'store') BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE store = NEW.key
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    """CREATE TRIGGER list_rows_of_all AFTER INSERT ON documents WHEN NEW.kind IN ('patterns', 'parts') BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE true
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
)
"""Master data of a later kind must be named by the trigger that it is for."""

FOLLOWED_SCHEMA = (
    "ALTER TABLE list_rows ADD COLUMN by_patterns INTEGER NOT NULL DEFAULT 2",
    "ALTER TABLE list_rows ADD COLUMN by_parts INTEGER NOT NULL DEFAULT 1",
    "DROP TRIGGER list_rows_of_all",
    """CREATE TRIGGER list_rows_by_parts AFTER INSERT ON documents WHEN NEW.kind = 'parts' BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments
            WHERE shipment NOT IN (SELECT shipment FROM list_rows WHERE NOT by_parts)
                OR shipment IN (SELECT shipment FROM stale_rows)
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
    r"""CREATE TRIGGER list_rows_by_patterns AFTER INSERT ON documents WHEN NEW.kind = 'patterns' BEGIN
        INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE store IN (
                SELECT s.store FROM shipments AS s LEFT JOIN list_rows AS r USING (shipment)
                WHERE r.shipment IS NULL OR r.by_patterns = 2
                    OR r.by_patterns = 1 AND EXISTS (SELECT 1 FROM documents WHERE kind = 'patterns'
                        AND (instr(body, 'element') OR body LIKE '%\u%'))
                    OR s.shipment IN (SELECT shipment FROM stale_rows))
            ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
    END""",
)
"""Patterns and parts make only those rows anew that may follow from them, and those that are being made.

By patterns the rows of a whole store: what a replacement shipment brought counts in the row of the first one. Patterns
for elements count once any text of them named one, also by an escape of TOML.
"""

COUNTED = ("manifest_revisions", "photos", "reads", "notes", "receipts", "documents", "actions", "audit", "people")
"""Tables of which no row goes; each seal belongs to a receipt, and is missed beside it."""

COUNTING_SCHEMA = (
    "CREATE TABLE row_counts (counted TEXT PRIMARY KEY, number INTEGER NOT NULL) STRICT, WITHOUT ROWID",
    *(f"INSERT INTO row_counts SELECT '{table}', count(*) FROM {table}" for table in COUNTED),
    *(
        f"CREATE TRIGGER {table}_counted AFTER INSERT ON {table} BEGIN"
        f" UPDATE row_counts SET number = number + 1 WHERE counted = '{table}'; END"
        for table in COUNTED
    ),
)
"""How many rows were stored: with the row itself, in one statement, so that a cut tail is found and a kill is none."""
