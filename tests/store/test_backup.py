import zipfile
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.errors import NotFound, StoreError
from receiving.model import Place, Source
from receiving.store import back_up
from tests.planned_reader import PlannedReader

MANIFEST = b"shipment,store,carton,kind\nS-1,0417,01,tray\nS-1,0417,02,header\n"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    with service.Desk(folder, PlannedReader()) as desk:
        service.import_manifest(desk, "m.csv", MANIFEST)
        service.add_scan(desk, "S-1", "carton 01", place=Place.DOCK, by="Ada", source=Source.TYPED)
        desk.photos.keep(b"the bytes of a photo")
    return folder


def test_an_unpacked_archive_is_a_data_folder(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    archive = tmp_path / "copy.zip"
    assert run(["backup", "--data", str(data), "--out", str(archive)]) == 0
    assert "the database and 1 photo" in capsys.readouterr().out
    with zipfile.ZipFile(archive) as packed:
        packed.extractall(tmp_path / "again")
    with service.Desk(data, PlannedReader()) as old, service.Desk(tmp_path / "again", PlannedReader()) as new:
        assert service.shipment(new, "S-1").reads == service.shipment(old, "S-1").reads != ()
    (photo,) = (tmp_path / "again" / "photos").glob("??/*")
    assert photo.read_bytes() == b"the bytes of a photo"


def test_what_was_stored_and_not_yet_moved_into_the_database_file_is_in_the_archive(data: Path, tmp_path: Path) -> None:
    with service.Desk(data, PlannedReader()) as desk, desk.store() as open_store:
        assert open_store.shipments()
        service.add_scan(desk, "S-1", "carton 02", place=Place.DOCK, by="Ada", source=Source.TYPED)
        assert (data / "receiving.sqlite-wal").stat().st_size > 0
        service.back_up(data, tmp_path / "live.zip")
    with zipfile.ZipFile(tmp_path / "live.zip") as packed:
        packed.extractall(tmp_path / "again")
    with service.Desk(tmp_path / "again", PlannedReader()) as new:
        assert len(service.shipment(new, "S-1").reads) == 2


def test_a_folder_without_a_database_makes_no_archive(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="nothing to back up"):
        service.back_up(tmp_path, tmp_path / "copy.zip")
    assert not (tmp_path / "copy.zip").exists()


def test_an_archive_that_cannot_be_written_leaves_the_one_before(data: Path, tmp_path: Path) -> None:
    archive = tmp_path / "copy.zip"
    archive.write_bytes(b"the archive of yesterday")
    broken = data / "broken.sqlite"
    broken.write_bytes(b"this is no database at all, and has never been one")
    with pytest.raises(StoreError, match="damaged or no database"):
        back_up(broken, data / "photos", archive)
    with pytest.raises(StoreError, match="cannot be written"):
        service.back_up(data, tmp_path / "no" / "such" / "folder.zip")
    assert archive.read_bytes() == b"the archive of yesterday"
    assert list(tmp_path.glob(".*")) == []
