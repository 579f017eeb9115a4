"""The tables, as migrations that only append.

Reads, notes, revisions, receipts and documents are append-only: triggers refuse a change or a removal, whoever asks.
"""

from collections.abc import Sequence
from contextlib import suppress

from receiving.errors import StoreError
from receiving.model import Manifest
from receiving.store.audit import AUDIT_CHAIN_SCHEMA
from receiving.store.library import Database, Migrations
from receiving.store.list_rows import ROW_DAYS_SCHEMA
from receiving.store.manifests import add_terms, codes_of
from receiving.store.records import COLUMNS, FIRST_WITH_DIGESTS, from_text, row_digest
from receiving.store.table_schema import (
    COUNTING_SCHEMA,
    FIRST_PASSWORD_SCHEMA,
    FIRST_SCHEMA,
    FOLLOWED_SCHEMA,
    LIST_SCHEMA,
    LIST_SECTIONS_SCHEMA,
    LISTED_STORES_SCHEMA,
    MESSAGE_SCHEMA,
    PEOPLE_SCHEMA,
    RETENTION_SCHEMA,
    add_ways_to_sign_in,
)
from receiving.store.webhooks import WEBHOOK_SCHEMA

migrations = Migrations("receiving")

_APPEND_ONLY = ("manifest_revisions", "reads", "notes", "receipts", "documents")


@migrations()
def m001_first_tables(db: Database) -> None:
    """Shipments with their revisions, photos, reads, notes, receipts and documents."""
    for statement in FIRST_SCHEMA:
        db.execute(statement)
    for table in _APPEND_ONLY:
        _append_only(db, table)


def _append_only(db: Database, table: str, deeds: Sequence[str] = ("UPDATE", "DELETE")) -> None:
    for deed in deeds:
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


_KEYS = {
    "manifest_revisions": ("seq", "shipment, revision"),
    "reads": ("seq", "shipment, read_id"),
    "notes": ("seq", "shipment, note_id"),
    "receipts": ("seq", "shipment, number"),
    "documents": ("seq",),
    "actions": ("rowid", "action_id"),
    "audit": ("seq",),
    "seals": ("shipment, number",),
}
"""What a new row may not have in common with one that is there, or INSERT OR REPLACE would take its place."""


@migrations()
def m004_digests(db: Database) -> None:
    """A digest beside each row; append-only also holds against INSERT OR REPLACE, and no shipment or photo goes."""
    for table in FIRST_WITH_DIGESTS:
        db.execute(f"ALTER TABLE {table} ADD COLUMN digest TEXT NOT NULL DEFAULT ''")
        db.execute(f"DROP TRIGGER IF EXISTS {table}_no_update")
        _digest_all(db, table)
    for table in sorted(_KEYS.keys() & set(FIRST_WITH_DIGESTS)):
        _append_only(db, table, ["UPDATE"])
        _no_replacing(db, table)
    for table in ("shipments", "photos"):
        db.execute(
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN SELECT RAISE(ABORT, '{table} stay'); END"
        )


def _digest_all(db: Database, table: str) -> None:
    columns = COLUMNS[table][1]

    def digest(*values: object) -> str:
        return row_digest(table, dict(zip(columns, values, strict=True)), 1)

    db.conn.create_function("row_digest_1", len(columns), digest, deterministic=True)
    db.execute(f"UPDATE {table} SET digest = row_digest_1({', '.join(columns)})")


def _no_replacing(db: Database, table: str) -> None:
    taken = " OR ".join(
        f"EXISTS (SELECT 1 FROM {table} WHERE {' AND '.join(f'{name} = NEW.{name}' for name in key.split(', '))})"
        for key in _KEYS[table]
    )
    db.execute(
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {taken} "
        f"BEGIN SELECT RAISE(ABORT, '{table} are append-only'); END"
    )


@migrations()
def m005_shipments_by_store(db: Database) -> None:
    """What a store lacks, and whether a request has brought it, is asked for all its shipments."""
    db.execute("CREATE INDEX shipments_by_store ON shipments (store)")


@migrations()
def m006_carton_terms(db: Database) -> None:
    """What a carton of a current manifest goes by, backwards too: people type the last digits of a number."""
    db.execute("CREATE TABLE carton_terms (term TEXT NOT NULL, shipment TEXT NOT NULL REFERENCES shipments) STRICT")
    db.execute("CREATE INDEX carton_terms_by_term ON carton_terms (term)")
    db.execute("CREATE INDEX carton_terms_by_shipment ON carton_terms (shipment)")
    manifests = db.query("SELECT r.manifest FROM manifest_revisions r JOIN shipments s USING (shipment, revision)")
    for row in list(manifests):
        with suppress(StoreError):  # its shipment cannot be shown, and says so; the others go on
            add_terms(db, from_text(row["manifest"], Manifest))


@migrations()
def m007_people(db: Database) -> None:
    """Accounts, sessions and links, refused sign-ins, secrets of this service, and who saw and did what."""
    for statement in PEOPLE_SCHEMA:
        db.execute(statement)
    _append_only(db, "audit")
    _no_replacing(db, "audit")


@migrations()
def m008_seals(db: Database) -> None:
    """What proves a receipt: its seal, and the keys that seals are made with."""
    db.execute(
        """CREATE TABLE signing_keys (
            key TEXT PRIMARY KEY,
            public_key TEXT NOT NULL,
            private_key TEXT NOT NULL,
            created_at TEXT NOT NULL,
            retired_at TEXT
        ) STRICT"""
    )
    db.execute(
        """CREATE TABLE seals (
            shipment TEXT NOT NULL REFERENCES shipments,
            number INTEGER NOT NULL,
            header TEXT NOT NULL,
            signature TEXT NOT NULL,
            public_key TEXT NOT NULL,
            PRIMARY KEY (shipment, number)
        ) STRICT, WITHOUT ROWID"""
    )
    _append_only(db, "seals")
    _no_replacing(db, "seals")


@migrations()
def m009_voided(db: Database) -> None:
    """A shipment that was imported by mistake is in no list; the note that voids it is what counts."""
    db.execute("ALTER TABLE shipments ADD COLUMN voided INTEGER NOT NULL DEFAULT 0")
    db.execute("CREATE INDEX notes_on_voiding ON notes (shipment, seq) WHERE kind = 'shipment_voided'")


@migrations()
def m010_list_rows(db: Database) -> None:
    """Rows of lists with what they are sorted by, and what makes them be made again."""
    for statement in LIST_SCHEMA:
        db.execute(statement)


@migrations()
def m011_pending(db: Database) -> None:
    """What people were shown and have not answered yet."""
    db.execute(
        """CREATE TABLE pending (
            seq INTEGER PRIMARY KEY,
            purpose TEXT NOT NULL,
            key TEXT NOT NULL,
            shown_at TEXT NOT NULL,
            name TEXT NOT NULL,
            detail TEXT NOT NULL,
            body BLOB NOT NULL,
            UNIQUE (purpose, key)
        ) STRICT"""
    )


@migrations()
def m012_api_tokens(db: Database) -> None:
    """Tokens of programs that use the API: a digest, what it may do, and when it was ended."""
    db.execute(
        """CREATE TABLE api_tokens (
            token_id TEXT PRIMARY KEY,
            token_sha256 TEXT NOT NULL UNIQUE,
            name TEXT NOT NULL,
            scopes TEXT NOT NULL,
            created_at TEXT NOT NULL,
            created_by TEXT NOT NULL,
            revoked_at TEXT
        ) STRICT"""
    )


@migrations()
def m013_rows_without_costs(db: Database) -> None:
    """What choices cost and the lanes between stores are not part of a row: storing them makes no row anew."""
    db.execute("DROP TRIGGER list_rows_of_all")
    db.execute(
        """CREATE TRIGGER list_rows_of_all AFTER INSERT ON documents
            WHEN NEW.kind NOT IN ('layout', 'request', 'kit', 'costs', 'lanes') BEGIN
            INSERT INTO stale_rows SELECT shipment, random() FROM shipments WHERE true
                ON CONFLICT (shipment) DO UPDATE SET mark = excluded.mark;
        END"""
    )


@migrations()
def m014_codes_in_all_forms(db: Database) -> None:
    """A carton is found by its number in each form that a label or a shipper gives it, also one imported before."""
    manifests = db.query("SELECT r.manifest FROM manifest_revisions r JOIN shipments s USING (shipment, revision)")
    for row in list(manifests):
        with suppress(StoreError):  # its shipment cannot be shown, and says so; the others go on
            manifest = from_text(row["manifest"], Manifest)
            db.conn.executemany(
                "INSERT INTO carton_codes (code, shipment) VALUES (?, ?) ON CONFLICT DO NOTHING",
                [(code, manifest.shipment) for code in codes_of(manifest)],
            )


@migrations()
def m015_list_version(db: Database) -> None:
    """A number that grows with every row of a list that is made: an open board asks for it alone."""
    db.execute("CREATE TABLE list_version (only INTEGER PRIMARY KEY CHECK (only = 1), version INTEGER NOT NULL) STRICT")
    db.execute("INSERT INTO list_version VALUES (1, 0)")


@migrations()
def m016_webhooks(db: Database) -> None:
    """Who is told of what, the events that happened, and how each reached whom."""
    for statement in WEBHOOK_SCHEMA:
        db.execute(statement)


@migrations()
def m017_row_days(db: Database) -> None:
    """How each shipment stood on each day on which that changed."""
    for statement in ROW_DAYS_SCHEMA:
        db.execute(statement)


@migrations()
def m018_tokens_of_stores(db: Database) -> None:
    """A token of the API may be for some stores alone."""
    db.execute("ALTER TABLE api_tokens ADD COLUMN stores TEXT")


@migrations()
def m019_days_of_replacements(db: Database) -> None:
    """A replacement shipment serves the visits of others, and counts in no history of visits."""
    db.execute("ALTER TABLE row_days ADD COLUMN replaces INTEGER NOT NULL DEFAULT 0")


@migrations()
def m020_ways_to_sign_in(db: Database) -> None:
    """Passkeys, accounts of a company's sign-on, PINs, what is asked once; and which programme a shipment is of."""
    add_ways_to_sign_in(db)


@migrations()
def m021_retention(db: Database) -> None:
    """Which photos were taken out by rule, and when a name was taken out of everything."""
    for statement in RETENTION_SCHEMA:
        db.execute(statement)


@migrations()
def m022_list_sections(db: Database) -> None:
    """The sections of each row of a list, so that they are looked for, and offered, without reading every row."""
    for statement in LIST_SECTIONS_SCHEMA:
        db.execute(statement)


@migrations()
def m023_written_messages(db: Database) -> None:
    """Which messages of receipts were written into the folder of another program."""
    db.execute(MESSAGE_SCHEMA)


@migrations()
def m024_digests_of_people(db: Database) -> None:
    """A digest beside each account and each line of the audit: one that was changed by hand is found."""
    db.execute("DROP TRIGGER audit_no_update")
    for table in ("audit", "people"):
        db.execute(f"ALTER TABLE {table} ADD COLUMN digest TEXT NOT NULL DEFAULT ''")
        _digest_all(db, table)
    _append_only(db, "audit", ["UPDATE"])


@migrations()
def m025_programs_of_programmes(db: Database) -> None:
    """A token of the API, and a webhook, may be for some programmes alone."""
    for table in ("api_tokens", "webhooks"):
        db.execute(f"ALTER TABLE {table} ADD COLUMN programmes TEXT")


@migrations()
def m026_first_passwords(db: Database) -> None:
    """Which passwords somebody else made: they are replaced at the first sign-in, and are over after some days."""
    db.execute(FIRST_PASSWORD_SCHEMA)


@migrations()
def m027_rows_of_listed_stores(db: Database) -> None:
    """What the list of stores says of one makes its rows anew; settings, and the headings of a table, make none."""
    for statement in LISTED_STORES_SCHEMA:
        db.execute(statement)


@migrations()
def m028_digests_of_seals(db: Database) -> None:
    """A digest beside each seal, as beside each receipt."""
    db.execute("ALTER TABLE seals ADD COLUMN digest TEXT NOT NULL DEFAULT ''")
    db.execute("DROP TRIGGER seals_no_update")
    _digest_all(db, "seals")
    _append_only(db, "seals", ["UPDATE"])


@migrations()
def m029_rows_by_what_they_follow(db: Database) -> None:
    """Which rows of lists may follow from label patterns, and which from the parts list; the others stay."""
    for statement in FOLLOWED_SCHEMA:
        db.execute(statement)


@migrations()
def m030_chained_audit(db: Database) -> None:
    """Whom and what a line of the audit log is about, how often, and the digest of the line before."""
    for statement in AUDIT_CHAIN_SCHEMA:
        db.execute(statement)


@migrations()
def m031_row_counts(db: Database) -> None:
    """How many rows each table was given that loses none: where the last ones went, no gap tells so."""
    for statement in COUNTING_SCHEMA:
        db.execute(statement)
