"""Photos as people see them: made once, upright, without what the camera wrote, and never at the server's cost.

Limits on reads: a list sent to the wrong place cannot make each later scan slow, and cannot be half stored.
"""

import io
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from receiving import service
from receiving.errors import BadRequest, NotAPhoto, PhotoError, PhotoTooLarge, ScanFaults
from receiving.model import Place, RawRead, Source
from receiving.reading import read_scans, scans
from receiving.service import intake, photo_reading
from receiving.service.pools import PICTURE_LIMITS, PicturesAway, PicturesHere, ReadAway, ReadHere
from receiving.workers import Limits
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_context

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
    with open_context(tmp_path, PlannedReader()) as ctx:
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


def scan_list(number: int) -> bytes:
    head = "scan_id,scanned_at,raw,place,by\n"
    lines = (f"10000000-0000-4000-8000-{n:012d},2026-03-05T09:00:00Z,C{n} R1,dock,Ana" for n in range(number))
    return (head + "\n".join(lines)).encode()


def test_a_list_of_too_many_scans_is_refused_whole(tmp_path: Path) -> None:
    with open_context(tmp_path, PlannedReader()) as ctx:
        with pytest.raises(ScanFaults, match="more than 5,000 scans are not accepted at once") as fault:
            service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(5_001))
        assert "in parts" in str(fault.value)
        assert service.get_shipment(ctx, SHIPMENT).reads == ()


@pytest.mark.parametrize(
    "line",
    ["{n:032x},2026-03-05T09:00:00Z,C1 R1,dock,Ana", "n,yesterday,,nowhere,", '{{"scan_id":"{n}"}}', "[]", "a,b"],
)
def test_a_list_that_is_too_long_or_too_wrong_is_not_looked_through(line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever its 20,000 lines are: only the first 5,000 are looked at, and 100 faults of theirs are listed."""
    looked, look = [], scans._read_of
    monkeypatch.setattr(scans, "_read_of", lambda at, row, faults: (looked.append(at), look(at, row, faults))[1])
    head = "" if line.startswith("{{") else "scan_id,scanned_at,raw,place,by\n"
    with pytest.raises(ScanFaults) as fault:
        read_scans("s.csv", (head + "\n".join(line.format(n=n) for n in range(20_000))).encode(), most=5_000)
    assert len(looked) <= 5_000
    assert 1 <= len(fault.value.faults) <= 102
    assert "more than 5,000 scans are not accepted at once" in str(fault.value)


def test_the_served_app_reads_a_list_in_a_process_with_limits(tmp_path: Path) -> None:
    with open_context(tmp_path, PlannedReader()) as ctx:
        asked = []

        class Away(ReadHere):
            def scans(self, name: str, data: bytes, most: int) -> tuple[RawRead, ...]:
                asked.append((name, len(data), most))
                return super().scans(name, data, most)

        ctx.manifests = Away()
        service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(3))
        assert asked == [("s.csv", len(scan_list(3)), 5_000)]


def test_a_process_with_limits_gives_the_scans_and_their_faults() -> None:
    with closing(ReadAway(1)) as away:
        assert away.scans("s.csv", scan_list(2_000), 5_000) == read_scans("s.csv", scan_list(2_000))
        with pytest.raises(ScanFaults, match="more than 1,000 scans are not accepted at once"):
            away.scans("s.csv", scan_list(2_000), 1_000)


def test_a_list_that_needs_too_much_is_refused_as_a_list_of_scans() -> None:
    limits, refused = Limits(wall_s=60, cpu_s=1, memory_mb=64), pytest.raises(ScanFaults, match="this file needs more")
    with closing(ReadAway(1, limits=limits)) as away, refused:
        away.scans("s.jsonl", b"{}" + b" \n" * 15_000_000, 5_000)


def test_a_shipment_with_too_many_reads_takes_no_more_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo_reading, "MOST_READS", 10)
    with open_context(tmp_path, PlannedReader()) as ctx:
        service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(9))
        service.add_scan(ctx, SHIPMENT, "C1 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        with pytest.raises(BadRequest, match=r"has 10 reads; at most 10 are kept"):
            service.add_scan(ctx, SHIPMENT, "C2 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(9))  # sent again, it is answered again
        assert len(service.get_shipment(ctx, SHIPMENT).reads) == 10


def test_a_shipment_with_more_cartons_than_reads_are_kept_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(intake, "MOST_CARTONS", 2)
    rows = b"shipment,store,carton,kind\nS-9,0417,01,tray\nS-9,0417,02,tray\n"
    with service.Context(tmp_path, PlannedReader()) as ctx:
        assert service.import_manifest(ctx, "m.csv", rows)[0].status == "new"
        for take in (service.preview_import, service.import_manifest):
            with pytest.raises(BadRequest, match="has 3 cartons; at most 2 are accepted") as refused:
                take(ctx, "m.csv", rows + b"S-9,0417,03,tray\n")
            assert "shipment number of its own" in str(refused.value.next_step)
        assert len(service.get_shipment(ctx, "S-9").manifest.cartons) == 2
