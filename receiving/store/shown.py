"""Photos as they are shown, kept beside the originals: made once, and made again where they are gone."""

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path


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
