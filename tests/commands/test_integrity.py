"""No command says that all is well where it is not, and none makes a data folder of a mistyped name."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.model import PhotoReading, Place
from tests.planned_reader import PlannedReader
from tests.service.conftest import MANIFEST, picture


@pytest.fixture
def data(tmp_path: Path) -> Path:
    reader = PlannedReader()
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    with service.Context(tmp_path / "data", reader) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST.encode())
        service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
    return tmp_path / "data"


COMMANDS = (
    ["overview", "--data", "DATA"],
    ["check", "--data", "DATA"],
    ["backup", "--data", "DATA", "--out", "OUT"],
    ["restore", "DATA", "--data", "NEW"],
)


def filled(command: list[str], tmp_path: Path, data: Path) -> list[str]:
    places = {"DATA": str(data), "OUT": str(tmp_path / "out.zip"), "NEW": str(tmp_path / "new")}
    return [places.get(word, word) for word in command]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("given", ["mistyped", "other folder"])
def test_a_folder_without_data_is_said_to_be_one_and_stays_so(
    tmp_path: Path, command: list[str], given: str, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "place"
    if given == "other folder":
        folder.mkdir()
    assert run(filled(command, tmp_path, folder)) == 1
    assert "Name " in capsys.readouterr().err
    assert [path.name for path in tmp_path.rglob("*")] == (["place"] if given == "other folder" else [])


@pytest.mark.parametrize("command", COMMANDS)
def test_another_programs_database_is_left_as_it_is(
    tmp_path: Path, command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "place"
    folder.mkdir()
    with closing(sqlite3.connect(folder / "receiving.sqlite")) as file:
        file.execute("CREATE TABLE invoices (number INTEGER)")
    before = (folder / "receiving.sqlite").read_bytes()
    assert run(filled(command, tmp_path, folder)) == 1
    assert "another program's database" in capsys.readouterr().err
    assert (folder / "receiving.sqlite").read_bytes() == before


@pytest.mark.parametrize("command", COMMANDS)
def test_random_bytes_are_not_all_well(tmp_path: Path, command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "place"
    folder.mkdir()
    (folder / "receiving.sqlite").write_bytes(bytes(range(256)) * 64)
    assert run(filled(command, tmp_path, folder)) == 1
    assert "is damaged" in capsys.readouterr().err


def test_check_says_what_was_looked_at_and_ends_with_0_or_1(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--data", str(data)]) == 0
    assert capsys.readouterr().out.endswith("1 photo.\nEverything is as it was stored.\n")
    (photo,) = (data / "photos").glob("??/*")
    photo.write_bytes(photo.read_bytes()[:-1] + b"x")
    assert run(["check", "--data", str(data)]) == 1
    output = capsys.readouterr().out
    assert f"photos {photo.name} (shipment S-1): the photo's file was altered" in output
    assert "1 damaged place. Keep a copy of this folder" in output
    assert run(["check", "--data", str(data), "--json"]) == 1
    report = json.loads(capsys.readouterr().out)
    (damage,) = report["damages"]
    assert (report["whole"], damage["kind"], damage["name"]) == (False, "photo_altered", photo.name)


def test_doctor_names_a_damaged_database(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["doctor", "--data", str(data)])
    assert "its database is undamaged" in capsys.readouterr().out
    (data / "receiving.sqlite").write_bytes(bytes(range(256)) * 64)
    assert run(["doctor", "--data", str(data)]) == 1
    assert "MISSING   data folder" in capsys.readouterr().out


def test_an_import_makes_the_folder(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text(MANIFEST)
    assert run(["import", str(tmp_path / "m.csv"), "--data", str(tmp_path / "new")]) == 0
    assert run(["check", "--data", str(tmp_path / "new")]) == 0
    assert run(["overview", "--data", str(tmp_path / "new")]) in (0, 3)


def test_the_demo_does_not_mix_its_shipments_into_a_folder_in_use(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (data / "receiving.sqlite").read_bytes()
    assert run(["demo", "--no-serve", "--data", str(data)]) == 1
    assert "is not an empty folder; the sample shipments would be mixed" in capsys.readouterr().err
    assert (data / "receiving.sqlite").read_bytes() == before
