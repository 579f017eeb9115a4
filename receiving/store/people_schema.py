"""The tables of accounts, sessions, links, refused sign-ins, secrets of this service, and the audit log.

Its text is what databases out there hold: it stays as it is, with its indentation.
"""

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
