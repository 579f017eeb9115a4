"""Receipts, and documents that are kept whole: master data and requests."""

from datetime import datetime

from receiving.errors import Conflict, NotFound, StoreError
from receiving.messages import message
from receiving.model import Receipt
from receiving.model.hidden_characters import without_hidden_characters
from receiving.store.records import (
    Document,
    DocumentKind,
    as_utc_text,
    from_text,
    from_utc_text,
    is_as_stored,
    to_text,
)
from receiving.store.tables import Row, Tables


class PaperTables(Tables):
    """Receipts and documents; each is added and never changed."""

    def add_receipt(self, receipt: Receipt) -> None:
        """Store a receipt; call it in the transaction in which its counts were worked out."""
        shipment = receipt.shown.shipment
        with self._writing_for(shipment):
            self._insert(
                "receipts",
                {
                    "shipment": shipment,
                    "number": receipt.number,
                    "confirmed_at": as_utc_text(receipt.confirmed_at),
                    "receipt": to_text(receipt),
                },
            )
            self._touch(shipment)

    def next_receipt_number(self, shipment: str) -> int:
        """The number of the shipment's next receipt; a number is never given twice, whatever became of the first."""
        numbers = "SELECT number FROM receipts WHERE shipment = ?1 UNION SELECT number FROM seals WHERE shipment = ?1"
        rows = self._rows(f"SELECT ifnull(max(number), 0) + 1 AS next FROM ({numbers})", shipment)
        return int(rows[0]["next"])

    def receipts(self, shipment: str) -> tuple[Receipt, ...]:
        """The shipment's receipts, oldest first; one that was altered is set aside."""
        rows = self._rows("SELECT * FROM receipts WHERE shipment = ? ORDER BY number", shipment)
        return tuple(self._readable("receipts", rows, _receipt))

    def receipt(self, shipment: str, number: int) -> Receipt:
        """One receipt; raises NotFound, and StoreError where it was altered after it was stored."""
        rows = self._rows("SELECT * FROM receipts WHERE shipment = ? AND number = ?", shipment, number)
        if not rows:
            raise NotFound(
                message("Shipment {shipment} has no receipt {number}.", shipment=repr(shipment), number=number),
                next_step=message("Choose one from the shipment's page."),
            )
        return _receipt(rows[0])

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
                    message("Somebody else saved this while you were editing; nothing of yours was stored."),
                    next_step=message("Compare with the newest version, then save again."),
                )
            if known[-1:] != [body]:
                row = {"kind": kind, "key": key, "added_at": as_utc_text(added_at), "body": body}
                self._insert("documents", {**row, "file_name": without_hidden_characters(file_name)})

    def documents(self, kind: DocumentKind, key: str) -> tuple[Document, ...]:
        """All documents of this kind and key, oldest first."""
        rows = self._rows("SELECT * FROM documents WHERE kind = ? AND key = ? ORDER BY seq", kind, key)
        return tuple(_document(row) for row in rows)

    def newest_documents(self, kind: DocumentKind) -> tuple[Document, ...]:
        """The current document of every key of this kind, by key."""
        newest = "SELECT max(seq) FROM documents WHERE kind = ? GROUP BY key"
        rows = self._rows(f"SELECT * FROM documents WHERE seq IN ({newest}) ORDER BY key", kind)
        return tuple(_document(row) for row in rows)

    def keys_of(self, kind: DocumentKind) -> frozenset[str]:
        """The keys of which there is a document of this kind."""
        rows = self._rows("SELECT DISTINCT key FROM documents WHERE kind = ?", kind)
        return frozenset(row["key"] for row in rows)

    def document(self, kind: DocumentKind, key: str = "") -> Document | None:
        """The current document of this kind and key, or None."""
        found = self.documents(kind, key)
        return found[-1] if found else None


def _receipt(row: Row) -> Receipt:
    if not is_as_stored("receipts", row):
        raise StoreError(
            message(
                "Receipt {number} of shipment {shipment} was altered after it was stored.",
                number=row["number"],
                shipment=repr(row["shipment"]),
            ),
            next_step=message(
                "Compare it with the paper that the store has; restore the data folder from its last good copy."
            ),
        )
    return from_text(row["receipt"], Receipt)


def _document(row: Row) -> Document:
    return Document(
        seq=row["seq"],
        kind=DocumentKind(row["kind"]),
        key=row["key"],
        added_at=from_utc_text(row["added_at"]),
        file_name=row["file_name"],
        body=row["body"],
    )
