"""A copy of the data folder as one archive, whole even while the folder is in use."""

import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from receiving.errors import NotFound, StoreError
from receiving.store.connection import mapped_errors


@dataclass(frozen=True)
class BackedUp:
    """What an archive holds: the number of photos, and its size in bytes."""

    photos: int
    size: int


def back_up(database: Path, photos: Path, archive: Path) -> BackedUp:
    """Write the database as of one moment and all photos into a ZIP archive; unpacked, it is a data folder.

    The database is copied first, and photos are never changed or removed: what it refers to is in the archive. An
    archive of this name is replaced only by a whole one. Raises NotFound without a database, StoreError when the
    archive cannot be written.
    """
    if not database.exists():
        raise NotFound(
            f"There is no database {database}, so there is nothing to back up.",
            next_step="Name the data folder with --data FOLDER.",
        )
    with _whole(archive) as unfinished, zipfile.ZipFile(unfinished, "w", allowZip64=True) as packed:
        with tempfile.TemporaryDirectory(dir=archive.parent) as folder:
            copy = Path(folder) / database.name
            _copy(database, copy)
            packed.write(copy, database.name, compress_type=zipfile.ZIP_DEFLATED)
        count = 0
        for photo in sorted(_kept(photos)):
            packed.write(photo, photo.relative_to(photos.parent).as_posix())
            count += 1
    return BackedUp(count, archive.stat().st_size)


def _kept(photos: Path) -> Iterator[Path]:
    return (path for path in photos.glob("??/*") if not path.name.startswith("."))


def _copy(database: Path, copy: Path) -> None:
    with (
        mapped_errors(database),
        closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as source,
        closing(sqlite3.connect(copy)) as target,
    ):
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")


@contextmanager
def _whole(archive: Path) -> Iterator[Path]:
    """A name to write to, which becomes the archive once it is whole."""
    unfinished = archive.with_name(f".{archive.name}.unfinished")
    try:
        yield unfinished
        unfinished.replace(archive)
    except OSError as fault:
        raise StoreError(
            f"The archive {archive} cannot be written: {fault.strerror or fault}.",
            next_step="Name a file in a folder that you may write to and that has room, with --out FILE.zip.",
        ) from fault
    finally:
        unfinished.unlink(missing_ok=True)
