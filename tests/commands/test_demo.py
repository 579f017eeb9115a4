"""The sample shipment, from its photos to the page, here with a scenario of two cartons and one photo."""

import argparse
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.commands import serve
from receiving.commands.serve import DAYS_TO_VISIT, load_scenario
from receiving.model import PhotoReading, Symbol, UnreadRegion
from tests.commands.test_commands import MANIFEST
from tests.planned_reader import PlannedReader
from tests.service.conftest import picture

QUAD = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))


def test_the_demo_keeps_its_visits_ahead_of_today_and_apart(tmp_path: Path) -> None:
    today = datetime(2031, 5, 6, 8, 0, tzinfo=UTC)
    with service.Context(tmp_path, PlannedReader(), now=lambda: today) as ctx:
        shipment = load_scenario(ctx)
        visits = {row.shipment: row.planned_visit for row in service.list_shipments(ctx)}
    assert visits.pop(shipment) == today.date() + timedelta(days=DAYS_TO_VISIT)
    assert set(visits.values()) == {today.date() + timedelta(days=DAYS_TO_VISIT + 5)}


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario of two cartons, with a photo of one label that is read, and of one that is not."""
    folder = tmp_path / "samples"
    (folder / "pile").mkdir(parents=True)
    (folder / "manifest.csv").write_text(MANIFEST)
    (folder / "pile" / "a.PNG").write_bytes(picture("red"))
    (folder / "pile" / "words.txt").write_text("looked at by nobody")
    monkeypatch.setattr(serve, "SAMPLES", folder)
    reader = PlannedReader()
    label = Symbol("00395200000000000012", "]C1", QUAD, "zxing")
    reader.readings["a.PNG"] = PhotoReading(900, 300, (label,), unread=(UnreadRegion(QUAD),))
    monkeypatch.setattr(service.Context, "at", lambda data, **_: service.Context(data, reader))
    return folder


@pytest.fixture
def pages(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The shipments whose page is served: each is noted and answered at once."""
    served: list[str] = []

    def stand_in(ctx: service.Context, options: argparse.Namespace) -> None:
        served.extend(row.shipment for row in service.list_shipments(ctx))

    monkeypatch.setattr(serve, "serve_page", stand_in)
    return served


def test_the_demo_reads_prints_and_serves(
    small: Path, pages: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["demo", "--data", str(tmp_path / "new")]) == 0
    captured = capsys.readouterr()
    assert captured.out.startswith(
        "Shipment S-1 to store 0417\n1 of 2 cartons are here, 1 missing or not seen, 0 extra"
    )
    assert "Missing:\n  carton 02, tray, Harbor, column 1, row 1\n" in captured.out
    assert (captured.err, pages) == ("", ["S-1"])
    with service.Context(tmp_path / "new", PlannedReader()) as ctx:
        (photo,) = service.get_shipment(ctx, "S-1").photos
    assert (photo.name, photo.by, photo.place.value) == ("a.PNG", "Demo", "back_room")


def test_the_demo_stops_after_printing_where_it_is_told_so_or_prints_json(
    small: Path, pages: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (small / "pile" / "b.png").write_bytes(picture("blue"))
    assert run(["demo", "--no-serve", "--data", str(tmp_path / "one")]) == 0
    captured = capsys.readouterr()
    assert captured.out.startswith("Shipment S-1 to store 0417\n")
    assert captured.err.startswith("b.png: The photo 'b.png' made the reader crash."), "a photo that fails is named"
    assert run(["demo", "--json", "--data", str(tmp_path / "two")]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert (plain["shipment"], plain["expected"], plain["to_check"]) == ("S-1", 2, 2)
    assert [each["photo"] for each in plain["unreadable"]] == ["a.PNG"], "photos go by their names"
    assert pages == []


def test_without_its_samples_the_demo_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(serve, "SAMPLES", tmp_path)
    assert run(["demo"]) == 1
    assert f"The sample scenario is not in {tmp_path}." in capsys.readouterr().err


def test_a_folder_of_its_own_is_gone_when_the_demo_ends() -> None:
    with serve._data_folder(None) as folder:
        assert folder.is_dir() and folder.name.startswith("receiving-demo-")
    assert not folder.exists()
