"""What a data folder holds, and under which names."""

import re
from pathlib import Path

DATABASE, PHOTOS, SHOWN = "receiving.sqlite", "photos", "shown"

_PHOTO = re.compile("[0-9a-f]{64}")


def is_photo(name: str) -> bool:
    """True for the name of a photo's file: the SHA-256 of its bytes."""
    return _PHOTO.fullmatch(name) is not None


def photo_path(photos: Path, photo: str) -> Path:
    """Where a photo lies in a folder of photos."""
    return photos / photo[:2] / photo
