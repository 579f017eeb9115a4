"""Receipts, and documents that are kept whole: master data and requests."""

from datetime import datetime

from receiving.errors import Conflict
from receiving.model import Receipt
from receiving.store.records import (
    Document,
    DocumentKind,
    as_utc_text,
    from_text,
    from_utc_text,
    to_text,
)
from receiving.store.tables import Row, Tables


class PaperTables(Tables):
    """Receipts and documents; each is added and never changed."""

    def add_receipt(self, receipt: Receipt) -> None:
        """Store a receipt; call it in the transaction in which its counts were worked out."""
        shipment = receipt.shown.shipment
        with self._writing_for(shipment):
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


def _document(row: Row) -> Document:
    return Document(
        seq=row["seq"],
        kind=DocumentKind(row["kind"]),
        key=row["key"],
        added_at=from_utc_text(row["added_at"]),
        file_name=row["file_name"],
        body=row["body"],
    )
