"""Reads, notes and photos: what was seen and said, kept as it came in."""

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from receiving.errors import Conflict, NotFound
from receiving.messages import message
from receiving.model import NOTE_KINDS, Note, PhotoReading, Place, RawRead, ShipmentVoided, note_kind
from receiving.store.records import (
    PhotoRecord,
    PhotoStatus,
    as_utc_text,
    from_text,
    from_utc_text,
    row_digest,
    to_text,
    unreadable,
)
from receiving.store.tables import Row, Tables


class EvidenceTables(Tables):
    """What was seen and said of a shipment."""

    def add_reads(self, shipment: str, reads: Iterable[RawRead]) -> int:
        """Store reads, all or none; one that is already stored is left as it is. Gives how many were new.

        Raises Conflict where the id of one is stored with other content.
        """
        with self._writing_for(shipment):
            return self._add_reads(shipment, reads)

    def _add_reads(self, shipment: str, reads: Iterable[RawRead]) -> int:
        new = [as_utc_text(read.read_at) for read in reads if self._add_read(shipment, read)]
        if new:
            # In one statement: each one that changes a shipment marks the rows of lists that follow from it.
            self._db.conn.execute(
                "UPDATE shipments SET version = version + 1, last_read_at = max(ifnull(last_read_at, ''), ?)"
                " WHERE shipment = ?",
                [max(new), shipment],
            )
        return len(new)

    def _add_read(self, shipment: str, read: RawRead) -> bool:
        content = {"raw": read.raw, "symbology": read.symbology, "source": str(read.source), "photo": read.photo}
        known = self._rows(
            "SELECT raw, symbology, source, photo FROM reads WHERE shipment = ? AND read_id = ?",
            shipment,
            read.read_id,
        )
        if known and known != [content]:
            raise Conflict(
                message(
                    "The read {read_id} was sent before with other content; nothing of this was stored.",
                    read_id=read.read_id,
                ),
                next_step=message("Scan the label again."),
            )
        if not known:
            moment = as_utc_text(read.read_at)
            row = {"read_id": read.read_id, "shipment": shipment, "read_at": moment, **content, "read": to_text(read)}
            self._insert("reads", row)
        return not known

    def reads(self, shipment: str) -> tuple[RawRead, ...]:
        """All reads of the shipment, in the order in which they came in; one that cannot be read is set aside."""
        rows = self._rows("SELECT shipment, read_id, read FROM reads WHERE shipment = ? ORDER BY seq", shipment)
        return tuple(self._readable("reads", rows, lambda row: from_text(row["read"], RawRead)))

    def add_note(self, shipment: str, note: Note) -> None:
        """Store a note; the same note again changes nothing."""
        self.add_notes(shipment, [note])

    def add_notes(self, shipment: str, notes: Iterable[Note]) -> None:
        """Store notes, all or none; one whose id is already stored is left as it is."""
        with self._writing_for(shipment):
            new = [note for note in notes if self._add_note(shipment, note)]
            if new:
                self._touch(shipment)
            for note in new:
                if isinstance(note, ShipmentVoided):
                    sql = "UPDATE shipments SET voided = ? WHERE shipment = ?"
                    self._db.execute(sql, [int(note.voided), shipment])

    def _add_note(self, shipment: str, note: Note) -> bool:
        sql = "SELECT 1 FROM notes WHERE shipment = ? AND note_id = ?"
        if self._rows(sql, shipment, note.note_id):
            return False
        self._insert(
            "notes",
            {
                "note_id": note.note_id,
                "shipment": shipment,
                "kind": note_kind(type(note)),
                "noted_at": as_utc_text(note.noted_at),
                "note": to_text(note),
                "action_id": note.action_id,
            },
        )
        return True

    def notes(self, shipment: str) -> tuple[Note, ...]:
        """All notes of the shipment, oldest first; one that cannot be read is set aside."""
        rows = self._rows("SELECT * FROM notes WHERE shipment = ? ORDER BY seq", shipment)
        return tuple(self._readable("notes", rows, _note))

    def add_photo(self, shipment: str, photo: str, *, name: str, added_at: datetime, place: Place, by: str) -> bool:
        """Record a photo that waits to be read; False when it is here already. A failed one waits again."""
        with self._writing_for(shipment):
            known = self._rows("SELECT status FROM photos WHERE shipment = ? AND photo = ?", shipment, photo)
            if known and known[0]["status"] != PhotoStatus.FAILED:
                return False
            if known:
                self._set_photo(shipment, photo, PhotoStatus.WAITING)
            else:
                row: Row = {"shipment": shipment, "photo": photo, "name": name, "added_at": as_utc_text(added_at)}
                row |= {"place": str(place), "by": by, "status": "waiting", "error": "", "reading": None}
                self._insert("photos", row)
                self._touch(shipment)
            return True

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
        for row in self._rows("SELECT * FROM photos WHERE shipment = ? AND photo = ?", shipment, photo):
            digest = row_digest("photos", {**row, "status": str(status), "error": error, "reading": reading})
            self._db.execute(
                "UPDATE photos SET status = ?, error = ?, reading = ?, digest = ? WHERE shipment = ? AND photo = ?",
                [status, error, reading, digest, shipment, photo],
            )
        self._touch(shipment)

    def photos(self, shipment: str, *, only: Iterable[str] | None = None) -> tuple[PhotoRecord, ...]:
        """All photos of the shipment, or ``only`` these, as they came in; one whose row cannot be read is set aside."""
        rows = self._rows(
            "SELECT * FROM photos WHERE shipment = ?1 AND (?2 IS NULL OR photo IN (SELECT value FROM json_each(?2)))"
            " ORDER BY rowid",
            shipment,
            None if only is None else json.dumps(list(only)),
        )
        return tuple(self._readable("photos", rows, _photo))

    def photo(self, shipment: str, photo: str) -> PhotoRecord:
        """One photo of the shipment; raises NotFound."""
        rows = self._rows("SELECT * FROM photos WHERE shipment = ? AND photo = ?", shipment, photo)
        if not rows:
            raise NotFound(
                message("Shipment {shipment} has no photo {photo}.", shipment=repr(shipment), photo=repr(photo[:12])),
                next_step=message("Choose one from the shipment's page."),
            )
        return _photo(rows[0])

    def waiting_photos(self) -> tuple[tuple[str, str], ...]:
        """(shipment, photo) of every photo that is not yet read."""
        rows = self._rows("SELECT shipment, photo FROM photos WHERE status = 'waiting' ORDER BY rowid")
        return tuple((row["shipment"], row["photo"]) for row in rows)


def _note(row: Row) -> Note:
    return replace(from_text(row["note"], NOTE_KINDS[row["kind"]]), seq=row["seq"])


def _photo(row: Row) -> PhotoRecord:
    with unreadable("photo", row["photo"]):
        return _photo_record(row)


def _photo_record(row: Row) -> PhotoRecord:
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
