"""Reads, notes and photos: what was seen and said, kept as it came in."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from receiving.errors import NotFound
from receiving.model import Note, PhotoReading, Place, RawRead
from receiving.store.records import (
    NOTE_KINDS,
    PhotoRecord,
    PhotoStatus,
    as_utc_text,
    from_text,
    from_utc_text,
    note_kind,
    to_text,
)
from receiving.store.tables import Row, Tables


class EvidenceTables(Tables):
    """What was seen and said of a shipment."""

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
        self.add_notes(shipment, [note])

    def add_notes(self, shipment: str, notes: Iterable[Note]) -> None:
        """Store notes, all or none; one whose id is already stored is left as it is."""
        with self._writing_for(shipment):
            new = 0
            for note in notes:
                new += self._db.execute(
                    "INSERT INTO notes (note_id, shipment, kind, noted_at, note, action_id) VALUES (?, ?, ?, ?, ?, ?) "
                    "ON CONFLICT DO NOTHING",
                    [
                        note.note_id,
                        shipment,
                        note_kind(note),
                        as_utc_text(note.noted_at),
                        to_text(note),
                        note.action_id,
                    ],
                ).rowcount
            if new:
                self._touch(shipment)

    def notes(self, shipment: str) -> tuple[Note, ...]:
        """All notes of the shipment, oldest first."""
        rows = self._rows("SELECT seq, kind, note FROM notes WHERE shipment = ? ORDER BY seq", shipment)
        return tuple(replace(from_text(row["note"], NOTE_KINDS[row["kind"]]), seq=row["seq"]) for row in rows)

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
