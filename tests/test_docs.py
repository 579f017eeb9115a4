"""The papers say what is so: licences, columns, keys and options, held against the code."""

import argparse
import json
import re
import sqlite3
from collections.abc import Callable, Iterator
from importlib import import_module
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

import pytest

from receiving import cli
from receiving.closing import replacement
from receiving.dispatch import Urgency
from receiving.expected import layout
from receiving.expected.manifest_table import MANIFEST_COLUMNS
from receiving.expected.programme_tables import KIT_COLUMNS
from receiving.model import NOTE_KINDS, CartonKind, Outcome, OverReason, Place
from receiving.reading import patterns, scans
from receiving.service import DamageKind, notes, queries, results
from tests.commands.test_commands import MANIFEST, label_photo

PROJECT = Path(__file__).resolve().parent.parent
DOCS = PROJECT / "docs"


def table_of(paper: str, heading: str = "") -> dict[str, str]:
    """The first table under this heading: its first column, unquoted, with its second."""
    text = (DOCS / paper).read_text()
    if heading:
        assert f"\n{heading}\n" in text, f"{paper} has no heading {heading!r}"
        text = text.split(f"\n{heading}\n", 1)[1]
    rows = re.search(r"^\|---.*\n((?:\|.*\n?)+)", text, re.MULTILINE)
    assert rows, f"{paper} has no table under {heading!r}"
    cells = ([cell.strip() for cell in line.strip("|").split("|")] for line in rows[1].splitlines())
    return {cell[0].replace("`", ""): cell[1] for cell in cells}


def test_every_library_that_is_installed_is_listed_with_its_licence() -> None:
    pinned = set(re.findall(r"^([a-z0-9-]+)==", (PROJECT / "requirements.txt").read_text(), re.MULTILINE))
    listed = table_of("licences.md")
    assert set(listed) == pinned
    assert all(re.search(r"MIT|BSD|Apache|ZPL|PSF|LGPL|public domain", licence) for licence in listed.values())
    assert not [name for name, licence in listed.items() if re.search(r"(?<!L)GPL", licence)]

    vendored = [path.name for path in (PROJECT / "web" / "static" / "vendor").iterdir() if path.is_dir()]
    assert not [name for name in vendored if f"`{name}`" not in (DOCS / "licences.md").read_text()]


def names_in(cell: str) -> Iterator[str]:
    """The names of a cell: separated by commas, a row of numbered ones by its ends."""
    for part in cell.replace("`", "").split(","):
        first, dots, last = part.strip().partition(" … ")
        if dots:
            stem = first.rstrip("0123456789")
            yield from (f"{stem}{n}" for n in range(int(first[len(stem) :]), int(last[len(stem) :]) + 1))
        else:
            yield first


def listed(heading: str) -> set[str]:
    return {name for cell in table_of("formats.md", heading) for name in names_in(cell)}


def required(heading: str) -> set[str]:
    return {
        name for cell, needed in table_of("formats.md", heading).items() if needed == "yes" for name in names_in(cell)
    }


def text_of(heading: str) -> str:
    return (DOCS / "formats.md").read_text().split(f"\n{heading}\n", 1)[1].split("\n## ", 1)[0]


def test_the_columns_of_tables_are_those_of_the_code() -> None:
    assert listed("## Manifest") == set(MANIFEST_COLUMNS.known)
    assert required("## Manifest") == set(MANIFEST_COLUMNS.required)
    assert listed("## Kit") == set(KIT_COLUMNS.known)
    assert listed("## Scan list") == set(scans.COLUMNS)
    assert required("## Scan list") == set(scans.REQUIRED)
    assert listed("## Result") == set(results.RESULT_COLUMNS)
    assert listed("## Overview") == set(queries._COLUMNS)
    assert listed("## Replacement request") == set(replacement.COLUMNS)


def test_every_word_that_a_column_may_hold_is_named() -> None:
    for kind in CartonKind:
        assert f"`{kind.value}`" in text_of("## Manifest")
    for place in Place:
        assert f"`{place.value}`" in text_of("## Scan list")
    for why in OverReason:
        assert f"`{why.value}`" in text_of("## JSON of the commands")
    for urgency in Urgency:
        assert f"`{urgency.name.lower()}`" in text_of("## JSON of the commands")


def test_the_keys_of_a_layout_and_of_a_pattern_are_those_of_the_code() -> None:
    needed = {"store": layout._STORE, "cart": layout._CART, "bay": layout._BAY}
    shown = {"store": "[store]", "cart": "[cart]", "bay": "[[bay]]"}
    known = {f"{shown[table]} {key}" for table, keys in needed.items() for key in keys}
    optional = {f"{shown[table]} {key}" for table, keys in layout._OPTIONAL.items() for key in keys}
    assert required("## Layout") == known
    assert listed("## Layout") == known | optional
    assert listed("## Label patterns") == set(patterns.LabelPattern.__dataclass_fields__)
    groups = text_of("## Label patterns").split("Groups:", 1)[1]
    assert set(re.findall(r"`(\w+)`", groups)) == set(patterns.GROUPS)


def test_every_note_is_listed_with_its_fields() -> None:
    rows = table_of("formats.md", "## Notes")
    assert set(rows) == set(NOTE_KINDS)
    for kind, fields in rows.items():
        known = [name for name in NOTE_KINDS[kind].__dataclass_fields__ if name not in notes.SET_HERE]
        assert set(names_in(fields)) == set(known), kind


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with one shipment of two cartons."""
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    assert cli.run(["import", str(tmp_path / "manifest.csv"), "--data", str(tmp_path / "data")]) == 0
    return tmp_path / "data"


@pytest.fixture
def answers(data: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., list[Any]]:
    """Run a command with ``--json`` and give what it printed."""
    capsys.readouterr()

    def ask(*words: str, **at: bool) -> list[Any]:
        cli.run([*words, "--json", *(["--data", str(data)] if at else [])])
        return [json.loads(line) for line in capsys.readouterr().out.splitlines()]

    return ask


def options_of(parser: argparse.ArgumentParser) -> set[str]:
    return {
        action.option_strings[0] if action.option_strings else str(action.metavar or action.dest)
        for action in parser._actions
        if not isinstance(action, argparse._HelpAction | argparse._SubParsersAction)
    }


def commands() -> Iterator[tuple[str, argparse.ArgumentParser]]:
    def of(parser: argparse.ArgumentParser) -> Any:
        return next((a.choices for a in parser._actions if isinstance(a, argparse._SubParsersAction)), {})

    for name, parser in of(cli._parser()).items():
        inner = of(parser)
        yield from ((f"{name} {word}", each) for word, each in inner.items()) if inner else [(name, parser)]


def test_every_command_is_listed_with_all_its_options() -> None:
    rows = table_of("commands.md")
    assert set(rows) == {name for name, _ in commands()}
    for name, parser in commands():
        assert {part for part in names_in(rows[name]) if part} == options_of(parser), name


def test_the_json_of_the_commands_has_the_fields_that_are_listed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    photo, data = label_photo(tmp_path / "a.png", "395200000000000012"), ["--data", str(tmp_path / "data")]

    def answer(*words: str) -> dict[str, Any]:
        cli.run([*words, "--json"])
        return dict(json.loads(capsys.readouterr().out.splitlines()[0]))

    manifest = ["--manifest", str(tmp_path / "manifest.csv")]
    seen = answer("read", str(photo), *manifest)
    assert listed("### read") == set(seen)
    assert fields_of("symbol") == set(seen["symbols"][0])
    found = answer("reconcile", *manifest, "--photos", str(photo))
    assert listed("### reconcile") == set(found)
    inside = text_of("## JSON of the commands").split("### reconcile", 1)[1].split("###", 1)[0]
    for part in (found["received"][0], found["short"][0], found["reads"][0], found["staging"]):
        assert set(part) <= set(re.findall(r"`(\w+)`", inside))
    assert listed("### import") == set(answer("import", str(tmp_path / "manifest.csv"), *data))
    row = answer("overview", *data)
    assert listed("### overview") == set(row)
    named = re.findall(r"`(\w+)`", text_of("## JSON of the commands").split("### overview", 1)[1])
    assert set(row["missing"][0]) <= set(named)


def fields_of(what: str) -> set[str]:
    """The names of the table whose first column is the fields of this."""
    assert f"| field of a {what} |" in (DOCS / "formats.md").read_text()
    rows = text_of("## JSON of the commands").split(f"| field of a {what} |", 1)[1].split("\n\n", 1)[0]
    cells = [line.split("|")[1] for line in rows.splitlines()[2:]]
    return {name.strip() for cell in cells for name in names_in(cell)}


def test_the_json_of_what_is_added_has_the_fields_that_are_listed(
    tmp_path: Path, answers: Callable[..., list[Any]]
) -> None:
    photo = label_photo(tmp_path / "a.png", "395200000000000012")
    (tmp_path / "small.png").write_bytes(photo.read_bytes()[:200])  # kept, and cannot be read
    (tmp_path / "notes.jsonl").write_text('{"kind": "carton_seen", "carton": "02", "reason": "seen"}\n')
    words = ["--codes", "395200000000000012", "--notes", str(tmp_path / "notes.jsonl")]
    scan, note, read, failed = answers(
        "add", "S-1", *words, "--photos", str(photo), str(tmp_path / "small.png"), "--by", "Ada", data=True
    )
    assert set(scan) == fields_of("scan")
    assert set(note) == fields_of("note")
    assert set(read) == fields_of("photo") - {"error"}
    assert set(failed) == fields_of("photo")
    for outcome in Outcome:
        assert f"`{outcome.value}`" in text_of("## JSON of the commands").split("### add", 1)[1]


def test_the_json_of_commands_about_the_data_folder_has_the_fields_that_are_listed(
    tmp_path: Path, answers: Callable[..., list[Any]]
) -> None:
    (whole,) = answers("check", data=True)
    assert set(whole) == listed("### check")
    assert whole["whole"] is True
    (voided,) = answers("void", "S-1", "--by", "Ada", data=True)
    assert set(voided) == listed("### void")
    (backup,) = answers("backup", "--out", str(tmp_path / "copy.zip"), data=True)
    assert set(backup) == listed("### backup")
    (restored,) = answers("restore", str(tmp_path / "copy.zip"), "--data", str(tmp_path / "again"))
    assert set(restored) == listed("### restore")
    assert restored["shipments"] == 1
    (findings,) = answers("doctor", data=True)
    assert {name for finding in findings for name in finding} == listed("### doctor")


def test_the_json_of_a_damage_has_the_fields_that_are_listed(answers: Callable[..., list[Any]], data: Path) -> None:
    with sqlite3.connect(data / "receiving.sqlite") as database:
        for (name,) in database.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            database.execute(f'DROP TRIGGER "{name}"')
    database.close()
    (report,) = answers("check", data=True)
    assert report["whole"] is False
    assert set(report["damages"][0]) == fields_of("damage")
    for kind in DamageKind:
        assert f"`{kind.value}`" in text_of("## JSON of the commands").split("### check", 1)[1]


def test_every_paper_that_is_linked_is_there() -> None:
    for paper in (*PROJECT.glob("*.md"), *DOCS.glob("*.md")):
        for target in re.findall(r"\]\(([^)#:]+)\)", paper.read_text()):
            assert (paper.parent / target).exists(), f"{paper.name} links to {target}"


@pytest.fixture(scope="module")
def reference() -> Any:
    """The program that writes the reference."""
    spec = spec_from_file_location("make_reference", DOCS / "make_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_reference_tells_of_every_public_name_of_every_room(reference: Any) -> None:
    written = reference.reference()
    for room in reference.ROOMS:
        assert f"\n## receiving.{room}\n" in written
        part = written.split(f"\n## receiving.{room}\n", 1)[1].split("\n## ", 1)[0]
        described = dict(re.findall(r"^- `(\w+).*?`: (.*)$", part, re.MULTILINE))
        assert set(described) == set(import_module(f"receiving.{room}").__all__)
        assert not [name for name, words in described.items() if not words], room


def test_the_rooms_of_the_reference_are_all_there_are(reference: Any) -> None:
    rooms = {path.parent.name for path in (PROJECT / "receiving").glob("*/__init__.py")}
    assert set(reference.ROOMS) == rooms - {"commands", "sheets"}


def test_the_words_of_the_glossary_are_those_that_the_project_uses() -> None:
    words = {word for cell in table_of("glossary.md") for word in names_in(cell)}
    assert {"manifest", "carton", "SSCC", "bay", "staging", "receipt", "guided", "open first"} <= words
    papers = [path for path in (*PROJECT.glob("*.md"), *DOCS.glob("*.md")) if path.name != "glossary.md"]
    code = [*(PROJECT / "receiving").rglob("*.py"), *(PROJECT / "web").rglob("*.html")]
    written = re.sub(r"[\s_]+", " ", " ".join(path.read_text() for path in (*papers, *code))).lower()
    assert not [word for word in words if word.lower() not in written]


ASVS_LEVEL_1 = """
    1.2.1-5 1.3.1-2 1.5.1 2.1.1 2.2.1-2 2.3.1 3.2.1-2 3.3.1 3.4.1-2 3.5.1-3 4.1.1 4.4.1 5.2.1-2 5.3.1-2 6.1.1 6.2.1-8
    6.3.1-2 6.4.1-2 7.2.1-4 7.4.1-2 8.1.1 8.2.1-2 8.3.1 9.1.1-3 9.2.1 10.4.1-5 11.3.1-2 11.4.1 12.1.1 12.2.1-2 13.4.1
    14.2.1 14.3.1 15.1.1 15.2.1 15.3.1"""
ASVS_LEVEL_2 = """
    1.1.1-2 1.2.6-9 1.3.3-11 1.4.1-3 1.5.2 2.1.2-3 2.2.3 2.3.2-4 2.4.1 5.1.1 5.2.3 5.4.1-3 7.1.1-3 7.3.1-2 7.4.3-5
    7.5.1-2 7.6.1-2 8.1.2 8.2.3 8.4.1"""
"""All of level 1, and of level 2 chapters 1, 2, 5, 7 and 8; source: the list that the paper names."""


def asvs_numbers(text: str) -> Iterator[str]:
    """1.2.1-3 is 1.2.1, 1.2.2, 1.2.3; V9.1.1–V9.2.1 is what of the list lies between them."""
    for each in text.split():
        section, _, numbers = each.rpartition(".")
        first, _, last = numbers.partition("-")
        yield from (f"{section}.{n}" for n in range(int(first), int(last or first) + 1))


def test_every_requirement_of_the_asvs_has_a_row_and_every_test_of_a_row_exists() -> None:
    asked = [*asvs_numbers(ASVS_LEVEL_1), *asvs_numbers(ASVS_LEVEL_2)]
    in_order = sorted(asked, key=lambda each: [int(n) for n in each.split(".")])
    found: list[str] = []
    for line in (DOCS / "asvs.md").read_text().splitlines():
        if not line.startswith("| V"):
            continue
        numbers, level, _, how, tests = (cell.strip() for cell in line.strip("|").split(" | "))
        for each in numbers.replace("V", "").split(", "):
            first, dash, last = each.partition("–")
            found += in_order[in_order.index(first) : in_order.index(last) + 1] if dash else [each]
        assert level in ("1", "2") and how and "not met" not in how and "partly" not in how, numbers
        for named in re.findall(r"`(tests/[^`]+)`", tests):
            path, _, test = named.partition("::")
            assert (PROJECT / path).is_file(), f"{numbers}: there is no {path}"
            assert not test or f"\ndef {test}(" in (PROJECT / path).read_text(), (
                f"{numbers}: there is no {test} in {path}"
            )
        rest = re.sub(r"`tests/[^`]+`", "", tests).strip(", ")
        assert rest in ("", "bandit in `.ci/run`"), f"{numbers}: {rest}"
    assert not [each for each in asked if each not in found]
    assert len(found) == len(set(found))
