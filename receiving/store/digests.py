"""A digest beside every stored row, so that what a disk, a program or a person altered is found."""

import hashlib
import hmac
import json
from collections.abc import Mapping

_AUDIT = ("seq", "at", "name", "role", "action", "shipment", "store", "status", "address", "request_id")

COLUMNS: dict[str, dict[int, tuple[str, ...]]] = {
    "manifest_revisions": {
        1: ("shipment", "revision", "imported_at", "file_name", "manifest", "changes", "by", "origin")
    },
    "photos": {1: ("shipment", "photo", "name", "added_at", "place", "by", "status", "error", "reading")},
    "reads": {1: ("shipment", "read_id", "read_at", "raw", "symbology", "source", "photo", "read")},
    "notes": {1: ("shipment", "note_id", "kind", "noted_at", "note", "action_id")},
    "receipts": {1: ("shipment", "number", "confirmed_at", "receipt")},
    "seals": {1: ("shipment", "number", "header", "signature", "public_key")},
    "documents": {1: ("kind", "key", "added_at", "file_name", "body")},
    "actions": {1: ("action_id", "content_sha256", "answered_at", "answer")},
    "audit": {
        1: _AUDIT,
        2: (*_AUDIT, "about", "detail", "times", "previous"),
    },
    "people": {
        1: (
            *("person_id", "name", "name_key", "role", "stores", "programmes", "password_hash", "pin_hash"),
            *("subject", "created_at", "disabled_at"),
        ),
    },
}
"""What a digest covers, by table and version. A column that is added later comes with a version of its own."""

FIRST_WITH_DIGESTS = ("manifest_revisions", "photos", "reads", "notes", "receipts", "documents", "actions")
"""The tables whose rows had digests first, as the migration that gave them some made it."""


def is_chained(digest: str) -> bool:
    """True for the digest of a line of the audit log that covers the digest of the line before it."""
    return digest.startswith("2.")


_LATEST = {table: max(versions) for table, versions in COLUMNS.items()}


def row_digest(table: str, row: Mapping[str, object], version: int | None = None) -> str:
    """The row's digest: its version, a point, and the SHA-256 of the covered columns as a JSON array.

    >>> row_digest("receipts", {"shipment": "S-1", "number": 1, "confirmed_at": "", "receipt": ""})[:8]
    '1.dbe823'
    """
    version = version or _LATEST[table]
    covered = [table, *(row[column] for column in COLUMNS[table][version])]
    return f"{version}.{hashlib.sha256(json.dumps(covered, ensure_ascii=True).encode()).hexdigest()}"


def is_as_stored(table: str, row: Mapping[str, object]) -> bool:
    """True when the row still has the digest with which it was stored."""
    digest = str(row["digest"])
    number = digest.partition(".")[0]
    version = int(number) if number.isascii() and number.isdigit() and len(number) < 4 else 0
    return version in COLUMNS[table] and hmac.compare_digest(digest.encode(), row_digest(table, row, version).encode())
