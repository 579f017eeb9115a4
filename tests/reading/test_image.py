"""The edge to Pillow. Image files are made here; the kinds are those that phones and scanners send."""

import contextlib
import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from receiving.errors import NotAPhoto, PhotoTooLarge
from receiving.reading import image
from receiving.reading.image import gray_photo

RAMP = np.linspace(0, 255, 60 * 80).reshape(60, 80).astype(np.uint8)


def saved(picture: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds one byte of pixels."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF", "BMP"])
def test_common_formats_give_the_same_gray_levels(kind: str) -> None:
    gray = gray_photo("a", saved(Image.fromarray(RAMP), kind))
    assert gray.shape == (60, 80)
    assert np.abs(gray.astype(int) - RAMP).max() < 12


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_exif_orientation_is_turned_upright(orientation: int) -> None:
    """Exif 2.32, tag 0x0112: how the stored rows and columns lie on the upright picture."""
    undo = {
        1: lambda a: a,
        2: np.fliplr,
        3: lambda a: np.rot90(a, 2),
        4: np.flipud,
        5: lambda a: a.T,
        6: lambda a: np.rot90(a, 1),
        7: lambda a: np.rot90(a.T, 2),
        8: lambda a: np.rot90(a, -1),
    }
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored = np.ascontiguousarray(undo[orientation](RAMP))
    gray = gray_photo("a", saved(Image.fromarray(stored), "PNG", exif=exif))
    assert np.array_equal(gray, RAMP)


def test_heic_from_phones_is_opened() -> None:
    """The ramp at 160 x 120, written once by libheif 1.23 with x265, which the project does not install."""
    stored = Path(__file__).parent / "photos" / "ramp.heic"
    gray = gray_photo("a.heic", stored.read_bytes())
    wanted = np.asarray(Image.fromarray(RAMP).convert("RGB").resize((160, 120)).convert("L"), np.int16)
    assert gray.shape == (120, 160)
    assert np.abs(gray - wanted).mean() < 2


def test_transparent_ground_becomes_white_paper() -> None:
    picture = Image.new("RGBA", (40, 30), (0, 0, 0, 0))
    assert gray_photo("a", saved(picture)).min() == 255


def test_transparent_palette_colour_becomes_white_paper() -> None:
    picture = Image.new("P", (40, 30), 3)
    picture.putpalette([0] * 768)
    assert gray_photo("a", saved(picture, transparency=3)).min() == 255


def test_sixteen_bits_keep_dark_and_light() -> None:
    deep = np.tile(np.array([100, 3900], np.uint16), (30, 20))
    gray = gray_photo("a", saved(Image.fromarray(deep)))
    assert (gray.min(), gray.max()) == (0, 255)


def test_cmyk_white_paper_is_light() -> None:
    assert gray_photo("a", saved(Image.new("CMYK", (40, 30), (0, 0, 0, 0)), "JPEG")).min() > 250


def test_of_an_animation_the_first_picture_is_read() -> None:
    first, second = Image.new("L", (40, 30), 10), Image.new("L", (40, 30), 240)
    gray = gray_photo("a.gif", saved(first, "GIF", save_all=True, append_images=[second]))
    assert gray.max() < 20


def test_an_empty_file_is_named_so() -> None:
    with pytest.raises(NotAPhoto, match=r"'a\.jpg' is empty \(0 bytes\)\. Send it again"):
        gray_photo("a.jpg", b"")


def test_what_is_no_image_is_refused_with_its_first_bytes() -> None:
    with pytest.raises(NotAPhoto, match=r"it starts with b'%PDF-1\.7'"):
        gray_photo("a.jpg", b"%PDF-1.7 and so on")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_a_cut_off_file_is_refused_not_half_read(kind: str) -> None:
    noise = np.random.default_rng(0).integers(0, 255, (120, 160), dtype=np.uint8)
    data = saved(Image.fromarray(noise), kind)
    with pytest.raises(NotAPhoto):
        gray_photo("a", data[: len(data) // 2])


def test_a_hundred_megapixels_are_refused_before_decoding() -> None:
    with pytest.raises(PhotoTooLarge, match=r"10000 x 10000 pixels \(100 megapixels\); at most 64"):
        gray_photo("bomb.png", png_header(10_000, 10_000))


def test_a_gigapixel_bomb_is_refused_before_decoding() -> None:
    with pytest.raises(PhotoTooLarge, match="at most 64 megapixels"):
        gray_photo("bomb.png", png_header(60_000, 60_000))


def test_too_many_bytes_are_refused_before_opening(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(image, "MAX_BYTES", 1024)
    with pytest.raises(PhotoTooLarge, match="at most 0 MB"):
        gray_photo("a", b"\0" * 2000)


def test_damaged_bytes_never_raise_anything_but_our_errors() -> None:
    rng = np.random.default_rng(7)
    for kind in ("JPEG", "PNG", "GIF", "TIFF", "WEBP", "BMP"):
        whole = bytearray(saved(Image.fromarray(RAMP), kind))
        for _ in range(25):
            broken = bytearray(whole)
            for at in rng.integers(0, len(broken), 6):
                broken[at] = int(rng.integers(0, 256))
            with contextlib.suppress(NotAPhoto, PhotoTooLarge):
                gray_photo("a", bytes(broken))
