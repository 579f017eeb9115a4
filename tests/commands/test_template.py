"""Templates: what they ask for is what the importer takes, and an empty one is refused place by place."""

import re
from pathlib import Path

import pytest

from receiving.cli import run
from receiving.commands.imports import FILES, template
from receiving.errors import LayoutFaults, ManifestFaults, PatternFaults
from receiving.expected import read_layout, read_manifests
from receiving.expected.manifest_table import MANIFEST_COLUMNS
from receiving.reading import read_patterns
from receiving.reading.patterns import GROUPS

ROW = {
    "shipment": "S-1",
    "store": "0417",
    "carton": "01",
    "kind": "tray",
    "sscc": "395200000000000012",
    "section": "Harbor",
    "column": "1",
    "row": "2",
    "item": "T-1",
    "qty": "3",
    "weight_kg": "4.25",
    "tracking": "1Z;2Z",
    "open_first": "yes",
    "visit_date": "2026-12-24",
}


def filled_manifest() -> bytes:
    text = template("manifest.csv").decode()
    header = text.splitlines()[-1].split(",")
    return (text + ",".join(ROW.get(name, "") for name in header) + "\n").encode()


def filled_layout() -> bytes:
    text = template("layout.toml").decode().replace("columns = []", "columns = [1, 2]")
    text = re.sub(r"^# (?=[a-z_]+ = )", "", text, flags=re.MULTILINE)  # the optional keys too
    return re.sub(r"= 0\b", "= 60", text.replace('= ""', '= "0417"')).encode()


def filled_patterns() -> bytes:
    text = template("patterns.toml").decode()
    regex = re.search(r"regex = ('[^']+')   reads   (.+)", text)
    assert regex
    text = text.replace("regex = ''", f"regex = {regex[1]}").replace('example = ""', f'example = "{regex[2]}"')
    return text.replace('name = ""', 'name = "mine"').encode()


def test_a_filled_manifest_is_accepted_without_a_warning() -> None:
    found = read_manifests("manifest.csv", filled_manifest())
    assert found.warnings == ()
    (carton,) = found.manifests[0]
    assert (found.manifests[0].store, carton.carton, str(carton.sscc)) == ("0417", "01", ROW["sscc"])
    assert found.manifests[0].dispatch_date is not None


def test_a_filled_layout_is_accepted_with_all_optional_keys() -> None:
    layout = read_layout("layout.toml", filled_layout())
    assert (layout.store, layout.bays[0].columns, layout.country) == ("0417", (1, 2), "US")


def test_filled_patterns_are_accepted() -> None:
    (pattern,) = read_patterns("patterns.toml", filled_patterns())
    assert pattern.name == "mine"


def test_an_empty_template_is_refused_and_says_what_is_missing() -> None:
    with pytest.raises(ManifestFaults, match="there is no row below the header"):
        read_manifests("manifest.csv", template("manifest.csv"))
    with pytest.raises(LayoutFaults) as faults:
        read_layout("layout.toml", template("layout.toml"))
    assert {fault.field for fault in faults.value.faults} >= {"id", "walk_m", "columns", "max_load_kg"}
    with pytest.raises(PatternFaults, match="regex is empty"):
        read_patterns("patterns.toml", template("patterns.toml"))


def test_every_column_of_the_template_is_known_and_explained() -> None:
    *comments, header = template("manifest.csv").decode().splitlines()
    columns = header.split(",")
    assert set(columns) <= set(MANIFEST_COLUMNS.known)
    assert set(MANIFEST_COLUMNS.required) <= set(columns)
    explained = {name for line in comments for name in re.findall(r"[a-z_]+", line.split(":")[0])}
    assert set(columns) <= explained


def test_the_command_writes_all_files_or_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "new"
    assert run(["template", "--out", str(folder)]) == 0
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    assert "receiving import" in capsys.readouterr().out
    (folder / "manifest.csv").write_text("mine")
    (folder / "layout.toml").unlink()
    assert run(["template", "--out", str(folder)]) == 1
    assert "Already there: " in capsys.readouterr().err
    assert (folder / "manifest.csv").read_text() == "mine"
    assert not (folder / "layout.toml").exists()


def test_filled_templates_make_a_shipment(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, data in zip(FILES, (filled_manifest(), filled_layout(), filled_patterns()), strict=True):
        (tmp_path / name).write_bytes(data)
    data = ["--data", str(tmp_path / "data")]
    assert run(["import", *(str(tmp_path / name) for name in FILES), *data]) == 0
    assert capsys.readouterr().err == ""


def test_the_groups_that_the_template_names_are_all_that_there_are() -> None:
    text = template("patterns.toml").decode().split("The groups:", 1)[1].split(".", 1)[0]
    assert set(re.findall(r"[a-z_]+", text)) == set(GROUPS)
