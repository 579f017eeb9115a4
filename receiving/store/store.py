"""The store's door: save and load values. One `Store` per request or thread."""

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from receiving.errors import Conflict, NotFound
from receiving.model import Manifest, Note, PhotoReading, Place, RawRead, Receipt
from receiving.store.connection import connect, immediate, mapped_errors
from receiving.store.records import (
    NOTE_KINDS,
    Document,
    DocumentKind,
    PhotoRecord,
    PhotoStatus,
    RevisionRecord,
    ShipmentRecord,
    as_utc_text,
    from_text,
    from_utc_text,
    note_kind,
    to_text,
)

Row = dict[str, Any]


class Store:
    """Shipments, reads, notes, photos' records, receipts and documents in one SQLite file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._db = connect(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection."""
        self._db.conn.close()

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with mapped_errors(self.path), immediate(self._db):
            yield

    def _rows(self, sql: str, *values: object) -> list[Row]:
        with mapped_errors(self.path):
            return list(self._db.query(sql, values))

    @contextmanager
    def _writing_for(self, shipment: str) -> Iterator[None]:
        with self._writing():
            if not list(self._db.query("SELECT 1 FROM shipments WHERE shipment = ?", [shipment])):
                raise _no_shipment(shipment)
            yield

    def _touch(self, shipment: str) -> None:
        self._db.execute("UPDATE shipments SET version = version + 1 WHERE shipment = ?", [shipment])

    # -- shipments and their revisions

    def shipments(self) -> tuple[ShipmentRecord, ...]:
        """All shipments, by dispatch date (undated last), then id."""
        rows = self._rows("SELECT * FROM shipments ORDER BY dispatch_date IS NULL, dispatch_date, shipment")
        return tuple(_shipment(row) for row in rows)

    def shipment(self, shipment: str) -> ShipmentRecord:
        """The shipment with this id; raises NotFound."""
        rows = self._rows("SELECT * FROM shipments WHERE shipment = ?", shipment)
        if not rows:
            raise _no_shipment(shipment)
        return _shipment(rows[0])

    def stamp(self) -> tuple[int, int]:
        """Two numbers that grow with every stored document and manifest revision."""
        row = self._rows(
            "SELECT (SELECT ifnull(max(seq), 0) FROM documents) AS d, (SELECT ifnull(max(seq), 0)"
            " FROM manifest_revisions) AS r"
        )[0]
        return int(row["d"]), int(row["r"])

    def revision(self, shipment: str, revision: int | None = None) -> RevisionRecord:
        """One revision of the shipment's manifest, the current one by default; raises NotFound."""
        newest = self.shipment(shipment).revision
        wanted = revision if revision is not None else newest
        known = 1 <= wanted <= newest
        rows = self._rows(
            "SELECT * FROM manifest_revisions WHERE shipment = ? AND revision = ?", shipment, wanted if known else 0
        )
        if not rows:
            raise NotFound(
                f"Shipment {shipment!r} has no revision {wanted}.", next_step="Choose one of the listed revisions."
            )
        return _revision(rows[0])

    def revisions(self, shipment: str) -> tuple[RevisionRecord, ...]:
        """All revisions, oldest first."""
        rows = self._rows("SELECT * FROM manifest_revisions WHERE shipment = ? ORDER BY revision", shipment)
        return tuple(_revision(row) for row in rows)

    def add_revisions(
        self, revisions: Iterable[tuple[Manifest, int, tuple[str, ...]]], *, file_name: str, imported_at: datetime
    ) -> None:
        """Save manifests as new revisions, all or none. Each: manifest, the revision it follows (0: none), changes.

        Raises Conflict when a shipment has moved on from the revision that the caller compared with.
        """
        with self._writing():
            for manifest, follows, changes in revisions:
                self._add_revision(manifest, follows, changes, file_name, imported_at)

    def _add_revision(
        self, manifest: Manifest, follows: int, changes: tuple[str, ...], file_name: str, imported_at: datetime
    ) -> None:
        rows = list(self._db.query("SELECT revision FROM shipments WHERE shipment = ?", [manifest.shipment]))
        if (rows[0]["revision"] if rows else 0) != follows:
            raise Conflict(
                f"Shipment {manifest.shipment!r} was changed by someone else meanwhile.",
                next_step="Load the file again to see what it changes now.",
            )
        day = manifest.dispatch_date.isoformat() if manifest.dispatch_date else None
        self._db.execute(
            "INSERT INTO shipments (shipment, store, dispatch_date, revision, version) VALUES (?, ?, ?, ?, 1) "
            "ON CONFLICT (shipment) DO UPDATE SET store = excluded.store, dispatch_date = excluded.dispatch_date, "
            "revision = excluded.revision, version = version + 1",
            [manifest.shipment, manifest.store, day, follows + 1],
        )
        self._db.table("manifest_revisions").insert(
            {
                "shipment": manifest.shipment,
                "revision": follows + 1,
                "imported_at": as_utc_text(imported_at),
                "file_name": file_name,
                "manifest": to_text(manifest),
                "changes": json.dumps(changes),
            }
        )
        self._db.execute("DELETE FROM carton_codes WHERE shipment = ?", [manifest.shipment])
        codes = {str(c.sscc) for c in manifest if c.sscc} | {c.barcode for c in manifest if c.barcode}
        self._db.table("carton_codes").insert_all(
            {"code": code, "shipment": manifest.shipment} for code in sorted(codes)
        )

    def shipments_with_codes(self, codes: Iterable[str]) -> tuple[str, ...]:
        """The shipments whose current manifest holds one of these SSCCs or barcodes."""
        rows = self._rows(
            "SELECT DISTINCT shipment FROM carton_codes WHERE code IN (SELECT value FROM json_each(?)) ORDER BY 1",
            json.dumps(sorted(set(codes))),
        )
        return tuple(row["shipment"] for row in rows)

    # -- reads and notes

    def add_reads(self, shipment: str, reads: Iterable[RawRead]) -> int:
        """Store reads; one whose id is already stored is left as it is. Gives how many were new."""
        with self._writing_for(shipment):
            return self._add_reads(shipment, reads)

    def _add_reads(self, shipment: str, reads: Iterable[RawRead]) -> int:
        new = 0
        for read in reads:
            new += self._db.execute(
                "INSERT INTO reads (read_id, shipment, read_at, raw, symbology, source, photo, read) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
                [
                    read.read_id,
                    shipment,
                    as_utc_text(read.read_at),
                    read.raw,
                    read.symbology,
                    read.source,
                    read.photo,
                    to_text(read),
                ],
            ).rowcount
        if new:
            self._touch(shipment)
            self._db.execute(
                "UPDATE shipments SET last_read_at = (SELECT max(read_at) FROM reads WHERE shipment = ?1) "
                "WHERE shipment = ?1",
                [shipment],
            )
        return new

    def reads(self, shipment: str) -> tuple[RawRead, ...]:
        """All reads of the shipment, in the order in which they came in."""
        rows = self._rows("SELECT read FROM reads WHERE shipment = ? ORDER BY seq", shipment)
        return tuple(from_text(row["read"], RawRead) for row in rows)

    def add_note(self, shipment: str, note: Note) -> None:
        """Store a note; the same note again changes nothing."""
        with self._writing_for(shipment):
            new = self._db.execute(
                "INSERT INTO notes (note_id, shipment, kind, noted_at, note) VALUES (?, ?, ?, ?, ?) "
                "ON CONFLICT DO NOTHING",
                [note.note_id, shipment, note_kind(note), as_utc_text(note.noted_at), to_text(note)],
            ).rowcount
            if new:
                self._touch(shipment)

    def notes(self, shipment: str) -> tuple[Note, ...]:
        """All notes of the shipment, oldest first."""
        rows = self._rows("SELECT kind, note FROM notes WHERE shipment = ? ORDER BY seq", shipment)
        return tuple(from_text(row["note"], NOTE_KINDS[row["kind"]]) for row in rows)

    # -- photos

    def add_photo(self, shipment: str, photo: str, *, name: str, added_at: datetime, place: Place, by: str) -> bool:
        """Record a photo that waits to be read; False when it is here already. A failed one waits again."""
        with self._writing_for(shipment):
            done = self._db.execute(
                "INSERT INTO photos (shipment, photo, name, added_at, place, by, status) "
                "VALUES (?, ?, ?, ?, ?, ?, 'waiting') ON CONFLICT DO UPDATE SET status = 'waiting', error = '' "
                "WHERE status = 'failed'",
                [shipment, photo, name, as_utc_text(added_at), place, by],
            )
            if done.rowcount:
                self._touch(shipment)
            return bool(done.rowcount)

    def finish_photo(self, shipment: str, photo: str, reading: PhotoReading, reads: Iterable[RawRead]) -> None:
        """Save what a photo gave and its reads, together."""
        with self._writing_for(shipment):
            self._set_photo(shipment, photo, PhotoStatus.READ, reading=to_text(reading))
            self._add_reads(shipment, reads)

    def fail_photo(self, shipment: str, photo: str, error: str) -> None:
        """Say why a photo could not be read."""
        with self._writing_for(shipment):
            self._set_photo(shipment, photo, PhotoStatus.FAILED, error=error)

    def _set_photo(
        self, shipment: str, photo: str, status: PhotoStatus, *, error: str = "", reading: str | None = None
    ) -> None:
        self._db.execute(
            "UPDATE photos SET status = ?, error = ?, reading = ? WHERE shipment = ? AND photo = ?",
            [status, error, reading, shipment, photo],
        )
        self._touch(shipment)

    def photos(self, shipment: str) -> tuple[PhotoRecord, ...]:
        """All photos of the shipment, oldest first."""
        rows = self._rows("SELECT * FROM photos WHERE shipment = ? ORDER BY added_at, photo", shipment)
        return tuple(_photo(row) for row in rows)

    def photo(self, shipment: str, photo: str) -> PhotoRecord:
        """One photo of the shipment; raises NotFound."""
        rows = self._rows("SELECT * FROM photos WHERE shipment = ? AND photo = ?", shipment, photo)
        if not rows:
            raise NotFound(
                f"Shipment {shipment!r} has no photo {photo[:12]!r}.", next_step="Choose one from the shipment's page."
            )
        return _photo(rows[0])

    def waiting_photos(self) -> tuple[tuple[str, str], ...]:
        """(shipment, photo) of every photo that is not yet read."""
        rows = self._rows("SELECT shipment, photo FROM photos WHERE status = 'waiting' ORDER BY added_at")
        return tuple((row["shipment"], row["photo"]) for row in rows)

    # -- receipts and documents

    def add_receipt(self, receipt: Receipt, *, version: int) -> None:
        """Store a receipt, provided that the shipment is still at this version; raises Conflict."""
        shipment = receipt.shown.shipment
        with self._writing():
            rows = list(self._db.query("SELECT version FROM shipments WHERE shipment = ?", [shipment]))
            if not rows or rows[0]["version"] != version:
                raise Conflict(
                    "Something was read or noted while you were confirming.", next_step="Look at the counts again."
                )
            self._db.table("receipts").insert(
                {
                    "shipment": shipment,
                    "number": receipt.number,
                    "confirmed_at": as_utc_text(receipt.confirmed_at),
                    "receipt": to_text(receipt),
                }
            )
            self._touch(shipment)

    def receipts(self, shipment: str) -> tuple[Receipt, ...]:
        """The shipment's receipts, oldest first."""
        rows = self._rows("SELECT receipt FROM receipts WHERE shipment = ? ORDER BY number", shipment)
        return tuple(from_text(row["receipt"], Receipt) for row in rows)

    def add_document(
        self, kind: DocumentKind, key: str, body: str, *, file_name: str, added_at: datetime, follows: int | None = None
    ) -> None:
        """Store a document; it becomes the current one of its kind and key. The same text again changes nothing.

        ``follows`` is the number of versions that its writer knew; raises Conflict when there are more by now.
        """
        with self._writing():
            known = [document.body for document in self.documents(kind, key)]
            if follows is not None and follows != len(known):
                raise Conflict(
                    "Somebody else saved this while you were editing; nothing of yours was stored.",
                    next_step="Compare with the newest version, then save again.",
                )
            if known[-1:] != [body]:
                self._db.table("documents").insert(
                    {"kind": kind, "key": key, "added_at": as_utc_text(added_at), "file_name": file_name, "body": body}
                )

    def documents(self, kind: DocumentKind, key: str) -> tuple[Document, ...]:
        """All documents of this kind and key, oldest first."""
        rows = self._rows("SELECT * FROM documents WHERE kind = ? AND key = ? ORDER BY seq", kind, key)
        return tuple(_document(row) for row in rows)

    def document(self, kind: DocumentKind, key: str = "") -> Document | None:
        """The current document of this kind and key, or None."""
        found = self.documents(kind, key)
        return found[-1] if found else None


def _no_shipment(shipment: str) -> NotFound:
    return NotFound(
        f"There is no shipment {shipment!r}.",
        next_step="Check the number, or import its manifest first.",
    )


def _shipment(row: Row) -> ShipmentRecord:
    return ShipmentRecord(
        shipment=row["shipment"],
        store=row["store"],
        dispatch_date=date.fromisoformat(row["dispatch_date"]) if row["dispatch_date"] else None,
        revision=row["revision"],
        version=row["version"],
        last_read_at=from_utc_text(row["last_read_at"]) if row["last_read_at"] else None,
    )


def _revision(row: Row) -> RevisionRecord:
    return RevisionRecord(
        revision=row["revision"],
        imported_at=from_utc_text(row["imported_at"]),
        file_name=row["file_name"],
        manifest=from_text(row["manifest"], Manifest),
        changes=tuple(json.loads(row["changes"])),
    )


def _photo(row: Row) -> PhotoRecord:
    return PhotoRecord(
        photo=row["photo"],
        name=row["name"],
        added_at=from_utc_text(row["added_at"]),
        place=Place(row["place"]),
        by=row["by"],
        status=PhotoStatus(row["status"]),
        error=row["error"],
        reading=from_text(row["reading"], PhotoReading) if row["reading"] else None,
    )


def _document(row: Row) -> Document:
    return Document(
        seq=row["seq"],
        kind=DocumentKind(row["kind"]),
        key=row["key"],
        added_at=from_utc_text(row["added_at"]),
        file_name=row["file_name"],
        body=row["body"],
    )
