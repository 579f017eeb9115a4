"""Photos, scans, codes and notes put in from the command line, and the result taken out."""

import csv
import io
import json
from pathlib import Path

import openpyxl
import pytest

from receiving import service
from receiving.cli import run
from receiving.service.results import RESULT_COLUMNS
from tests.commands.test_commands import MANIFEST, label_photo

SCANS = """\
scan_id,scanned_at,raw,place,by,photo
6f1c2d2e-0000-4000-8000-000000000001,2026-03-02T09:00:00Z,]C100395200000000000029,dock,Ada,
"""
ACTION = "6f1c2d2e-0000-4000-8000-0000000000aa"


@pytest.fixture
def data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    (tmp_path / "scans.csv").write_text(SCANS)
    assert run(["import", str(tmp_path / "manifest.csv"), "--data", str(tmp_path / "data")]) == 0
    capsys.readouterr()
    return tmp_path / "data"


def add(data: Path, *words: str) -> int:
    return run(["add", "S-1", *words, "--data", str(data)])


def test_photos_scans_codes_and_notes_are_added(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = label_photo(data.parent / "a.png", "395200000000000012")
    notes = data.parent / "notes.jsonl"
    notes.write_text(
        '{"kind": "damage_noted", "carton": "02", "reason": "arrived_damaged", "usable": true, "by": "Bo"}\n'
    )
    everything = ["--photos", str(photo), "--scans", str(data.parent / "scans.csv"), "--notes", str(notes)]
    assert add(data, *everything, "--codes", "(00)395200000000000036", "--by", "Ada", "--place", "dock", "--json") == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line.get("outcome") or line.get("kind") or line.get("status") for line in lines] == [
        "matched",
        "over",
        "damage_noted",
        "read",
    ]
    with service.Context.at(data) as ctx:
        view = service.get_shipment(ctx, "S-1")
    assert [finding.carton.carton for finding in view.reconciliation.received] == ["01", "02"]
    assert {note.by for note in view.notes} == {"Bo"}
    assert view.photos[0].name == "a.png"


def test_the_same_again_changes_nothing(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = label_photo(data.parent / "a.png", "395200000000000012")
    notes = data.parent / "notes.jsonl"
    notes.write_text(json.dumps({"kind": "carton_seen", "carton": "01", "action_id": ACTION}))
    for _ in range(2):
        assert add(data, "--photos", str(photo), "--scans", str(data.parent / "scans.csv"), "--notes", str(notes)) == 0
    with service.Context.at(data) as ctx:
        view = service.get_shipment(ctx, "S-1")
    assert (len(view.photos), len(view.reads), len(view.notes)) == (1, 2, 1)


def test_a_file_of_notes_with_a_fault_adds_none_and_the_rest_goes_on(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notes = data.parent / "notes.jsonl"
    notes.write_text('{"kind": "carton_seen", "carton": "01"}\n{"kind": "carton_seen", "carton": "99"}\n')
    assert add(data, "--notes", str(notes), "--scans", str(data.parent / "scans.csv")) == 1
    captured = capsys.readouterr()
    assert "line 2: Carton '99' is not on the manifest" in captured.err
    assert "carton 02" in captured.out
    with service.Context.at(data) as ctx:
        assert service.get_shipment(ctx, "S-1").notes == ()


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["add", "S-9", "--codes", "1"], "S-9"),
        (["add", "S-1"], "Use --photos, --scans, --codes or --notes"),
        (["export", "S-9", "--out", "r.csv"], "S-9"),
        (["export", "S-1", "--out", "r.pdf"], "end in .csv, .xlsx or .json"),
        (["export", "S-1", "--out", "data/receiving.csv"], "is in the data folder"),
    ],
)
def test_what_cannot_be_done_is_said(
    data: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str], answer: str
) -> None:
    monkeypatch.chdir(data.parent)
    assert run(words) == 1
    assert answer in capsys.readouterr().err


def test_neither_command_makes_a_data_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (["add", "S-1", "--codes", "1"], ["export", "S-1", "--out", str(tmp_path / "r.csv")]):
        assert run([*words, "--data", str(tmp_path / "none")]) == 1
    assert list(tmp_path.iterdir()) == []


def test_the_result_is_exported_in_three_forms_that_agree(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    add(data, "--scans", str(data.parent / "scans.csv"), "--codes", "(00)395200000000000036", "=HYPERLINK(1)")
    for suffix in ("csv", "xlsx", "json"):
        assert run(["export", "S-1", "--out", str(data.parent / f"r.{suffix}"), "--data", str(data)]) == 0
    rows = list(csv.DictReader(io.StringIO((data.parent / "r.csv").read_text())))
    assert [(row["carton"], row["store"], row["state"]) for row in rows] == [
        ("01", "0417", "short"),
        ("02", "0417", "received"),
        ("", "0417", "over"),
        ("", "0417", "not_understood"),
    ]
    assert rows[3]["code"] == "'=HYPERLINK(1)"
    sheet = openpyxl.load_workbook(data.parent / "r.xlsx")["Cartons"]
    table = [[cell.value for cell in row] for row in sheet.iter_rows()]
    assert tuple(table[0]) == RESULT_COLUMNS
    assert [row[:5] for row in table[1:]] == [
        ["S-1", "0417", "01", "instructions", "short"],
        ["S-1", "0417", "02", "tray", "received"],
        ["S-1", "0417", None, None, "over"],
        ["S-1", "0417", None, None, "not_understood"],
    ]
    assert (sheet["H5"].value, sheet["H5"].data_type) == ("=HYPERLINK(1)", "s")
    plain = json.loads((data.parent / "r.json").read_text())
    assert [each["carton"] for each in plain["received"]] == ["02"]
    assert plain["to_check"] == 0
    assert plain["not_understood"][0]["raw"] == "=HYPERLINK(1)"


def test_a_question_on_the_terminal_ends_in_its_question_mark(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert add(data, "--codes", "39520000000000012") == 0
    output = capsys.readouterr().out.strip()
    assert output.endswith("?")
