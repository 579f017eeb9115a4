"""Seals of receipts, the keys that they are made with, and the digest over all that was seen and said."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from receiving.model import Seal, SealedRecord
from receiving.store.records import as_utc_text, from_utc_text
from receiving.store.tables import Row, Tables


@dataclass(frozen=True)
class SigningKey:
    """One key pair (hex); the private half is empty where it is not at hand."""

    key: str
    public_key: str
    private_key: str
    created_at: datetime
    retired_at: datetime | None = None


def seal_row(shipment: str, number: int, seal: Seal) -> Row:
    """A seal as it is stored, without its row's digest."""
    return {
        "shipment": shipment,
        "number": number,
        "header": seal.header,
        "signature": seal.signature,
        "public_key": seal.public_key,
    }


class SealTables(Tables):
    """Seals and keys; each is added and never changed, but that a key is retired."""

    def add_signing_key(self, key: SigningKey) -> None:
        """Make this the key that seals are made with; the one before it is retired and goes on proving its seals."""
        with self._writing():
            self._db.execute(
                "UPDATE signing_keys SET retired_at = ?, private_key = '' WHERE retired_at IS NULL",
                [as_utc_text(key.created_at)],
            )
            self._db.execute(
                "INSERT INTO signing_keys (key, public_key, private_key, created_at) VALUES (?, ?, ?, ?)",
                [key.key, key.public_key, key.private_key, as_utc_text(key.created_at)],
            )

    def signing_keys(self) -> tuple[SigningKey, ...]:
        """All keys, the newest first."""
        rows = self._rows("SELECT * FROM signing_keys ORDER BY retired_at IS NOT NULL, created_at DESC")
        return tuple(
            SigningKey(
                key=row["key"],
                public_key=row["public_key"],
                private_key=row["private_key"],
                created_at=from_utc_text(row["created_at"]),
                retired_at=from_utc_text(row["retired_at"]) if row["retired_at"] else None,
            )
            for row in rows
        )

    def add_seal(self, shipment: str, number: int, seal: Seal) -> None:
        """Store the seal of a receipt; call it in the transaction of the receipt."""
        with self._writing_for(shipment):
            self._insert("seals", seal_row(shipment, number, seal))

    def sealed_records(self, shipment: str) -> tuple[SealedRecord, ...]:
        """The shipment's receipts with their seals as they are stored now, oldest first; earlier ones have no seal."""
        rows = self._rows(
            "SELECT r.number, r.receipt, s.header, s.signature, s.public_key FROM receipts r "
            "JOIN seals s USING (shipment, number) WHERE r.shipment = ? ORDER BY r.number",
            shipment,
        )
        return tuple(
            SealedRecord(
                shipment, row["number"], row["receipt"], Seal(row["header"], row["signature"], row["public_key"])
            )
            for row in rows
        )

    def unwritten_messages(self, kinds: Iterable[str], *, again: bool) -> tuple[tuple[str, int, str], ...]:
        """(shipment, number, kind) of the receipts whose messages of these kinds were not written yet; all ``again``.

        Receipts of earlier versions, which kept no facts for messages, are left out.
        """
        rows = self._rows(
            "SELECT r.shipment, r.number, k.value AS kind FROM receipts r, json_each(?1) k"
            " WHERE json_extract(r.receipt, '$.advice') IS NOT NULL AND (?2 OR NOT EXISTS (SELECT 1"
            " FROM written_messages w WHERE w.shipment = r.shipment AND w.number = r.number AND w.kind = k.value))"
            " ORDER BY r.seq, k.value",
            json.dumps(sorted(kinds)),
            int(again),
        )
        return tuple((row["shipment"], row["number"], row["kind"]) for row in rows)

    def add_written_message(self, shipment: str, number: int, kind: str, at: datetime) -> None:
        """Record that a message was written."""
        with self._writing():
            self._db.execute(
                "INSERT OR REPLACE INTO written_messages (shipment, number, kind, written_at) VALUES (?, ?, ?, ?)",
                [shipment, number, kind, as_utc_text(at)],
            )

    def receipt_text(self, shipment: str, number: int) -> str:
        """The text of a receipt exactly as it is stored; empty where there is none."""
        rows = self._rows("SELECT receipt FROM receipts WHERE shipment = ? AND number = ?", shipment, number)
        return str(rows[0]["receipt"]) if rows else ""

    def evidence_counts(self, shipment: str) -> tuple[int, int]:
        """How many reads and notes the shipment has now."""
        row = self._rows(
            "SELECT (SELECT count(*) FROM reads WHERE shipment = ?1) AS reads, "
            "(SELECT count(*) FROM notes WHERE shipment = ?1) AS notes",
            shipment,
        )[0]
        return row["reads"], row["notes"]

    def evidence_digest(self, shipment: str, reads: int, notes: int) -> str:
        """SHA-256 over the first ``reads`` reads and ``notes`` notes of the shipment, in the order they came in."""
        whole = hashlib.sha256()
        for table, identity, content, most in (
            ("reads", "read_id", "read", reads),
            ("notes", "note_id", "note", notes),
        ):
            for row in self._rows(
                f"SELECT {identity} AS id, {content} AS content FROM {table} WHERE shipment = ? ORDER BY seq LIMIT ?",
                shipment,
                most,
            ):
                whole.update(f"{table}\0{row['id']}\0{row['content']}\0".encode())
        return whole.hexdigest()
