"""What a data folder holds, under which names, and how a file is written there."""

import os
import re
import tempfile
from contextlib import suppress
from pathlib import Path

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
