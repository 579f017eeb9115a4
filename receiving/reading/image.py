"""The edge to Pillow: the bytes of a photo become an upright gray array, or a clear refusal."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageOps

from receiving.errors import NotAPhoto, PhotoTooLarge
from receiving.messages import figure, message
from receiving.reading.picture_files import HEIF_BRANDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Gray = NDArray[Any]
    """Gray levels of a photo or a part of it: unsigned bytes, shape (height, width)."""

MAX_BYTES = 48 * 1024 * 1024
MAX_PIXELS = 64_000_000
"""Above the 50 megapixels of today's phones, below what a decoder can be made to choke on."""

FORMATS = ("JPEG", "MPO", "PNG", "WEBP", "TIFF", "BMP", "GIF", "HEIF", "AVIF")
"""Raster formats only: Pillow would hand some others (EPS) to an outside program."""


def gray_photo(name: str, data: bytes) -> Gray:
    """The photo as gray levels, shape (height, width), turned upright by its EXIF orientation.

    Raises NotAPhoto for bytes that are not a complete image, PhotoTooLarge before anything is decoded.
    """
    image = open_photo(name, data)
    try:
        return np.ascontiguousarray(_gray(image))
    except Exception as fault:  # Pillow's plugins raise whatever their parsing hits
        raise NotAPhoto(
            message("The photo {name} is cut off or damaged.", name=repr(name)),
            next_step=message("Send it again; if that fails too, take the photo again."),
        ) from fault


def open_photo(name: str, data: bytes) -> Image.Image:
    """The photo with only its header read, of a size that can be decoded. Raises NotAPhoto, PhotoTooLarge."""
    _refuse_size(name, data)
    image = _opened(name, data)
    width, height = image.size
    if width * height > MAX_PIXELS:
        raise PhotoTooLarge(
            message(
                "The photo {name} has {width} x {height} pixels ({megapixels} megapixels); at most "
                "{most} megapixels can be read.",
                name=repr(name),
                width=width,
                height=height,
                megapixels=figure(width * height / 1000000.0),
                most=figure(MAX_PIXELS / 1000000.0),
            ),
            next_step=message("Take it again at the camera's normal size, or crop it to the labels."),
        )
    return image


def _refuse_size(name: str, data: bytes) -> None:
    if not data:
        raise NotAPhoto(
            message("The file {name} is empty (0 bytes).", name=repr(name)),
            next_step=message("Send it again, or take the photo again."),
        )
    if len(data) > MAX_BYTES:
        raise PhotoTooLarge(
            message(
                "The photo {name} has {number} MB; at most {max_bytes} MB can be read.",
                name=repr(name),
                number=figure(len(data) / 2**20),
                max_bytes=MAX_BYTES // 2**20,
            ),
            next_step=message("Take it again at the camera's normal size and as JPEG or HEIC."),
        )


def _opened(name: str, data: bytes) -> Image.Image:
    if data[4:8] == b"ftyp" and data[8:12] in HEIF_BRANDS:
        _register_heif()
    try:
        with warnings.catch_warnings():
            # The limit on pixels is ours, and checked right after; Pillow's own would only warn.
            warnings.simplefilter("ignore")
            return Image.open(io.BytesIO(data), formats=[f for f in FORMATS if _known(f)])
    except Image.DecompressionBombError as fault:
        raise PhotoTooLarge(
            message(
                "The photo {name} is far too large; at most {most} megapixels can be read.",
                name=repr(name),
                most=figure(MAX_PIXELS / 1000000.0),
            ),
            next_step=message("Take it again at the camera's normal size."),
        ) from fault
    except Exception as fault:  # Pillow's plugins raise whatever their parsing hits
        raise NotAPhoto(
            message(
                "The file {name} is not a photo that can be opened (it starts with {beginning}).",
                name=repr(name),
                beginning=repr(data[:8]),
            ),
            next_step=message("Send a JPEG, PNG, HEIC, WebP or TIFF photo."),
        ) from fault


def _known(kind: str) -> bool:
    Image.init()
    return kind in Image.OPEN


def _register_heif() -> None:
    import pi_heif  # decodes only: its wheels hold no encoder, which would be under the GPL

    pi_heif.register_heif_opener()


def _gray(image: Image.Image) -> Gray:
    upright: Any = ImageOps.exif_transpose(image)
    if upright.mode.startswith(("I", "F")):
        return _eight_bits(np.asarray(upright, dtype=np.float64))
    if upright.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in upright.info:
        # A label exported with a transparent background stands on white paper.
        paper = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(paper, upright.convert("RGBA"))
    if upright.mode not in ("L", "RGB"):
        upright = upright.convert("RGB")
    return np.asarray(upright.convert("L"))


def _eight_bits(levels: NDArray[np.float64]) -> Gray:
    """Sixteen-bit (or float) levels stretched to 0-255: cameras store 10, 12 or 16 bits in the same container."""
    low, high = float(np.nanmin(levels)), float(np.nanmax(levels))
    scale = 255.0 / (high - low) if high > low else 0.0
    return ((np.nan_to_num(levels, nan=low) - low) * scale).astype(np.uint8)
