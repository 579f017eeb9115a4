"""A stored photo made fit to show: upright, of moderate size, in a format that every browser knows."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import ImageOps

from receiving.errors import NotAPhoto
from receiving.messages import message
from receiving.reading.image import open_photo
from receiving.reading.picture_files import check_video, is_video

if TYPE_CHECKING:
    from PIL import Image

_QUALITY = 82


def check_photo(name: str, data: bytes) -> None:
    """Refuse bytes that are not a usable photo or video, by their header alone. Raises NotAPhoto, PhotoTooLarge."""
    if is_video(data):
        check_video(name, data)
    else:
        open_photo(name, data)


def shown_jpegs(name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
    """The photo as upright JPEGs, each at most this many pixels on its longer side, decoded once. Raises NotAPhoto.

    They carry the picture alone: no EXIF (place, camera, owner), XMP, colour profile, or comment of the file.
    """
    data = source.read_bytes() if isinstance(source, Path) else source
    made: dict[int, bytes] = {}
    try:
        image = _small(open_photo(name, data), max(sizes_px))
        for size_px in sorted(sizes_px, reverse=True):
            image.thumbnail((size_px, size_px))
            image.info = {}  # Pillow writes the comment and the profile of the source where it knows them
            out = io.BytesIO()
            image.save(out, "JPEG", quality=_QUALITY)
            made[size_px] = out.getvalue()
    except (OSError, SyntaxError, ValueError) as fault:
        raise NotAPhoto(
            message("The photo {name} is cut off or damaged.", name=repr(name)),
            next_step=message("Take the photo again."),
        ) from fault
    return made


def _small(image: Image.Image, size_px: int) -> Image.Image:
    """The photo upright, in colours, at most ``size_px`` on its longer side; made small before it is turned."""
    orientation = image.getexif()
    if image.mode not in ("RGB", "L"):
        image = image.convert("RGB")
    image.thumbnail((size_px, size_px))  # a JPEG is decoded at about that size
    image.getexif().update(orientation)
    return ImageOps.exif_transpose(image).convert("RGB")


def upright_jpeg(name: str, data: bytes, *, max_px: int = 2000) -> bytes:
    """The photo as one upright JPEG; see `shown_jpegs`. Raises NotAPhoto."""
    return shown_jpegs(name, data, (max_px,))[max_px]
