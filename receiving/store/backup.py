"""Copies of a data folder, each checked before it takes the place of the last good one, and the way back."""

import hashlib
import os
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from receiving.errors import NoData, StoreError
from receiving.messages import Text, figure, message, plural
from receiving.store.checking import (
    CheckReport,
    DamageKind,
    check_database,
    copy_and_check,
    file_damage,
    first_words,
)
from receiving.store.photos import DATABASE, PHOTOS, is_photo, photo_path

_CHUNK_BYTES = 1 << 20
_DATA_FOLDER = message("The data folder")


@dataclass(frozen=True)
class BackedUp:
    """What a copy holds: photos, how many of them were written now, and the bytes that were written.

    ``renewed`` are photos of an earlier copy whose files were damaged since, and were copied again.
    """

    photos: int
    written: int
    size: int
    renewed: tuple[str, ...] = ()


def back_up(data: Path, archive: Path) -> BackedUp:
    """Write the database as of one moment and all photos into a ZIP archive; unpacked, it is a data folder.

    The database is copied first, and photos are never changed or removed: what it refers to is in the archive. All of
    it is checked on the way; an archive of this name is replaced only by a whole and undamaged one. Raises NoData
    without data, StoreError when something is damaged or the archive cannot be written.
    """
    with (
        _mapped(archive),
        _whole(archive) as unfinished,
        _copied(data / DATABASE, archive.parent) as copy,
        zipfile.ZipFile(unfinished, "w") as packed,
    ):
        packed.write(copy, DATABASE, compress_type=zipfile.ZIP_DEFLATED)
        damaged = dict(_pack_photos(data / PHOTOS, packed))
        _refuse_damage(check_database(copy, lambda photo: damaged.get(photo, DamageKind.PHOTO_MISSING)))
    return BackedUp(len(damaged), len(damaged), archive.stat().st_size)


def back_up_to_folder(data: Path, folder: Path) -> BackedUp:
    """Bring a copy in a folder up to date: photos that it does not have yet, then the database. It is a data folder.

    A photo whose copy was damaged since is copied again from the original. Its database is replaced only by an
    undamaged one, once all photos are there. Raises NoData, StoreError.
    """
    with _mapped(folder):
        if folder.exists() and any(folder.iterdir()) and not (folder / DATABASE).exists():
            raise StoreError(
                message("This folder holds other files; nothing was written."),
                next_step=message("Name an empty folder, or one that an earlier backup made."),
                where=str(folder),
            )
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with _copied(data / DATABASE, folder) as copy:
            fresh = [
                photo for photo in _stored_photos(data / PHOTOS) if not photo_path(folder / PHOTOS, photo.name).exists()
            ]
            size = sum(_copy_photo(photo, photo_path(folder / PHOTOS, photo.name)) for photo in fresh)
            renewed: list[str] = []
            _refuse_damage(check_database(copy, lambda p: _damage_after_renewal(data, folder, p, renewed)))
            size += copy.stat().st_size + sum(photo_path(folder / PHOTOS, p).stat().st_size for p in renewed)
            _sync(copy)
            for leftover in ("-wal", "-shm"):  # of whoever served the copy: not of the database that comes now
                (folder / f"{DATABASE}{leftover}").unlink(missing_ok=True)
            copy.replace(folder / DATABASE)
    return BackedUp(sum(1 for _ in _stored_photos(folder / PHOTOS)), len(fresh) + len(renewed), size, tuple(renewed))


def _damage_after_renewal(data: Path, folder: Path, photo: str, renewed: list[str]) -> DamageKind | None:
    """What is wrong with a photo of the copy, which is copied again where the original is whole; then it is renewed."""
    source, target = photo_path(data / PHOTOS, photo), photo_path(folder / PHOTOS, photo)
    damage = file_damage(target, photo)
    if damage and source.exists() and _copy_photo(source, target):
        renewed.append(photo)
        return None
    return damage


def restore(backup: Path, data: Path) -> CheckReport:
    """Make a data folder of a backup, archive or folder, where there is none yet.

    It is made aside, checked, and then moved into place whole. Raises NoData where the backup holds no data of ours,
    StoreError where it is damaged, where the folder is in use, or cannot be written.
    """
    with _mapped(data):
        if data.exists() and (not data.is_dir() or any(data.iterdir())):
            raise StoreError(
                message("This data folder is not empty; nothing was restored."),
                next_step=message("Name an empty or a new folder with --data FOLDER."),
                where=str(data),
            )
        data.absolute().parent.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(dir=data.absolute().parent, prefix=f".{data.name}.unfinished-"))
        try:
            _unpack(backup, aside)
            report = check_database(aside / DATABASE, lambda p: file_damage(photo_path(aside / PHOTOS, p), p))
            _refuse_damage(report, what=message("The backup"), next_step=message("Restore an earlier one."))
            aside.replace(data)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    return report


def _stored_photos(photos: Path) -> Iterator[Path]:
    return (path for path in sorted(photos.glob("??/*")) if is_photo(path.name))


@contextmanager
def _copied(database: Path, folder: Path) -> Iterator[Path]:
    if not database.exists():
        raise NoData(
            message("There is no data of this service, so there is nothing to back up."),
            next_step=message("Name the data folder with --data FOLDER."),
            where=str(database.parent),
        )
    with tempfile.TemporaryDirectory(dir=folder, prefix=".unfinished-") as aside:
        copy = Path(aside) / DATABASE
        copy_and_check(database, copy)
        yield copy


def _pack_photos(photos: Path, packed: zipfile.ZipFile) -> Iterator[tuple[str, DamageKind | None]]:
    """Each photo goes into the archive; its id, and what is wrong with it."""
    for photo in _stored_photos(photos):
        with photo.open("rb") as source, packed.open(f"{PHOTOS}/{photo.name[:2]}/{photo.name}", "w") as target:
            whole = _copy_bytes(source, target) == photo.name
        yield photo.name, None if whole else DamageKind.PHOTO_ALTERED


def _copy_photo(source: Path, target: Path) -> int:
    """Copy a photo aside, and move it into place when it is whole; gives its size, 0 where it is damaged."""
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    aside = target.with_name(f".incoming-{target.name}")
    with source.open("rb") as read, _new_file(aside) as written:
        whole = _copy_bytes(read, written) == target.name
        written.flush()
        os.fsync(written.fileno())
    if not whole:
        aside.unlink()
        return 0
    aside.replace(target)
    return target.stat().st_size


def _copy_bytes(source: IO[bytes], target: IO[bytes]) -> str:
    """Copy everything; gives its SHA-256."""
    digest = hashlib.sha256()
    while chunk := source.read(_CHUNK_BYTES):
        digest.update(chunk)
        target.write(chunk)
    return digest.hexdigest()


def _new_file(path: Path) -> IO[bytes]:
    return os.fdopen(os.open(path, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb")


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _refuse_damage(report: CheckReport, *, what: Text = _DATA_FOLDER, next_step: Text = "") -> None:
    if report.whole:
        return
    count = len(report.damages) + report.more
    raise StoreError(
        plural(
            count,
            "{folder} is damaged in {number} place ({damages}).",
            "{folder} is damaged in {number} places ({damages}).",
            folder=what,
            damages=first_words(report.damages),
        ),
        next_step=next_step or message("The backup before stays as it was. `receiving check` lists the damage."),
    )


def _unpack(backup: Path, aside: Path) -> None:
    """Copy what belongs to a data folder, and nothing else, out of an archive or a folder."""
    if backup.is_dir():
        if not (backup / DATABASE).exists():
            raise _no_backup(backup)
        copy_and_check(backup / DATABASE, aside / DATABASE)
        for photo in _stored_photos(backup / PHOTOS):
            _copy_photo(photo, photo_path(aside / PHOTOS, photo.name))
        return
    try:
        with zipfile.ZipFile(backup) as packed:
            _unpack_archive(packed, backup, aside)
    except zipfile.BadZipFile as fault:
        raise StoreError(
            message("The backup is not a whole ZIP archive: {fault}.", fault=fault),
            next_step=message("Restore an earlier one."),
            where=str(backup),
        ) from fault


def _unpack_archive(packed: zipfile.ZipFile, backup: Path, aside: Path) -> None:
    names = packed.namelist()
    if DATABASE not in names:
        raise _no_backup(backup)
    _check_room(packed, aside)
    for name in names:
        photo = name.rpartition("/")[2]
        if name == DATABASE:
            target = aside / DATABASE
        elif is_photo(photo) and name == f"{PHOTOS}/{photo[:2]}/{photo}":
            target = photo_path(aside / PHOTOS, photo)
        else:
            continue
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with packed.open(name) as source, _new_file(target) as written:
            _copy_bytes(source, written)
            written.flush()
            os.fsync(written.fileno())


def _check_room(packed: zipfile.ZipFile, folder: Path) -> None:
    needed, free = sum(member.file_size for member in packed.infolist()), shutil.disk_usage(folder).free
    if needed > free:
        raise StoreError(
            message(
                "The backup needs {needed} MB, and {free} MB are free; nothing was restored.",
                needed=figure(needed / 1000000.0),
                free=figure(free / 1000000.0),
            ),
            next_step=message("Free some space, or restore to another disk."),
            where=str(folder.parent),
        )


def _no_backup(backup: Path) -> NoData:
    return NoData(
        message("This holds no {database}, so it is not a backup of this service.", database=DATABASE),
        next_step=message("Name an archive or a folder that `receiving backup` made."),
        where=str(backup),
    )


@contextmanager
def _whole(archive: Path) -> Iterator[Path]:
    """A name to write to, which becomes the archive once it is whole."""
    unfinished = archive.with_name(f".{archive.name}.unfinished")
    try:
        _new_file(unfinished).close()
        yield unfinished
        _sync(unfinished)
        unfinished.replace(archive)
    finally:
        unfinished.unlink(missing_ok=True)


@contextmanager
def _mapped(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise StoreError(
            message("The copy cannot be written or read: {fault}.", fault=fault.strerror or fault),
            next_step=message("Name a place that you may write to and that has room."),
            where=str(target),
        ) from fault
