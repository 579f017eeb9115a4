"""What a data folder holds, under which names, and how a file is written there.

Photos are kept by content hash, each written whole or not at all; beside each what is shown of it, made when needed.
"""

import hashlib
import os
import re
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from receiving.errors import NotFound, StoreError
from receiving.messages import message
from receiving.store.connection import advice_on

DATABASE, PHOTOS, SHOWN = "receiving.sqlite", "photos", "shown"

_PHOTO = re.compile("[0-9a-f]{64}")


def is_photo(name: str) -> bool:
    """True for the name of a photo's file: the SHA-256 of its bytes."""
    return _PHOTO.fullmatch(name) is not None


def photo_path(photos: Path, photo: str) -> Path:
    """Where a photo lies in a folder of photos."""
    return photos / photo[:2] / photo


def write_whole(target: Path, data: bytes) -> None:
    """Write a file whole or not at all, so that it stays through a power cut; its folder is there. Raises OSError."""
    handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=".incoming-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(target)
        _sync_folder(target.parent)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def _sync_folder(folder: Path) -> None:
    """Keep the new name through a power cut, as the bytes are; where folders cannot be synced, their system does it."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@dataclass(frozen=True)
class PhotoFolder:
    """A folder of photos, each in a file named by the SHA-256 of its bytes."""

    folder: Path

    def keep(self, data: bytes) -> str:
        """Write the photo's bytes, unless they are here already and undamaged; gives their SHA-256."""
        photo = hashlib.sha256(data).hexdigest()
        target = self.path(photo)
        if not self.is_sound(photo):
            try:
                target.parent.mkdir(parents=True, exist_ok=True)
                write_whole(target, data)
            except OSError as fault:
                raise StoreError(
                    message("The photo could not be kept: {fault}.", fault=fault.strerror or fault),
                    next_step=advice_on(fault),
                    where=str(self.folder),
                ) from fault
        return photo

    def read(self, photo: str) -> bytes:
        """The bytes of this photo.

        Raises NotFound where they are gone or are no longer those that were kept, StoreError where they cannot be read.
        """
        try:
            data = self.path(photo).read_bytes()
        except FileNotFoundError as fault:
            raise NotFound(
                message("The photo {photo}… is not in the data folder.", photo=photo[:12]),
                next_step=message("Take the photo again."),
            ) from fault
        except OSError as fault:
            raise StoreError(
                message(
                    "The photo {photo}… could not be read from the data folder: {fault}.",
                    photo=photo[:12],
                    fault=fault.strerror or fault,
                ),
                next_step=advice_on(fault),
                where=str(self.folder),
            ) from fault
        if hashlib.sha256(data).hexdigest() != photo:
            raise NotFound(
                message("The file of the photo {photo}… was damaged in the data folder.", photo=photo[:12]),
                next_step=message("Take the photo again, and let `receiving check` look at the rest."),
            )
        return data

    def is_sound(self, photo: str) -> bool:
        """The photo is here, and its bytes are those that its name says."""
        try:
            return hashlib.sha256(self.path(photo).read_bytes()).hexdigest() == photo
        except OSError:
            return False

    def size_bytes(self, photo: str) -> int:
        """How large its file is; 0 where it is gone."""
        path = self.path(photo)
        return path.stat().st_size if path.exists() else 0

    def remove(self, photo: str) -> None:
        """Take its file out."""
        self.path(photo).unlink(missing_ok=True)

    def path(self, photo: str) -> Path:
        """Where this photo is, or would be."""
        return photo_path(self.folder, photo)


# Photos as they are shown, kept beside the originals: made once, and made again where they are gone.


@dataclass(frozen=True)
class ShownFolder:
    """A folder of JPEGs, each named by the SHA-256 of its photo and its longer side in pixels.

    Nothing in it is the only copy of anything, so it is not part of a backup, and may be emptied at any time.
    """

    folder: Path

    def read(self, photo: str, size_px: int) -> bytes | None:
        """The JPEG of this photo at this size, None where it is not made yet."""
        try:
            return self._path(photo, size_px).read_bytes()
        except OSError:
            return None

    def keep(self, photo: str, size_px: int, jpeg: bytes) -> None:
        """Keep a JPEG, whole or not at all; on a full disk it is made again when it is asked for."""
        target = self._path(photo, size_px)
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=".incoming-")
        except OSError:
            return
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(jpeg)
            Path(temporary).replace(target)
        except OSError:
            Path(temporary).unlink(missing_ok=True)

    def remove(self, photo: str) -> None:
        """Forget all JPEGs of this photo."""
        for path in (self.folder / photo[:2]).glob(f"{photo}-*.jpg"):
            path.unlink(missing_ok=True)

    def _path(self, photo: str, size_px: int) -> Path:
        return self.folder / photo[:2] / f"{photo}-{size_px}.jpg"
