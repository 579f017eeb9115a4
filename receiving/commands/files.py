"""Files named on the command line: found, read, written whole, and complained about in plain words."""

from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from receiving.commands.kinds import FileKind, check_kind
from receiving.commands.terminal import clear_progress, show_photo_progress
from receiving.errors import BadRequest, ReceivingError
from receiving.messages import message
from receiving.model import ExpectedCode, Manifest, PhotoReading
from receiving.reading import PhotoPool, is_video

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
