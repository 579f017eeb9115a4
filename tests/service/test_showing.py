"""Photos as people see them: made once, upright, without what the camera wrote, and never at the server's cost."""

import io
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from receiving import service
from receiving.errors import NotAPhoto, PhotoError, PhotoTooLarge
from receiving.model import Place
from receiving.service.pools import PICTURE_LIMITS, PicturesAway, PicturesHere
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_desk

EXIF_ORIENTATION, EXIF_MAKE, EXIF_GPS, EXIF_LATITUDE = 0x0112, 0x010F, 0x8825, 2
"""Tags of Exif 2.32 (CIPA DC-008), sections 4.6.4 and 4.6.6."""


def photo_of_a_phone() -> bytes:
    """300 x 200 pixels, turned by its orientation, with place, device, comment, profile and XMP."""
    image = Image.new("RGB", (300, 200), "white")
    image.paste("red", (0, 0, 100, 100))
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = 6
    exif[EXIF_MAKE] = "Camera of Ana"
    exif.get_ifd(EXIF_GPS)[EXIF_LATITUDE] = (48.0, 12.0, 30.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, comment=b"Ana Example", icc_profile=b"profile of Ana", xmp=b"<x>Ana</x>")
    return out.getvalue()


def png(width: int, height: int) -> bytes:
    out = io.BytesIO()
    Image.new("1", (width, height)).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def ctx(tmp_path: Path) -> Iterator[service.Context]:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        yield ctx


@pytest.fixture(scope="module")
def away() -> Iterator[PicturesAway]:
    pictures = PicturesAway()
    yield pictures
    pictures.close()


class Counted(PicturesHere):
    """Counts how often a photo is decoded."""

    made = 0

    def jpegs(self, *values: object) -> dict[int, bytes]:
        self.made += 1
        return super().jpegs(*values)  # type: ignore[arg-type]


def add(ctx: service.Context, data: bytes, name: str = "pile.jpg") -> str:
    photo = service.add_photo(ctx, SHIPMENT, name, data, place=Place.DOCK, by="Ana").photo
    service.finish_photos(ctx)
    return photo


def test_what_is_shown_carries_the_picture_alone_and_upright(ctx: service.Context) -> None:
    original = photo_of_a_phone()
    for private in (b"Camera of Ana", b"Ana Example", b"profile of Ana", b"<x>Ana</x>"):
        assert private in original
    photo = add(ctx, original)
    for size_px in service.PHOTO_SIZES_PX:
        jpeg = service.make_photo_jpeg(ctx, SHIPMENT, photo, max_px=size_px)
        assert b"Ana" not in jpeg
        shown = Image.open(io.BytesIO(jpeg))
        assert shown.size == (200, 300)
        assert not shown.getexif() and set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        red = shown.convert("RGB").getpixel((190, 10))
        assert red[0] > 200 and red[1] < 60
    assert ctx.photos.read(photo) == original


def test_a_photo_is_made_fit_to_show_once_when_it_comes_in(ctx: service.Context) -> None:
    ctx.pictures = counted = Counted()
    photo = add(ctx, photo_of_a_phone())
    assert counted.made == 1
    for _ in range(3):
        for size_px in service.PHOTO_SIZES_PX:
            assert service.make_photo_jpeg(ctx, SHIPMENT, photo, max_px=size_px)
    assert counted.made == 1


def test_what_is_gone_is_made_again(ctx: service.Context) -> None:
    photo = add(ctx, photo_of_a_phone())
    first = service.make_photo_jpeg(ctx, SHIPMENT, photo, max_px=480)
    for file in ctx.shown.folder.glob("??/*"):
        file.unlink()
    assert service.make_photo_jpeg(ctx, SHIPMENT, photo, max_px=480) == first


def test_what_is_shown_is_not_in_a_backup(ctx: service.Context, tmp_path: Path) -> None:
    add(ctx, photo_of_a_phone())
    assert list(ctx.shown.folder.glob("??/*.jpg"))
    assert service.back_up(ctx.data, tmp_path / "copy.zip").photos == 1


def test_a_damaged_photo_is_refused_when_somebody_looks(ctx: service.Context) -> None:
    out = io.BytesIO()
    Image.effect_noise((400, 400), 60).save(out, "JPEG")
    photo = add(ctx, out.getvalue()[: len(out.getvalue()) // 3])
    with pytest.raises(NotAPhoto, match="cut off or damaged"):
        service.make_photo_jpeg(ctx, SHIPMENT, photo)


def test_pictures_made_in_a_process_are_the_same(away: PicturesAway) -> None:
    data = photo_of_a_phone()
    assert away.jpegs("a.jpg", data, (480,)) == PicturesHere().jpegs("a.jpg", data, (480,))


def test_64_megapixels_cost_the_server_no_memory(away: PicturesAway, tmp_path: Path) -> None:
    file = tmp_path / "large.png"
    file.write_bytes(png(8000, 8000))
    before = held_mb()
    made = away.jpegs("large.png", file, service.PHOTO_SIZES_PX)
    assert Image.open(io.BytesIO(made[2000])).size == (2000, 2000)
    assert held_mb() - before < 30


def held_mb() -> float:
    """The most that this process held since the start, by /proc (Linux)."""
    try:
        lines = Path("/proc/self/status").read_text().splitlines()
    except OSError:
        pytest.skip("no /proc here")
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024


def test_a_photo_that_takes_too_much_is_refused_by_name_and_the_next_is_made() -> None:
    pictures = PicturesAway(1, limits=replace(PICTURE_LIMITS, memory_mb=120))
    try:
        with pytest.raises(PhotoTooLarge, match=r"'huge\.png' takes too much to show"):
            pictures.jpegs("huge.png", png(7900, 8000), (480,))
        assert pictures.jpegs("a.jpg", photo_of_a_phone(), (480,))
    finally:
        pictures.close()


@pytest.mark.parametrize("kind", ["HEIF", "TIFF", "AVIF", "WEBP"])
def test_containers_are_parsed_away_from_the_server(away: PicturesAway, kind: str) -> None:
    started = time.monotonic()
    with pytest.raises(PhotoError):
        away.check(f"bomb.{kind.lower()}", broken(kind))
    assert time.monotonic() - started < 60


def broken(kind: str) -> bytes:
    """A container that begins as it should, with boxes or entries that claim more than there is."""
    if kind == "TIFF":
        return b"II*\x00\x08\x00\x00\x00\xff\xff" + b"\xff" * 4000
    if kind == "WEBP":
        return b"RIFF\xff\xff\xff\x7fWEBPVP8X" + b"\xff" * 4000
    brand = b"heic" if kind == "HEIF" else b"avif"
    box = (2**31 - 1).to_bytes(4, "big") + b"meta" + b"\xff" * 4000
    return (24).to_bytes(4, "big") + b"ftyp" + brand + b"\0\0\0\0" + brand + b"mif1" + box
