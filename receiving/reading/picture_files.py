"""What kind of picture a file holds, by its first bytes and its size alone: asked before anything is decoded."""

from receiving.errors import PhotoTooLarge
from receiving.messages import figure, message

MAX_VIDEO_BYTES = 256 * 1024 * 1024

HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1")
"""Major brands of ISO/IEC 23008-12 (HEIF) files, bytes 8-11."""


def is_video(data: bytes) -> bool:
    """True for the containers that phones record into: MP4 and MOV (ISO/IEC 14496-12), AVI (RIFF), WebM (EBML)."""
    if data[4:8] == b"ftyp":
        return data[8:12] not in (*HEIF_BRANDS, b"avif", b"avis")
    return (data[:4] == b"RIFF" and data[8:12] == b"AVI ") or data[:4] == b"\x1a\x45\xdf\xa3" or data[4:8] == b"moov"


def check_video(name: str, data: bytes) -> None:
    """Refuse a video that is too large to read. Raises PhotoTooLarge."""
    if len(data) > MAX_VIDEO_BYTES:
        raise PhotoTooLarge(
            message(
                "The video {name} has {number} MB; at most {max_bytes} MB can be read.",
                name=repr(name),
                number=figure(len(data) / 2**20),
                max_bytes=MAX_VIDEO_BYTES // 2**20,
            ),
            next_step=message("Take a shorter one, or send photos."),
        )
