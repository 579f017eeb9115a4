"""Rows of the store as values, and how values become text in it."""

from collections.abc import Iterator
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
