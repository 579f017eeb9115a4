"""Photos made fit to show, in processes with limits: no photo takes the server's memory."""

from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from receiving.errors import Limit, NotAPhoto, PhotoTooLarge, WorkStopped
from receiving.messages import message
from receiving.reading import check_photo, is_video, shown_jpegs
from receiving.workers import Limits, WorkerPool

PHOTO_SIZES_PX = (480, 2000)
"""The longer side of a photo in a list, and of one that is looked at."""

PHOTOS_AT_ONCE = 2
PICTURE_LIMITS = Limits(wall_s=900, cpu_s=60, memory_mb=1024, file_mb=0, open_files=64)
"""64 megapixels take 200 MB as colours, twice while they are turned or made smaller."""

PHOTO_FREE_WITHIN_S = 10.0

PLAIN_FORMATS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF8", b"BM")
"""JPEG, PNG, GIF, BMP: their headers are read in a step. Containers (HEIF, AVIF, TIFF, WebP) are parsed by a worker."""


class Pictures(Protocol):
    """Makes photos fit to show."""

    def check(self, name: str, data: bytes) -> None:
        """What `check_photo` does."""
        ...

    def jpegs(self, name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
        """What `shown_jpegs` gives."""
        ...

    def close(self) -> None:
        """Stop what is in work."""
        ...


class PicturesHere:
    """Makes them in the thread that asks: for commands and tests."""

    def check(self, name: str, data: bytes) -> None:
        """Refuse what is not a usable photo. Raises NotAPhoto, PhotoTooLarge."""
        check_photo(name, data)

    def jpegs(self, name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
        """The photo at each size. Raises NotAPhoto, PhotoTooLarge."""
        return shown_jpegs(name, source, sizes_px)

    def close(self) -> None:
        """Nothing is in work."""


class PicturesAway:
    """Makes them in processes with limits, at most two at once: no photo takes the server's memory."""

    def __init__(self, at_once: int = PHOTOS_AT_ONCE, *, limits: Limits = PICTURE_LIMITS) -> None:
        self._pool = WorkerPool(at_once, limits, name="pictures")

    def check(self, name: str, data: bytes) -> None:
        """Refuse what is not a usable photo. Raises NotAPhoto, PhotoTooLarge, and WorkStopped while all are busy."""
        if data.startswith(PLAIN_FORMATS) or is_video(data):
            check_photo(name, data)
            return
        try:
            self._pool.run("receiving.reading:check_photo", name, data, free_within_s=PHOTO_FREE_WITHIN_S)
        except WorkStopped as fault:
            raise _refused_photo(name, fault) from fault

    def jpegs(self, name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
        """The photo at each size. Raises NotAPhoto, PhotoTooLarge, and WorkStopped while all are busy."""
        try:
            made: dict[int, bytes] = self._pool.run(
                "receiving.reading:shown_jpegs", name, source, tuple(sizes_px), free_within_s=PHOTO_FREE_WITHIN_S
            )
        except WorkStopped as fault:
            raise _refused_photo(name, fault) from fault
        return made

    def close(self) -> None:
        """End the processes."""
        self._pool.close()


def _refused_photo(name: str, fault: WorkStopped) -> Exception:
    """A photo that runs into a limit is refused; that no worker is free says nothing of it."""
    if fault.limit in (Limit.BUSY, Limit.CLOSED, Limit.CANCELLED):
        return fault
    again = message("Take it again at the camera's normal size, as JPEG.")
    if fault.limit in (Limit.MEMORY, Limit.TIME):
        return PhotoTooLarge(
            message("The photo {name} takes too much to show. {why}", name=repr(name), why=fault.message),
            next_step=again,
        )
    return NotAPhoto(
        message("The photo {name} cannot be shown. {why}", name=repr(name), why=fault.message), next_step=again
    )
