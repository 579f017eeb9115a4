"""A stored photo made fit to show: upright, of moderate size, in a format that every browser knows."""

import io

from receiving.errors import NotAPhoto
from receiving.reading.image import open_photo
from receiving.reading.stills import is_video
from receiving.reading.video import check_video

_QUALITY = 82


def check_photo(name: str, data: bytes) -> None:
    """Refuse bytes that are no usable photo or video, by their header alone. Raises NotAPhoto, PhotoTooLarge."""
    if is_video(data):
        check_video(name, data)
    else:
        open_photo(name, data)


def upright_jpeg(name: str, data: bytes, *, max_px: int = 2000) -> bytes:
    """The photo as an upright JPEG, at most ``max_px`` on its longer side, without its metadata. Raises NotAPhoto."""
    from PIL import ImageOps

    try:
        image = ImageOps.exif_transpose(open_photo(name, data)).convert("RGB")
    except (OSError, SyntaxError, ValueError) as fault:
        raise NotAPhoto(f"The photo {name!r} is cut off or damaged.", next_step="Take the photo again.") from fault
    image.thumbnail((max_px, max_px))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()
