"""Rows of the store as values, how values become text in it, and a digest beside every stored row.

By the digest is found what a disk, a program or a person altered.
"""

import hashlib
import hmac
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any, TypeVar

import msgspec

from receiving.errors import StoreError
from receiving.messages import message
from receiving.model import (
    Manifest,
    PhotoReading,
    Place,
    StoredMessage,
)

T = TypeVar("T")


class PhotoStatus(StrEnum):
    """How far the reading of a photo is."""

    WAITING = "waiting"
    READ = "read"
    FAILED = "failed"


class DocumentKind(StrEnum):
    """Master data and requests that are kept whole; the newest of a kind and key counts."""

    LAYOUT = "layout"
    PATTERNS = "patterns"
    KIT = "kit"
    SETTINGS = "settings"
    COLUMNS = "columns"
    PARTS = "parts"
    REQUEST = "request"
    LANES = "lanes"
    COSTS = "costs"
    STORE = "store"


@dataclass(frozen=True)
class ShipmentRecord:
    """A shipment as the store lists it. ``version`` grows with everything stored for it; ``voided``: in no list."""

    shipment: str
    store: str
    dispatch_date: date | None
    revision: int
    version: int
    last_read_at: datetime | None
    voided: bool = False
    programme: str = ""


class RevisionOrigin(StrEnum):
    """The way in which a revision of a manifest was made."""

    FILE = "file"
    CARTON_EDITED = "carton_edited"
    RESTORED = "restored"
    KIT_PLACES = "kit_places"
    REQUEST = "request"


@dataclass(frozen=True)
class RevisionRecord:
    """One revision of a manifest, and what it changed as it was told; revisions of earlier versions hold plain text.

    ``source`` is the name of the file, the carton that was edited, the revision that was restored, or the reference of
    the replacement request, by ``origin``; ``by`` is who made it, where that is known.
    """

    revision: int
    imported_at: datetime
    origin: RevisionOrigin
    source: str
    by: str
    manifest: Manifest
    changes: tuple[StoredMessage, ...]


@dataclass(frozen=True)
class PhotoRecord:
    """One photo of a shipment; ``photo`` is the SHA-256 of its bytes."""

    photo: str
    name: str
    added_at: datetime
    place: Place
    by: str
    status: PhotoStatus
    error: str = ""
    reading: PhotoReading | None = None


@dataclass(frozen=True)
class SetAside:
    """A stored row that cannot be read, and why; it counts for nothing until the folder is restored.

    ``name`` is what the row says that it is: a read's, a note's or a photo's id, a receipt's or a revision's number.
    """

    table: str
    shipment: str
    name: str
    fault: str


@dataclass(frozen=True)
class Document:
    """One stored document: master data or a request. ``seq`` grows with every stored document."""

    seq: int
    kind: DocumentKind
    key: str
    added_at: datetime
    file_name: str
    body: str


def to_text(value: object) -> str:
    """The value as JSON text; `from_text` of the same type gives an equal value."""
    return msgspec.json.encode(value, enc_hook=_plain_value).decode()


def from_text(text: str, kind: type[T]) -> T:
    """The value of this type from its JSON text; raises StoreError where the row was damaged."""
    try:
        return msgspec.json.decode(text, type=kind, dec_hook=_stored_message)
    except (msgspec.MsgspecError, ValueError, RecursionError) as fault:
        raise StoreError(
            message("A stored {name} cannot be read: {fault}.", name=kind.__name__, fault=fault),
            next_step=message("Restore the data folder from its last copy, or report this message."),
        ) from fault


def _plain_value(value: object) -> object:
    if isinstance(value, StoredMessage):
        return value.plain
    raise NotImplementedError(f"{type(value).__name__} has no JSON text")


def _stored_message(kind: type, plain: Any) -> StoredMessage:
    if kind is StoredMessage:
        return StoredMessage(plain)
    raise NotImplementedError(f"{kind.__name__} is not read from JSON text")


@contextmanager
def unreadable(what: str, name: object) -> Iterator[None]:
    """Turn what a damaged row raises into StoreError that names it."""
    try:
        yield
    except (ValueError, LookupError) as fault:
        raise StoreError(
            message("The stored {kind} {name} cannot be read: {fault}.", kind=what, name=name, fault=fault),
            next_step=message("Restore the data folder from its last copy, or report this message."),
        ) from fault


def as_utc_text(moment: datetime) -> str:
    """An aware time as UTC text that sorts by time."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def from_utc_text(text: str) -> datetime:
    """The aware UTC time of `as_utc_text`."""
    return datetime.fromisoformat(text)


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
