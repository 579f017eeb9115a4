"""The commands as a person types them: what they print, and how they end."""

import json
import re
import subprocess
import sys
import tomllib
from datetime import date, timedelta
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from receiving.cli import run
from receiving.commands import reconcile
from receiving.model import PhotoReading, UnreadRegion

PROJECT = Path(__file__).resolve().parent.parent.parent
MANIFEST = """\
shipment,store,carton,sscc,kind,section,column,row,open_first
S-1,0417,01,395200000000000012,instructions,Harbor,,,yes
S-1,0417,02,395200000000000029,tray,Harbor,1,1,no
"""


@pytest.fixture
def manifest(tmp_path: Path) -> Path:
    path = tmp_path / "manifest.csv"
    path.write_text(MANIFEST)
    return path


def label_photo(path: Path, *ssccs: str) -> Path:
    sheet = Image.new("L", (900, 300 * len(ssccs)), 255)
    for place, sscc in enumerate(ssccs):
        code = zxingcpp.create_barcode(f"(00){sscc}", zxingcpp.BarcodeFormat.Code128, gs1=True)
        bars = Image.fromarray(zxingcpp.write_barcode_to_image(code, scale=3)).resize(
            (700, 160), Image.Resampling.NEAREST
        )
        sheet.paste(bars, (100, 300 * place + 70))
    sheet.save(path)
    return path


def test_read_prints_one_json_object_for_each_photo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = label_photo(tmp_path / "a.png", "395200000000000012")
    assert run(["read", str(photo), "--json"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    answer = json.loads(line)
    assert answer["photo"] == str(photo)
    (symbol,) = answer["symbols"]
    assert (symbol["raw"], symbol["symbology"], symbol["sscc"]) == ("00395200000000000012", "]C1", "395200000000000012")
    assert symbol["guided"] is False
    assert symbol["address"] is None
    assert [len(corner) for corner in symbol["quad_px"]] == [2, 2, 2, 2]


def test_read_goes_on_after_a_photo_that_cannot_be_opened(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 not a photo")
    label_photo(tmp_path / "good.png", "395200000000000012")
    assert (
        run(["read", str(tmp_path / "broken.jpg"), str(tmp_path / "gone.jpg"), str(tmp_path / "good.png"), "--json"])
        == 1
    )
    broken, gone, good = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert set(broken) == {"photo", "error"}
    assert "There is no file" in gone["error"]
    assert len(good["symbols"]) == 1


def test_read_looks_into_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    label_photo(tmp_path / "a.png", "395200000000000012")
    assert run(["read", str(tmp_path)]) == 0
    assert "SSCC 395200000000000012" in capsys.readouterr().out


def test_reconcile_is_complete_with_every_carton_in_view(
    tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = label_photo(tmp_path / "a.png", "395200000000000012", "395200000000000029")
    assert run(["reconcile", "--manifest", str(manifest), "--photos", str(photo), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [(r["carton"], r["how"]) for r in found["received"]] == [("01", "sscc"), ("02", "sscc")]
    assert (found["shipment"], found["store"], found["expected"], found["short"], found["over"]) == (
        "S-1",
        "0417",
        2,
        [],
        [],
    )
    assert found["open_first"] == [{"carton": "01", "found": True}]
    assert set(found["staging"]) >= {"trips", "bays", "cautions"}


def test_reconcile_ends_with_three_when_a_carton_is_short(
    tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scans = tmp_path / "scans.csv"
    scans.write_text(
        "scan_id,scanned_at,raw,place,by,photo\n"
        "6f1c2d2e-0000-4000-8000-000000000001,2026-03-02T09:00:00Z,]C100395200000000000029,dock,Ada,\n"
    )
    assert run(["reconcile", "--manifest", str(manifest), "--scans", str(scans), "--json"]) == 3
    found = json.loads(capsys.readouterr().out)
    assert [s["carton"] for s in found["short"]] == ["01"]
    assert [s["carton"] for s in found["received"]] == ["02"]


def test_reconcile_names_every_fault_of_a_manifest(
    tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    manifest.write_text(MANIFEST.replace("000029", "000028").replace("Harbor,1,1", "Harbor,1,"))
    assert run(["reconcile", "--manifest", str(manifest)]) == 1
    complaint = capsys.readouterr().err
    assert "nothing was loaded" in complaint
    assert complaint.count("line 3") == 2


def test_import_twice_changes_nothing(tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for status in ("new", "unchanged"):
        assert run(["import", str(manifest), "--data", str(tmp_path / "data"), "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["status"] == status


def test_import_goes_on_after_a_faulty_file(tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "layout.toml").write_text("[store]\n")
    assert run(["import", str(tmp_path / "layout.toml"), str(manifest), "--data", str(tmp_path / "data")]) == 1
    captured = capsys.readouterr()
    assert "layout.toml" in captured.err
    assert "shipment S-1" in captured.out


def test_doctor_looks_at_every_library_that_the_project_needs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]
    needed = {re.split("[<>=]", requirement)[0] for requirement in project["dependencies"]}
    run(["doctor", "--data", str(tmp_path), "--json"])
    looked_at = {finding["what"] for finding in json.loads(capsys.readouterr().out)}
    assert needed - {"pyzbar"} <= looked_at  # pyzbar is told with its system library
    assert "ZBar (libzbar0, pyzbar)" in looked_at


def test_doctor_checks_every_library_and_the_data_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["doctor", "--data", str(tmp_path / "data"), "--json"]) == 0
    findings = {finding["what"]: finding for finding in json.loads(capsys.readouterr().out)}
    assert findings["zxing-cpp"]["ok"] is True
    assert findings["data folder"]["ok"] is True
    (tmp_path / "file").write_text("")
    assert run(["doctor", "--data", str(tmp_path / "file" / "data")]) == 1
    assert "cannot be written to" in capsys.readouterr().out


def test_a_wrong_word_ends_with_two() -> None:
    for words in (["raed"], ["read"], ["reconcile"], ["doctor", "--loud"]):
        with pytest.raises(SystemExit) as ended:
            run(words)
        assert ended.value.code == 2


def test_what_follows_the_word_test_goes_to_pytest() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "receiving", "test", "-q", "--collect-only", "tests/dispatch/test_deciding.py"],
        capture_output=True,
        text=True,
        check=True,
        cwd=PROJECT,
    )
    assert "tests/dispatch/test_deciding.py::" in done.stdout


def test_the_module_starts_as_the_readme_says() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "receiving", "--version"], capture_output=True, text=True, check=True, cwd=PROJECT
    )
    assert done.stdout.startswith("receiving ")


def test_overview_says_what_presses_and_ends_with_3(manifest: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = ["--data", str(manifest.parent / "data")]
    run(["import", str(manifest), *data])
    capsys.readouterr()
    assert run(["overview", *data]) == 3
    assert "store 0417, S-1: 0 of 2 here. Nobody has looked yet" in capsys.readouterr().out
    assert run(["overview", *data, "--json"]) == 3
    row = json.loads(capsys.readouterr().out)
    assert (row["state"], [each["carton"] for each in row["missing"]]) == ("unseen", ["01", "02"])


def test_overview_of_some_days_leaves_out_later_visits_and_never_what_has_no_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data, today = ["--data", str(tmp_path / "data")], date.today()
    days = {"LATER": today + timedelta(30), "SOON": today + timedelta(3), "PAST": today - timedelta(3), "UNDATED": None}
    head, row = MANIFEST.splitlines()[:2]
    for shipment, day in days.items():
        path = tmp_path / f"{shipment}.csv"
        text = row.replace("S-1", shipment).replace("395200000000000012", "")
        path.write_text(f"{head},visit_date\n{text},{day or ''}\n")
        assert run(["import", str(path), *data]) == 0
    capsys.readouterr()

    def shown(days: str) -> list[str]:
        status = run(["overview", "--json", "--days", days, *data])
        assert status == 3
        return sorted(json.loads(line)["shipment"] for line in capsys.readouterr().out.splitlines())

    assert shown("2") == ["UNDATED"]
    assert shown("10") == ["SOON", "UNDATED"]
    assert shown("40") == ["LATER", "SOON", "UNDATED"]


def test_read_with_a_manifest_names_the_carton_and_its_shipment(
    tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = label_photo(tmp_path / "a.png", "395200000000000029", "395200000000000036")
    assert run(["read", str(photo), "--manifest", str(manifest)]) == 0
    named, strange = capsys.readouterr().out.splitlines()[1:3]
    assert "carton 02 of shipment S-1" in named
    assert "carton" not in strange
    assert run(["read", str(photo), "--manifest", str(manifest), "--json"]) == 0
    symbols = json.loads(capsys.readouterr().out)["symbols"]
    assert [(s["carton"], s["shipment"]) for s in symbols] == [("02", "S-1"), (None, None)]


def test_reconcile_names_the_photo_whose_label_could_not_be_read(
    tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = label_photo(tmp_path / "dim corner.png", "395200000000000012")
    seen = PhotoReading(900, 300, (), unread=(UnreadRegion(((0, 0), (9, 0), (9, 9), (0, 9))),))
    monkeypatch.setattr(reconcile, "read_photos", lambda paths, *_, **__: [(paths[0], photo.read_bytes(), seen)])
    assert run(["reconcile", "--manifest", str(manifest), "--photos", str(photo)]) == 3
    output = capsys.readouterr().out
    assert "dim corner.png: 1 label could not be read" in output
    assert "0 extra, 1 to check." in output


def test_reconcile_says_on_top_whose_pile_it_is_and_what_it_does_not_understand(
    tmp_path: Path, manifest: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    theirs = tmp_path / "theirs.csv"
    codes = ("395200000000000036", "395200000000000043", "395200000000000050")
    rows = [f"S-2,0422,{n:02d},{code},tray,Harbor,{n},1,no" for n, code in enumerate(codes, 1)]
    theirs.write_text("\n".join([MANIFEST.splitlines()[0], *rows]) + "\n")
    scans = tmp_path / "scans.csv"
    lines = [f"00000000-0000-4000-8000-00000000000{n},2026-03-02T08:0{n}:00Z,]C100{c}" for n, c in enumerate(codes)]
    lines.append("00000000-0000-4000-8000-000000000009,2026-03-02T08:09:00Z,CARTON 99")
    scans.write_text("\n".join(["scan_id,scanned_at,raw", *lines]) + "\n")
    given = ["reconcile", "--manifest", str(manifest), "--others", str(theirs), "--scans", str(scans)]
    assert run(given) == 3
    printed = capsys.readouterr().out
    assert printed.startswith("THIS PILE LOOKS LIKE SHIPMENT S-2, store 0422: 3 labels are of that one, 0 of this one.")
    assert "Not understood:\n  'CARTON 99' fits nothing on this manifest" in printed
    assert run([*given, "--json"]) == 3
    answer = json.loads(capsys.readouterr().out)
    assert {name: answer["looks_like"][name] for name in ("shipment", "store", "labels", "own_labels")} == {
        "shipment": "S-2",
        "store": "0422",
        "labels": 3,
        "own_labels": 0,
    }
    assert [unclear["raw"] for unclear in answer["not_understood"]] == ["CARTON 99"]
