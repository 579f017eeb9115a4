"""The tables of list rows, and the triggers that name the rows which are no longer true.

A row follows from the shipment itself; from the layout, the details, the requests and the other shipments of its store;
from a manifest, not voided, that lists a code which was read here and is not its own; from label patterns where a text
was read that they may be tried on; from parts where cartons are missing.
"""

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
