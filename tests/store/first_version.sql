-- A database as the first version of the schema wrote it, with one of everything. It stays as it is.
BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'receiving','m001_first_tables','2026-03-02 09:12:52.680969+00:00');
CREATE TABLE carton_codes (
            code TEXT NOT NULL,
            shipment TEXT NOT NULL REFERENCES shipments,
            PRIMARY KEY (code, shipment)
        ) STRICT, WITHOUT ROWID;
INSERT INTO "carton_codes" VALUES('395200000000000012','S-1');
INSERT INTO "carton_codes" VALUES('395200000000000029','S-1');
CREATE TABLE documents (
            seq INTEGER PRIMARY KEY,
            kind TEXT NOT NULL,
            key TEXT NOT NULL,
            added_at TEXT NOT NULL,
            file_name TEXT NOT NULL,
            body TEXT NOT NULL
        ) STRICT;
CREATE TABLE manifest_revisions (
            seq INTEGER PRIMARY KEY,
            shipment TEXT NOT NULL REFERENCES shipments,
            revision INTEGER NOT NULL,
            imported_at TEXT NOT NULL,
            file_name TEXT NOT NULL,
            manifest TEXT NOT NULL,
            changes TEXT NOT NULL,
            UNIQUE (shipment, revision)
        ) STRICT;
INSERT INTO "manifest_revisions" VALUES(1,'S-1',1,'2026-03-02T09:12:52.800762+00:00','m.csv','{"shipment":"S-1","store":"0417","cartons":[{"carton":"02","kind":"tray","sscc":{"digits":"395200000000000012"},"barcode":"","outer":"","open_first":false,"contents":[{"section":"Harbor","address":{"section":"Harbor","column":1,"row":1},"item":"T-1","description":"","qty":1,"unit":""}],"weight_kg":6.0,"length_cm":null,"width_cm":null,"height_cm":null},{"carton":"03","kind":"tray","sscc":{"digits":"395200000000000029"},"barcode":"","outer":"","open_first":false,"contents":[{"section":"Harbor","address":{"section":"Harbor","column":2,"row":1},"item":"T-2","description":"","qty":1,"unit":""}],"weight_kg":6.0,"length_cm":null,"width_cm":null,"height_cm":null}],"dispatch_date":"2026-03-09","references":[]}','[]');
CREATE TABLE notes (
            seq INTEGER PRIMARY KEY,
            note_id TEXT NOT NULL,
            shipment TEXT NOT NULL REFERENCES shipments,
            kind TEXT NOT NULL,
            noted_at TEXT NOT NULL,
            note TEXT NOT NULL,
            UNIQUE (shipment, note_id)
        ) STRICT;
INSERT INTO "notes" VALUES(1,'662878f6-eb0d-4101-8a08-6f16886de479','S-1','carton_place','2026-03-02T09:12:55.476634+00:00','{"note_id":"662878f6-eb0d-4101-8a08-6f16886de479","noted_at":"2026-03-02T09:12:55.476634Z","by":"Ada","carton":"02","place":"overhead"}');
CREATE TABLE photos (
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
        ) STRICT;
INSERT INTO "photos" VALUES('S-1','f9378b0b860b518675fb75021ec87a1629e37f8fc7291f2034f784dba461e0f0','a.png','2026-03-02T09:12:54.155433+00:00','dock','Ada','read','','{"width_px":40,"height_px":30,"symbols":[{"raw":"00395200000000000012","symbology":"]C1","quad_px":[[1.0,1.0],[30.0,1.0],[30.0,20.0],[1.0,20.0]],"reader":"zxing","label":1,"guided":false,"confidence":1.0,"alternatives":[]}],"unread":[],"advice":"","refused":[],"ms":0.0}');
CREATE TABLE reads (
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
        ) STRICT;
INSERT INTO "reads" VALUES(1,'5fdadc0b-1a62-5968-a8cf-37878390a2b9','S-1','2026-03-02T09:12:54.155433+00:00','00395200000000000012',']C1','photo','f9378b0b860b518675fb75021ec87a1629e37f8fc7291f2034f784dba461e0f0','{"read_id":"5fdadc0b-1a62-5968-a8cf-37878390a2b9","read_at":"2026-03-02T09:12:54.155433Z","source":"photo","raw":"00395200000000000012","symbology":"]C1","place":"dock","by":"Ada","photo":"f9378b0b860b518675fb75021ec87a1629e37f8fc7291f2034f784dba461e0f0","quad_px":[[1.0,1.0],[30.0,1.0],[30.0,20.0],[1.0,20.0]],"label":1,"reader":"zxing","guided":false,"confidence":1.0,"alternatives":[]}');
INSERT INTO "reads" VALUES(2,'d2a6aa3e-929d-4265-96e3-8222ea41633a','S-1','2026-03-02T09:12:54.383574+00:00','(00)395200000000000029','','typed','','{"read_id":"d2a6aa3e-929d-4265-96e3-8222ea41633a","read_at":"2026-03-02T09:12:54.383574Z","source":"typed","raw":"(00)395200000000000029","symbology":"","place":"dock","by":"Ada","photo":"","quad_px":null,"label":0,"reader":"","guided":false,"confidence":1.0,"alternatives":[]}');
CREATE TABLE receipts (
            seq INTEGER PRIMARY KEY,
            shipment TEXT NOT NULL REFERENCES shipments,
            number INTEGER NOT NULL,
            confirmed_at TEXT NOT NULL,
            receipt TEXT NOT NULL,
            UNIQUE (shipment, number)
        ) STRICT;
INSERT INTO "receipts" VALUES(1,'S-1',1,'2026-03-02T09:12:55.670645+00:00','{"number":1,"confirmed_at":"2026-03-02T09:12:55.670645Z","name":"Grace","role":"Manager","remarks":"","with_exceptions":true,"shown":{"shipment":"S-1","store":"0417","revision":1,"expected":2,"received":2,"short":0,"extra":0,"questions":0,"lines":[{"carton":"02","state":"received","words":"Carton 02, tray, for Harbor, column 1, row 1: here."},{"carton":"03","state":"received","words":"Carton 03, tray, for Harbor, column 2, row 1: here."}],"digest":"b47a8faeff6fcb7219f136c113a3abaddb8ae328650cbdc4246c75c3b23ae3a1"}}');
CREATE TABLE shipments (
            shipment TEXT PRIMARY KEY,
            store TEXT NOT NULL,
            dispatch_date TEXT,
            revision INTEGER NOT NULL,
            version INTEGER NOT NULL,
            last_read_at TEXT
        ) STRICT;
INSERT INTO "shipments" VALUES('S-1','0417','2026-03-09',1,7,'2026-03-02T09:12:54.383574+00:00');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX documents_by_key ON documents (kind, key, seq);
CREATE INDEX reads_by_photo ON reads (shipment, photo);
CREATE TRIGGER manifest_revisions_no_update BEFORE UPDATE ON manifest_revisions BEGIN SELECT RAISE(ABORT, 'manifest_revisions are append-only'); END;
CREATE TRIGGER manifest_revisions_no_delete BEFORE DELETE ON manifest_revisions BEGIN SELECT RAISE(ABORT, 'manifest_revisions are append-only'); END;
CREATE TRIGGER reads_no_update BEFORE UPDATE ON reads BEGIN SELECT RAISE(ABORT, 'reads are append-only'); END;
CREATE TRIGGER reads_no_delete BEFORE DELETE ON reads BEGIN SELECT RAISE(ABORT, 'reads are append-only'); END;
CREATE TRIGGER notes_no_update BEFORE UPDATE ON notes BEGIN SELECT RAISE(ABORT, 'notes are append-only'); END;
CREATE TRIGGER notes_no_delete BEFORE DELETE ON notes BEGIN SELECT RAISE(ABORT, 'notes are append-only'); END;
CREATE TRIGGER receipts_no_update BEFORE UPDATE ON receipts BEGIN SELECT RAISE(ABORT, 'receipts are append-only'); END;
CREATE TRIGGER receipts_no_delete BEFORE DELETE ON receipts BEGIN SELECT RAISE(ABORT, 'receipts are append-only'); END;
CREATE TRIGGER documents_no_update BEFORE UPDATE ON documents BEGIN SELECT RAISE(ABORT, 'documents are append-only'); END;
CREATE TRIGGER documents_no_delete BEFORE DELETE ON documents BEGIN SELECT RAISE(ABORT, 'documents are append-only'); END;
COMMIT;
