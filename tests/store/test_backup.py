"""A copy of a data folder is whole, checked, and a data folder again; a damaged one replaces nothing."""

import os
import shutil
import sqlite3
import stat
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pytest

from receiving import service
from receiving.cli import run
from receiving.errors import NoData, StoreError
from receiving.model import LabelRead, PhotoReading, Place, Source
from receiving.store import PhotoFolder
from receiving.store.backup import BackedUp, back_up_to_folder
from tests.planned_reader import PlannedReader
from tests.service.conftest import picture

MANIFEST = b"shipment,store,carton,kind\nS-1,0417,01,tray\nS-1,0417,02,header\n"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    with service.Context(folder, PlannedReader()) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST)
        service.add_scan(ctx, "S-1", "carton 01", place=Place.DOCK, by="Ada", source=Source.TYPED)
        ctx.reader.readings["a.png"] = PhotoReading(40, 30, ())  # type: ignore[attr-defined]
        service.add_photo(ctx, "S-1", "a.png", picture() + b"the bytes of a photo", place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
    return folder


def reads(data: Path) -> tuple[LabelRead, ...]:
    with service.Context(data, PlannedReader(), create=False) as ctx:
        return service.get_shipment(ctx, "S-1").reads


def test_a_backup_restored_is_the_data_folder_again(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive, again = tmp_path / "copy.zip", tmp_path / "again"
    assert run(["backup", "--data", str(data), "--out", str(archive)]) == 0
    assert "the database and 1 photo" in capsys.readouterr().out
    assert run(["restore", str(archive), "--data", str(again)]) == 0
    assert "1 shipment and 1 photo, checked" in capsys.readouterr().out
    assert reads(again) == reads(data) != ()
    assert {p.relative_to(again): p.read_bytes() for p in (again / "photos").glob("??/*")} == {
        p.relative_to(data): p.read_bytes() for p in (data / "photos").glob("??/*")
    }
    assert run(["check", "--data", str(again)]) == 0


def test_a_backup_is_restored_into_folders_that_are_made_for_it(data: Path, tmp_path: Path) -> None:
    archive, again = tmp_path / "copy.zip", tmp_path / "new" / "machine" / "data"
    service.back_up(data, archive)
    service.restore(archive, again)
    assert reads(again) == reads(data)


def test_only_its_owner_may_read_a_backup_and_what_is_restored_of_it(data: Path, tmp_path: Path) -> None:
    archive, again = tmp_path / "copy.zip", tmp_path / "again"
    service.back_up(data, archive)
    service.restore(archive, again)
    files = [archive, *(path for path in again.rglob("*") if path.is_file())]
    assert {stat.S_IMODE(path.stat().st_mode) for path in files} == {0o600}
    assert stat.S_IMODE(again.stat().st_mode) == 0o700


def test_only_its_owner_may_look_into_a_folder_that_a_backup_makes(data: Path, tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "copy"
    back_up_to_folder(data, folder)
    inside = [path for path in folder.rglob("*") if path.is_dir() and path.parent != folder]
    assert {stat.S_IMODE(path.stat().st_mode) for path in (folder, *inside)} == {0o700} and inside
    assert {stat.S_IMODE(path.stat().st_mode) for path in folder.rglob("*") if path.is_file()} == {0o600}


def test_a_backup_in_a_folder_copies_only_photos_that_are_new(data: Path, tmp_path: Path) -> None:
    folder = tmp_path / "copy"
    folder.mkdir()
    assert (service.back_up(data, folder).photos, service.back_up(data, folder).written) == (1, 0)
    with service.Context(data, PlannedReader()) as ctx:
        service.add_photo(ctx, "S-1", "red.png", picture("red"), place=Place.DOCK, by="Ada")
        service.add_scan(ctx, "S-1", "carton 02", place=Place.DOCK, by="Ada", source=Source.TYPED)
        service.finish_photos(ctx)
        made = service.back_up(data, folder)
    assert (made.photos, made.written) == (2, 1)
    assert reads(folder) == reads(data)
    assert service.check(folder).whole
    service.restore(folder, tmp_path / "again")
    assert reads(tmp_path / "again") == reads(data)


def test_a_photo_that_was_damaged_in_the_copy_is_copied_again_and_named(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "copy"
    folder.mkdir()
    service.back_up(data, folder)
    (photo,) = (folder / "photos").glob("??/*")
    whole = photo.read_bytes()
    photo.write_bytes(b"x")
    assert run(["backup", "--data", str(data), "--out", str(folder)]) == 0
    output = capsys.readouterr().out
    assert (
        f"The copy of photo {photo.name[:12]}… has been damaged there since" in output
        and "(1 of them new)" not in output
    )
    assert photo.read_bytes() == whole
    assert service.check(folder).whole
    made = service.back_up(data, folder)
    assert (made.written, made.renewed) == (0, ())


def test_the_bytes_of_a_backup_are_those_that_were_written(data: Path, tmp_path: Path) -> None:
    folder, archive = tmp_path / "copy", tmp_path / "copy.zip"

    def database_bytes() -> int:
        return (folder / "receiving.sqlite").stat().st_size

    folder.mkdir()
    first = service.back_up(data, folder)
    (photo,) = (folder / "photos").glob("??/*")
    whole = photo.stat().st_size
    assert first == BackedUp(1, 1, database_bytes() + whole)
    assert service.back_up(data, folder) == BackedUp(1, 0, database_bytes())
    photo.write_bytes(b"x")
    assert service.back_up(data, folder) == BackedUp(1, 1, database_bytes() + whole, (photo.name,))
    assert service.back_up(data, archive) == BackedUp(1, 1, archive.stat().st_size)


@pytest.fixture
def synced(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files and folders that are synced, as they are then."""
    names: list[str] = []
    sync = os.fsync

    def noted(handle: int) -> None:
        names.append(Path(f"/proc/self/fd/{handle}").readlink().name)
        sync(handle)

    monkeypatch.setattr(os, "fsync", noted)
    return names


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="the names of open files are asked of Linux")
def test_what_is_kept_copied_or_restored_is_on_the_disk_before_it_has_its_name(
    data: Path, tmp_path: Path, synced: list[str]
) -> None:
    """A name of a file whose bytes were not synced may be an empty file after a power cut (POSIX, fsync)."""
    sha = PhotoFolder(tmp_path / "photos").keep(b"bytes of a photo")
    written, its_folder = synced
    assert written.startswith(".incoming-") and its_folder == sha[:2]
    (photo,) = (path.name for path in (data / "photos").glob("??/*"))
    (tmp_path / "copy").mkdir()
    for target, files in (
        (tmp_path / "copy", [f".incoming-{photo}", "receiving.sqlite"]),
        (tmp_path / "copy.zip", [".copy.zip.unfinished"]),
    ):
        synced.clear()
        service.back_up(data, target)
        assert synced == files
    for name, files in (("copy", [f".incoming-{photo}"]), ("copy.zip", ["receiving.sqlite", photo])):
        synced.clear()
        service.restore(tmp_path / name, tmp_path / f"{name}-again")
        assert synced == files


def test_a_photo_that_is_damaged_in_the_copy_and_at_home_leaves_the_copys_database(data: Path, tmp_path: Path) -> None:
    folder = tmp_path / "copy"
    folder.mkdir()
    service.back_up(data, folder)
    for photo in (*(folder / "photos").glob("??/*"), *(data / "photos").glob("??/*")):
        photo.write_bytes(b"x")
    before = (folder / "receiving.sqlite").read_bytes()
    with pytest.raises(StoreError, match="damaged in 1 place"):
        service.back_up(data, folder)
    assert (folder / "receiving.sqlite").read_bytes() == before


def test_a_folder_with_other_files_gets_no_backup(data: Path, tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("Dear")
    with pytest.raises(StoreError, match="This folder holds other files"):
        service.back_up(data, tmp_path / "letters")
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["dear.txt"]


def overwrite(data: Path) -> None:
    with (data / "receiving.sqlite").open("r+b") as file:
        file.seek(20_480)
        file.write(b"x" * 8192)


def alter(data: Path) -> None:
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        file.execute("DROP TRIGGER reads_no_update")
        file.execute("UPDATE reads SET raw = 'x'")
        file.commit()


def lose_the_photos(data: Path) -> None:
    shutil.rmtree(data / "photos")


def files_of(target: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in (target, *target.rglob("*")) if path.is_file()}


@pytest.mark.parametrize(
    ("deed", "kind"),
    [
        (overwrite, "archive"),
        (overwrite, "folder"),
        (alter, "archive"),
        (alter, "folder"),
        (lose_the_photos, "archive"),
    ],
)
def test_a_damaged_folder_does_not_take_the_place_of_the_last_good_backup(
    data: Path, tmp_path: Path, deed: Callable[[Path], None], kind: str
) -> None:
    target = tmp_path / "copy"
    if kind == "folder":
        target.mkdir()
    service.back_up(data, target)
    good = files_of(target)
    deed(data)
    with pytest.raises(StoreError, match="damaged"):
        service.back_up(data, target)
    assert files_of(target) == good
    assert list(tmp_path.glob(".*")) == []


def test_restoring_over_a_folder_in_use_is_refused(data: Path, tmp_path: Path) -> None:
    archive = tmp_path / "copy.zip"
    service.back_up(data, archive)
    before = reads(data)
    with pytest.raises(StoreError, match="This data folder is not empty; nothing was restored"):
        service.restore(archive, data)
    assert reads(data) == before


def test_a_backup_is_restored_where_its_bytes_just_fit_and_refused_where_one_is_missing(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive, again = tmp_path / "copy.zip", tmp_path / "again"
    service.back_up(data, archive)
    with zipfile.ZipFile(archive) as packed:
        needed = sum(member.file_size for member in packed.infolist())
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=needed - 1))
    with pytest.raises(StoreError, match=r"needs [\d.,]+ MB, and [\d.,]+ MB are free; nothing was restored"):
        service.restore(archive, again)
    assert not again.exists()
    assert not list(tmp_path.glob(".again.unfinished-*"))
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=needed))
    service.restore(archive, again)
    assert reads(again) == reads(data) != ()


def cut(archive: Path) -> None:
    archive.write_bytes(archive.read_bytes()[:-200])


def flip(archive: Path) -> None:
    whole = bytearray(archive.read_bytes())
    whole[whole.index(b"the bytes of a") + 4] ^= 1
    archive.write_bytes(bytes(whole))


def forget_the_photo(archive: Path) -> None:
    with zipfile.ZipFile(archive) as packed:
        database = packed.read("receiving.sqlite")
    with zipfile.ZipFile(archive, "w") as packed:
        packed.writestr("receiving.sqlite", database)


@pytest.mark.parametrize("deed", [cut, flip, forget_the_photo])
def test_a_damaged_backup_is_not_restored(data: Path, tmp_path: Path, deed: Callable[[Path], None]) -> None:
    archive = tmp_path / "copy.zip"
    service.back_up(data, archive)
    deed(archive)
    with pytest.raises(StoreError, match=r"not a whole ZIP archive|The backup is damaged"):
        service.restore(archive, tmp_path / "again")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.zip", "data"]


def test_an_archive_writes_nothing_outside_the_folder(data: Path, tmp_path: Path) -> None:
    archive = tmp_path / "copy.zip"
    service.back_up(data, archive)
    with zipfile.ZipFile(archive, "a") as packed:
        for name in ("../evil.txt", "/tmp/evil.txt", "photos/../../evil.txt", "photos/ab/evil"):
            packed.writestr(name, b"x")
    service.restore(archive, tmp_path / "again")
    assert list(tmp_path.rglob("*evil*")) == []


def test_what_else_lies_in_an_archive_is_passed_over_wherever_it_lies(data: Path, tmp_path: Path) -> None:
    """Someone added a note to the archive, and the tool that did it put the note first."""
    archive, noted = tmp_path / "copy.zip", tmp_path / "noted.zip"
    service.back_up(data, archive)
    with zipfile.ZipFile(archive) as whole, zipfile.ZipFile(noted, "w") as packed:
        packed.writestr("read me.txt", b"copied on Monday")
        for name in whole.namelist():
            packed.writestr(name, whole.read(name))
            packed.writestr(f"{name}.note", b"x")
    service.restore(noted, tmp_path / "again")
    assert reads(tmp_path / "again") == reads(data)
    kept = sorted(path.name for path in (tmp_path / "again").rglob("*") if path.is_file())
    assert kept == [*sorted(path.name for path in (data / "photos").glob("??/*")), "receiving.sqlite"]


def test_what_is_not_a_backup_is_named(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as packed:
        packed.writestr("a.txt", "a")
    (tmp_path / "empty").mkdir()
    for given in ("other.zip", "empty"):
        with pytest.raises(NoData, match="is not a backup of this service"):
            service.restore(tmp_path / given, tmp_path / "again")
    with pytest.raises(StoreError, match="cannot be written or read: No such file"):
        service.restore(tmp_path / "nowhere.zip", tmp_path / "again")


def test_what_was_stored_and_not_yet_moved_into_the_database_file_is_in_the_archive(data: Path, tmp_path: Path) -> None:
    with service.Context(data, PlannedReader()) as ctx, ctx.store() as open_store:
        assert open_store.shipments()
        service.add_scan(ctx, "S-1", "carton 02", place=Place.DOCK, by="Ada", source=Source.TYPED)
        assert (data / "receiving.sqlite-wal").stat().st_size > 0
        service.back_up(data, tmp_path / "live.zip")
    with zipfile.ZipFile(tmp_path / "live.zip") as packed:
        packed.extractall(tmp_path / "again")
    with service.Context(tmp_path / "again", PlannedReader()) as new:
        assert len(service.get_shipment(new, "S-1").reads) == 2


def test_a_folder_without_data_makes_no_backup(tmp_path: Path) -> None:
    with pytest.raises(NoData, match="nothing to back up"):
        service.back_up(tmp_path / "nowhere", tmp_path / "copy.zip")
    assert list(tmp_path.iterdir()) == []


def test_an_archive_that_cannot_be_written_leaves_the_one_before(data: Path, tmp_path: Path) -> None:
    archive = tmp_path / "copy.zip"
    archive.write_bytes(b"the archive of yesterday")
    with pytest.raises(StoreError, match="cannot be written"):
        service.back_up(data, tmp_path / "no" / "such" / "folder.zip")
    assert archive.read_bytes() == b"the archive of yesterday"
    assert list(tmp_path.glob(".*")) == []
