"""What kind of file was named, told by its content: a file in the wrong place is answered with its right one."""

import re
from enum import Enum
from pathlib import Path

from receiving.errors import BadRequest
from receiving.messages import Text, message

HEAD_BYTES = 4096
_PICTURES = (b"\xff\xd8\xff", b"\x89PNG", b"GIF8", b"BM", b"II*\x00", b"MM\x00*")
_TOML = re.compile(rb"^\s*(\[\[?[A-Za-z_]+|[A-Za-z_]+\s*=)", re.MULTILINE)
_PATTERNS = re.compile(rb"^\s*\[\[?\s*pattern\b", re.MULTILINE)
_LAYOUT = re.compile(rb"^\s*\[\[?\s*(store|cart|bay)\b", re.MULTILINE)
_COLUMNS = (
    ((b"scan_id", b"raw"), "SCANS"),
    ((b"shipment", b"carton"), "MANIFEST"),
    ((b"item", b"section", b"column", b"row"), "KIT"),
    *(((b"store", other), "STORES") for other in (b"time_zone", b"country", b"lead_days", b"order_cut_off")),
)


class FileKind(Enum):
    """A kind of file, with its name and where it is used."""

    PHOTO = (
        message("a photo or video"),
        message("Read it with receiving read, or add it to a shipment with receiving add."),
    )
    SCANS = (message("a scan list"), message("Name it with --scans, as in receiving add SHIPMENT --scans FILE."))
    LAYOUT = (message("a layout"), message("Load it with receiving import, or name it with --layout."))
    KIT = (message("a kit (items with their places)"), message("Load it with receiving import."))
    STORES = (message("a list of stores"), message("Load it with receiving import."))
    PATTERNS = (message("a label pattern file"), message("Load it with receiving import, or name it with --patterns."))
    MANIFEST = (message("a manifest"), message("Load it with receiving import, or name it with --manifest."))
    JSON = (
        message("JSON"),
        message("Of JSON, only scan lists are read: one object with scan_id, scanned_at and raw on each line."),
    )
    PDF = (message("a PDF"), message("Ask for the table, the EDI file or the photo that it was made from."))
    UNKNOWN = (message("a file of another kind"), "")

    def __init__(self, words: Text, use: Text) -> None:
        self.words = words
        self.use = use


def check_kind(path: Path, data: bytes, *wanted: FileKind) -> None:
    """Raise BadRequest where the content is plainly of another kind; what is not recognised is left to its reader."""
    kind = kind_of(data)
    if kind in wanted or kind is FileKind.UNKNOWN:
        return
    raise wrong_kind(path, kind, wanted[0].words)


def wrong_kind(path: Path, kind: FileKind, wanted: Text) -> BadRequest:
    """The fault of a file of this kind where another was wanted."""
    return BadRequest(
        message("{path} is {kind}, not {expected}.", path=str(path), kind=kind.words, expected=wanted),
        next_step=kind.use,
    )


def kind_of(data: bytes) -> FileKind:
    """The kind of these bytes, by their beginning."""
    head = data[:HEAD_BYTES]
    if head.startswith(_PICTURES) or head[4:8] == b"ftyp" or (head[:4] == b"RIFF" and head[8:12] in (b"WEBP", b"AVI ")):
        return FileKind.PHOTO
    if head.startswith(b"%PDF"):
        return FileKind.PDF
    text = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    if text.startswith((b"PK\x03\x04", b"ISA", b"UNA", b"UNB", b"UNH")):
        return FileKind.MANIFEST
    return _kind_of_text(text)


def _kind_of_text(text: bytes) -> FileKind:
    if _PATTERNS.search(text):
        return FileKind.PATTERNS
    if _LAYOUT.search(text) and _TOML.search(text):
        return FileKind.LAYOUT
    first = text.split(b"\n", 1)[0].lower()
    kind = next((name for columns, name in _COLUMNS if all(column in first for column in columns)), "")
    if kind:
        return FileKind[kind]
    return FileKind.JSON if text.startswith((b"{", b"[")) else FileKind.UNKNOWN
