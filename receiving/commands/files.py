"""Files named on the command line: found, told apart, read, written whole, and complained about in plain words.

Their kind is told by their content: a file in the wrong place is answered with its right one.
"""

import re
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from enum import Enum
from pathlib import Path
from typing import BinaryIO

from receiving.commands.terminal import clear_progress, show_photo_progress
from receiving.errors import BadRequest, ReceivingError
from receiving.messages import Text, message
from receiving.model import ExpectedCode, Manifest, PhotoReading
from receiving.reading import PhotoPool, is_video

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


PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".heic", ".heif", ".webp", ".tif", ".tiff", ".bmp", ".gif"})

VIDEO_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".avi"})

_WORKERS = 2


def file_bytes(path: Path) -> bytes:
    """The bytes of a file; raises BadRequest that says what is wrong with the path."""
    with open_file(path) as file:
        return file.read()


@contextmanager
def open_file(path: Path) -> Iterator[BinaryIO]:
    """The file, open for reading; raises BadRequest that says what is wrong with the path."""
    try:
        with path.open("rb") as file:
            yield file
    except FileNotFoundError:
        raise BadRequest(
            message("There is no file {path}.", path=str(path)), next_step=message("Check the name.")
        ) from None
    except IsADirectoryError:
        raise BadRequest(
            message("{path} is a folder.", path=str(path)), next_step=message("Name a file in it.")
        ) from None
    except OSError as fault:
        raise BadRequest(
            message("{path} cannot be read: {fault}.", path=str(path), fault=fault.strerror),
            next_step=message("Check its permissions."),
        ) from fault


def bytes_of_kind(path: Path, kind: FileKind) -> bytes:
    """The bytes of a file of this kind; raises BadRequest that says where a file of another kind belongs."""
    data = file_bytes(path)
    check_kind(path, data, kind)
    return data


def photo_paths(given: Iterable[Path]) -> tuple[Path, ...]:
    """The photos named, folders searched by suffix; raises BadRequest for a folder without any."""
    found: dict[Path, None] = {}
    for path in given:
        if not path.is_dir():
            found[path] = None
            continue
        known = PHOTO_SUFFIXES | VIDEO_SUFFIXES
        inside = sorted(p for p in path.rglob("*") if p.suffix.lower() in known and p.is_file())
        if not inside:
            raise BadRequest(
                message("The folder {path} holds no photo or video.", path=str(path)),
                next_step=message("Those end in {endings}.", endings=", ".join(sorted(known))),
            )
        found |= dict.fromkeys(inside)
    return tuple(found)


def read_photos(
    paths: tuple[Path, ...], expected: tuple[ExpectedCode, ...], *, limit_s: float
) -> Iterator[tuple[Path, bytes, PhotoReading | ReceivingError]]:
    """Each photo with its reading, or with why it has none, in the order given. Progress goes to a terminal."""
    workers = min(_WORKERS, len(paths)) or 1
    with _readers(workers, limit_s) as (pool, threads):

        def one(path: Path) -> tuple[bytes, PhotoReading | ReceivingError]:
            data = b""
            try:
                data = bytes_of_kind(path, FileKind.PHOTO)
                return data, _read(pool, path, data, expected)
            except ReceivingError as fault:
                return data, fault

        results = threads.map(one, paths)
        for count, path in enumerate(paths, 1):
            show_photo_progress(count, len(paths))
            data, result = next(results)
            clear_progress()
            yield path, data, result


@contextmanager
def _readers(workers: int, limit_s: float) -> Iterator[tuple[PhotoPool, ThreadPoolExecutor]]:
    """Processes that read, and threads that wait for them; given up at once when the work is stopped."""
    with ThreadPoolExecutor(workers) as threads, PhotoPool(workers=workers, limit_s=limit_s) as pool:
        try:
            yield pool, threads
        finally:
            threads.shutdown(wait=False, cancel_futures=True)


def _read(pool: PhotoPool, path: Path, data: bytes, expected: tuple[ExpectedCode, ...]) -> PhotoReading:
    if not is_video(data):
        return pool.read(str(path), data, expected)
    burst = pool.read_video(str(path), data, expected)
    first = burst.frames[0]
    symbols = tuple(label.symbol for label in burst.labels)
    ms = sum(frame.ms for frame in burst.frames)
    return PhotoReading(first.width_px, first.height_px, symbols, ms=ms)


def check_output(path: Path, inputs: Iterable[Path]) -> None:
    """Raise BadRequest where a file could not be written, or would take the place of what it is made from."""
    if any(path.exists() and source.exists() and path.samefile(source) for source in inputs):
        raise BadRequest(
            message("{path} is what this is made from; nothing was written.", path=str(path)),
            next_step=message("Choose another --out."),
        )
    if path.is_dir():
        raise BadRequest(
            message("{path} is a folder.", path=str(path)), next_step=message("Name a file in it with --out.")
        )
    if not path.parent.is_dir():
        raise BadRequest(
            message("There is no folder {folder}.", folder=str(path.parent)),
            next_step=message("Make it first, or choose another --out."),
        )


def write_file(path: Path, data: bytes, *, inputs: Iterable[Path] = ()) -> None:
    """Write a file whole or not at all, and never over one of ``inputs``. Raises BadRequest."""
    check_output(path, inputs)
    # A device or a pipe is written to; only a file may be replaced.
    aside = path if path.exists() and not path.is_file() else _beside(path)
    try:
        aside.write_bytes(data)
        if aside is not path:
            aside.replace(path.resolve())
    except OSError as fault:
        if aside is not path:
            aside.unlink(missing_ok=True)
        raise BadRequest(
            message("{path} cannot be written: {fault}.", path=str(path), fault=fault.strerror),
            next_step=message("Choose another --out, or make room on the disk."),
        ) from fault


def _beside(path: Path) -> Path:
    whole = path.resolve()
    return whole.with_name(f".{whole.name}.unfinished")


def one_manifest(manifests: tuple[Manifest, ...], shipment: str | None) -> Manifest:
    """The manifest of this shipment, or the only one; raises BadRequest that lists them."""
    names = ", ".join(m.shipment for m in manifests)
    if shipment is None and len(manifests) == 1:
        return manifests[0]
    if shipment is None:
        raise BadRequest(
            message("The manifest holds {number} shipments: {shipments}.", number=len(manifests), shipments=names),
            next_step=message("Choose with --shipment ID."),
        )
    for manifest in manifests:
        if manifest.shipment == shipment:
            return manifest
    raise BadRequest(
        message("The manifest holds no shipment {shipment}.", shipment=repr(shipment)),
        next_step=message("It holds {shipments}.", shipments=names),
    )


def check_not_inside(path: Path, data: Path) -> None:
    """Raise BadRequest where a file would lie in the data folder that it is made from, over its parts."""
    if path.resolve().is_relative_to(data.resolve()):
        raise BadRequest(
            message("{path} is in the data folder that it is made from; nothing was written.", path=str(path)),
            next_step=message("Choose another place for --out, best on another disk."),
        )
