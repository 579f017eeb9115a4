"""Taking out what a law lets a person have taken out: names from every row, and photos that are old enough.

Rows that are append-only are written anew here alone, in one transaction, with their guards put back at its end. Who
calls this seals anew what was sealed.
"""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from receiving.model import Seal
from receiving.store.audit import AuditTables
from receiving.store.connection import mapped_sqlite_errors
from receiving.store.records import COLUMNS, as_utc_text, from_utc_text, row_digest
from receiving.store.seals import seal_row

ERASABLE: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "reads": (("shipment", "read_id"), ("raw", "read")),
    "notes": (("shipment", "note_id"), ("note",)),
    "photos": (("shipment", "photo"), ("name", "by", "error", "reading")),
    "manifest_revisions": (("shipment", "revision"), ("file_name", "by")),
    "receipts": (("shipment", "number"), ("receipt",)),
    "documents": (("seq",), ("file_name", "body")),
    "actions": (("action_id",), ("answer",)),
    "audit": (("seq",), ("name", "about", "detail")),
    "links": (("link_id",), ("label", "created_by")),
    "api_tokens": (("token_id",), ("name", "created_by")),
    "webhook_events": (("event_seq",), ("body",)),
    "webhooks": (("webhook_id",), ("created_by",)),
}
"""By table: the key of a row, and the columns in which people's names stand, those of files with them.

A manifest's own text stays: a brand may be called like a person, and what was expected is what a shipper sent.
"""

FORGOTTEN = ("pending", "list_rows", "failed_sign_ins", "refusals")
"""Tables of what is made again, or is over in minutes: their rows go as a whole."""


class ErasingTables(AuditTables):
    """Names and photos that are taken out."""

    def name_uses(self, name: str) -> dict[str, int]:
        """In how many rows of each table this name stands."""
        found = {table: len(list(self._rows_with(table, name))) for table in ERASABLE}
        return {table: count for table, count in found.items() if count}

    def shipments_with_name(self, name: str) -> tuple[str, ...]:
        """The shipments in whose reads, notes, photos, revisions or receipts this name stands."""
        tables = [table for table, (key, _) in ERASABLE.items() if key[0] == "shipment"]
        return tuple(sorted({str(row["shipment"]) for table in tables for row in self._rows_with(table, name)}))

    def _rows_with(self, table: str, name: str) -> Iterator[dict[str, object]]:
        columns = ERASABLE[table][1]
        where = " OR ".join(f"instr({column}, ?) > 0 OR instr({column}, ?) > 0" for column in columns)
        for row in self._rows(f"SELECT * FROM {table} WHERE {where}", *(_ways_written(name) * len(columns))):
            if any(_pattern(name).search(str(row[column])) for column in columns):
                yield row

    @contextmanager
    def unguarded(self) -> Iterator[None]:
        """Let append-only rows be written anew inside, in one transaction; their guards are back at its end."""
        with self._writing():
            guards = [
                row
                for row in self._rows("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
                if row["name"].startswith(f"{row['tbl_name']}_no_")
            ]
            for guard in guards:
                self._db.execute(f"DROP TRIGGER {guard['name']}")
            yield
            for guard in guards:
                self._db.execute(guard["sql"])

    def erase_name(self, name: str, mark: str, of_receipt: Callable[[str], str], *, at: datetime) -> None:
        """Put ``mark`` in place of this name in every row; call it inside `unguarded`.

        ``of_receipt`` gives the text of a receipt as it is kept once the name is out of it.
        """
        for table, (key, columns) in ERASABLE.items():
            for row in list(self._rows_with(table, name)):
                filled = [column for column in columns if row[column]]
                new = {**row, **{column: _pattern(name).sub(mark, str(row[column])) for column in filled}}
                if table == "receipts":
                    new["receipt"] = of_receipt(str(new["receipt"]))
                changed = list(columns)
                if table in COLUMNS and "digest" in row:
                    new["digest"] = row_digest(table, new)
                    changed.append("digest")
                sets = ", ".join(f"{column} = ?" for column in changed)
                where = " AND ".join(f"{column} = ?" for column in key)
                values = [new[column] for column in changed] + [row[column] for column in key]
                self._db.execute(f"UPDATE {table} SET {sets} WHERE {where}", values)
        self.chain_audit_anew()
        self._db.execute("INSERT INTO erasures (erased_at) VALUES (?)", [as_utc_text(at)])
        for table in FORGOTTEN:
            self._db.execute(f"DELETE FROM {table}")
        self._db.execute("INSERT OR REPLACE INTO stale_rows SELECT shipment, random() FROM shipments")
        self._db.execute("UPDATE shipments SET version = version + 1")

    def erase_account(self, person_id: str, mark: str) -> None:
        """Take the name out of a closed account, with all by which it could sign in."""
        with self._writing():
            for table in ("sessions", "passkeys", "first_passwords"):
                self._db.execute(f"DELETE FROM {table} WHERE person_id = ?", [person_id])
            name = f"{mark} {person_id[:8]}"
            self._db.execute(
                "UPDATE people SET name = ?, name_key = ?, password_hash = '', pin_hash = '', subject = NULL"
                " WHERE person_id = ?",
                [name, name.casefold(), person_id],
            )
            self._renew_digest("people", "person_id", person_id)

    def renew_seal(self, shipment: str, number: int, seal: Seal) -> None:
        """Put a seal in place of an earlier one of the same receipt; call it inside `unguarded`."""
        self._db.execute(
            "UPDATE seals SET header = ?, signature = ?, public_key = ?, digest = ? WHERE shipment = ? AND number = ?",
            [
                *(seal.header, seal.signature, seal.public_key),
                row_digest("seals", seal_row(shipment, number, seal)),
                *(shipment, number),
            ],
        )

    def forget_freed(self) -> None:
        """Write the database file anew, so that nothing of what was taken out is left in its free pages."""
        with mapped_sqlite_errors(self.path):
            self._db.conn.execute("PRAGMA secure_delete=ON")
            self._db.conn.execute("VACUUM")
            self._db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def add_pruned(self, photo: str, at: datetime) -> None:
        """Record that the file of this photo was taken out by rule."""
        with self._writing():
            self._db.execute(
                "INSERT INTO pruned_photos (photo, pruned_at) VALUES (?, ?) ON CONFLICT DO NOTHING",
                [photo, as_utc_text(at)],
            )

    def end_pruned(self, photo: str) -> None:
        """The photo came again, and is there."""
        with self._writing():
            self._db.execute("DELETE FROM pruned_photos WHERE photo = ?", [photo])

    def pruned_photos(self) -> dict[str, datetime]:
        """When each photo was taken out by rule."""
        rows = self._rows("SELECT photo, pruned_at FROM pruned_photos")
        return {row["photo"]: from_utc_text(row["pruned_at"]) for row in rows}

    def pruned_photos_of(self, shipment: str) -> dict[str, datetime]:
        """When each photo of this shipment was taken out by rule."""
        rows = self._rows(
            "SELECT photo, pruned_at FROM pruned_photos JOIN photos USING (photo) WHERE shipment = ?", shipment
        )
        return {row["photo"]: from_utc_text(row["pruned_at"]) for row in rows}

    def last_days(self) -> dict[str, tuple[datetime, ...]]:
        """By photo: when each shipment that has it was last seen to move (a photo, a read, its visit, a receipt)."""
        rows = self._rows(
            "SELECT p.photo, max(p.added_at, ifnull(s.last_read_at, ''), ifnull(s.dispatch_date || 'T23:59:59+00:00',"
            " ''), ifnull((SELECT max(confirmed_at) FROM receipts r WHERE r.shipment = p.shipment), '')) AS last"
            " FROM photos p JOIN shipments s USING (shipment) WHERE p.status <> 'waiting' ORDER BY p.photo"
        )
        found: dict[str, tuple[datetime, ...]] = {}
        for row in rows:
            found[row["photo"]] = (*found.get(row["photo"], ()), from_utc_text(row["last"]))
        return found


def _ways_written(name: str) -> tuple[str, str]:
    """The name as it stands in JSON, where a quotation mark has a backslash before it, and as it stands in text."""
    return json.dumps(name, ensure_ascii=False)[1:-1], name


def _pattern(name: str) -> re.Pattern[str]:
    """The name as whole words, however it is written."""
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, _ways_written(name)))})(?!\w)")
