"""Commands in the language of the environment: help, results and faults said in one that marks what it says.

All data here holds a Z or a digit; what else stands outside of the marks, and is not a name of a command, an
option, a library or a file, is a word that no catalogue can translate.
"""

import argparse
import io
import json
import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from receiving import cli, service
from receiving.commands import data_folder, doctor, read, receipts, serve, terminal
from receiving.language import LANGUAGES
from receiving.messages import ENGLISH
from receiving.model import PhotoReading, Symbol
from receiving.service import Damage, DamageKind, Finding, Flaw, Verdict
from tests.web.bare_words import WORD, Bracketed, outside
from web.serve import Where


class Marked(Bracketed):
    """A language of the tests."""

    code = "qps"


MARKED = Marked()
KNOWN = {"kg", "lb", "SSCC", *WORD.findall("[name erased on]")}
"""Units, an abbreviation of a standard, and the mark that is stored in the place of a name."""

DATA = re.compile(r"\S*[Z0-9/]\S*")
"""What holds a Z or a digit, or is a path, is data."""


@pytest.fixture
def marked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal, "speaker", lambda: MARKED)


def bare(text: str, *known: str) -> set[str]:
    """The words that nobody said, but for data and names that are known."""
    unsaid = DATA.sub(" ", outside(text).replace("\0", " "))
    return set(WORD.findall(unsaid)) - {*KNOWN, *known}


def parsers(of: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    yield of
    for action in of._actions:
        if isinstance(action, argparse._SubParsersAction):
            for each in action.choices.values():
                yield from parsers(each)


def names_of(parser: argparse.ArgumentParser) -> set[str]:
    """The names that a command line is made of: of commands, options, values and choices."""
    texts = [parser.prog]
    for action in parser._actions:
        texts += [*action.option_strings, action.dest, action.dest.upper(), *map(str, action.choices or ())]
        texts += [action.metavar] if isinstance(action.metavar, str) else action.metavar or ()
    return set(WORD.findall(" ".join(texts)))


def test_all_help_is_said(marked: None) -> None:
    checked = 0
    for parser in parsers(cli._parser()):
        assert bare(parser.format_help(), *names_of(parser)) == set(), parser.prog
        checked += 1
    assert checked > 30


def test_help_that_nobody_says_is_found() -> None:
    (parser, *_) = parsers(cli._parser())
    assert bare(parser.format_help(), *names_of(parser))


WRONG = [
    [],
    ["nonsense"],
    ["reconcile"],
    ["reconcile", "--manifest"],
    ["serve", "--port", "x"],
    ["serve", "--port", "99999"],
    ["read", "Z.jpg", "--limit-s", "0"],
    ["labels", "--manifest", "Z", "--out", "Z", "--dpi", "high"],
    ["labels", "--manifest", "Z", "--out", "Z", "--offset-mm", "1"],
    ["labels", "--manifest", "Z", "--out", "Z", "--offset-mm", "1", "Z"],
    ["add", "S", "--place", "Zmoon"],
    ["add", "S", "--photos"],
    ["swaps", "--take-all", "--take", "Z1", "Z2"],
    ["doctor", "--json=Z"],
    ["user", "list", "--Znope"],
    ["serve", "--pro", "Z"],
]


@pytest.mark.parametrize("words", WRONG, ids=" ".join)
def test_wrong_usage_is_said(words: list[str], marked: None, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.parse(words)
    assert ended.value.code == cli.USAGE
    known = set().union(*map(names_of, parsers(cli._parser())))
    assert bare(capsys.readouterr().err, *known) == set()


MANIFEST = """\
shipment,store,carton,sscc,kind,section,column,row,open_first,visit_date,weight_kg
Z-1,0417,01,395200000000000012,tray,Zharbor,1,1,no,2026-03-09,24
Z-1,0417,02,395200000000000029,parts,Zharbor,,,yes,2026-03-09,12
Z-1,0417,03,395200000000000036,tray,Zharbor,2,1,no,2026-03-09,8
"""
SCANS = """\
scan_id,scanned_at,raw,place,by
10000000-0000-4000-8000-000000000001,2026-03-05T09:00:00Z,]C100395200000000000012,dock,Zoe
10000000-0000-4000-8000-000000000002,2026-03-05T09:00:10Z,]C100395200000000009992,dock,Zoe
10000000-0000-4000-8000-000000000003,2026-03-05T09:00:20Z,Z?,dock,Zoe
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "Zm.csv").write_text(MANIFEST)
    (tmp_path / "Zs.csv").write_text(SCANS)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], line: str) -> str:
    """What a command line prints, results and faults."""
    with suppress(SystemExit):
        cli.run(line.split())
    captured = capsys.readouterr()
    return captured.out + captured.err


LINES = [
    "reconcile --manifest Zm.csv --scans Zs.csv",
    "import Zm.csv --data Zd",
    "import Zm.csv --data Zd --preview",
    "template --out Zt",
    "labels --manifest Zm.csv --out Zl.pdf",
    "labels --manifest Zm.csv --out Zl.pdf --carton 99",
    "labels --manifest Zm.csv --out Zl.pdf --stock Zx",
    "add Z-1 --codes Zc --data Zd",
    "add Z-1 --codes 395200000000000012 02 --data Zd",
    "add Z-9 --codes Zc --data Zd",
    "add Z-1 --data Zd",
    "overview --data Zd",
    "overview --data Zd --days 1",
    "export Z-1 --out Zr.csv --data Zd",
    "export Z-1 --out Zr.txt --data Zd",
    "swaps --data Zd",
    "swaps --take-all --data Zd",
    "keys --data Zd",
    "keys --rotate --data Zd",
    "webhook list --data Zd",
    "webhook deliveries --data Zd",
    "webhook add https://Z9.example/x --event shipment_short --store Z4 --programme Zp --data Zd",
    "webhook list --data Zd",
    "webhook try Zno --data Zd",
    "user list --data Zd",
    "user add Zoe --role coordinator --data Zd",
    "user add Zed --role rep --store Z4 --programme Zp --data Zd",
    "user close Zoe --data Zd",
    "user close Zed --data Zd",
    "user password Zed --data Zd",
    "user list --data Zd",
    "user close Zed --data Zd",
    "void Z-1 --reason Zr --by Zoe --data Zd",
    "void Z-1 --undo --by Zoe --data Zd",
    "void Z-1 --undo --by Zoe --data Zd",
    "prune --data Zd",
    "prune --dry-run --data Zd",
    "erase-name Zoe --data Zd",
    "erase-name Zoe --dry-run --data Zd",
    "messages --out Zf --data Zd",
    "backup --out Zb.zip --data Zd",
    "restore Zb.zip --data Ze",
    "check --data Zd",
    "check --data Znone",
    "reconcile --manifest Znone.csv",
    "reconcile --manifest Zs.csv",
    "reconcile --manifest Zm.csv --shipment Z-2",
    "verify Zm.csv",
]
"""Run in this order: what one stores the next shows."""


def test_results_and_faults_of_commands_are_said(
    here: Path, marked: None, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    known = set().union(*map(names_of, parsers(cli._parser())))
    monkeypatch.setattr("sys.stdin", io.StringIO("Zfour plain words here\n"))
    monkeypatch.setattr(service, "make_first_password", lambda: "Zfirst")
    unsaid = {}
    for line in LINES:
        output = run(capsys, line)
        assert output, line
        if found := bare(output, *known):
            unsaid[line] = (found, output)
    assert unsaid == {}, "\n".join(f"{line}: {found}\n{output}" for line, (found, output) in unsaid.items())


BAD = {
    "Zbad.csv": MANIFEST.replace("tray", "Ztrolley", 1).replace("2026-03-09", "soon", 1).replace(",8\n", ",heavy,Z\n"),
    "Znone.csv": "Zone,Ztwo\n1,2\n",
    "Zempty.csv": "",
    "Zwrong.csv": MANIFEST.replace("395200000000000029", "395200000000000028").replace(",1,1,no", ",1,,no"),
    "Zlayout.toml": '[store]\nid = 417\nwalk_m = "far"\n[cart]\nmax_load = 3\n[[bay]]\nid = "Z1"\ncolumns = [1, 1]\n',
    "Znotice.x12": "ISA*00*~ST*856*0001~SE*1*0001~",
    "Znotice.edi": "UNB+UNOA:2+Z:14+Z:14+260305:0900+1'UNH+1+ORDERS:D:96A:UN'UNT+2+1'UNZ+1+1'",
    "Zkit.csv": "item,section,column,row\nZ1,Zs,1,\n,Zs,0,0\n",
}


@pytest.mark.parametrize("name", BAD)
def test_faults_of_a_bad_file_are_said(name: str, here: Path, marked: None, capsys: pytest.CaptureFixture[str]) -> None:
    (here / name).write_text(BAD[name])
    output = run(capsys, f"import {name} --data Zd")
    columns = ("weight_kg", "visit_date", "kind", "column", "row", "section", "shipment", "store", "carton", "sscc")
    keys = ("store", "cart", "bay", "id", "walk_m", "order", "columns", "heavy", "soon", "far", "open_first", "item")
    kinds = ("max_load", "max_load_kg", "deck_length_cm", "deck_width_cm", "stack_height_cm", "width_cm")
    more = ("staging_length_cm", "staging_depth_cm", "ISA", "IEA", "ORDERS", "UNH", "UNT", "end", "ST", "GS", "SE")
    known = set(WORD.findall(" ".join((*columns, *keys, *kinds, *more))))
    assert bare(output, *known) == set(), output


def test_what_is_found_wrong_with_a_record_is_said(marked: None, capsys: pytest.CaptureFixture[str]) -> None:
    for flaw in Flaw:
        for first, last in ((1, 9), (4, 4)):
            for what in ("header", "signature", "public_key") if flaw is Flaw.SEAL_NOT_AS_STORED else ("Z9",):
                receipts._print_verdict(
                    Verdict("Z-1", 2, (Finding(flaw, first, last, what),), True, "Z9"), key_given=False
                )
    receipts._print_verdict(Verdict("Z-1", 2, (), True, "Z9", erased_on="2026-03-02"), key_given=False)
    receipts._print_verdict(Verdict("Z-1", 2, (), False, "Z9"), key_given=False)
    # Days are said by the language itself, which is English here but for its marks.
    output = capsys.readouterr().out.replace("Mon 2 Mar 2026", "")
    assert output.count("\n") == 2 * (len(Flaw) + 2) + 4
    known = set().union(*map(names_of, parsers(cli._parser())))
    assert bare(output, "FOLDER", *known) == set()


def test_every_damage_is_said(marked: None) -> None:
    for kind in DamageKind:
        for damage in (Damage(kind, "Z_t", "Z1", "Z-1", "Z: Z"), Damage(kind, "")):
            assert bare(terminal.say(data_folder.in_words(damage))) == set()


def test_what_a_photo_shows_is_said(marked: None) -> None:
    quad = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))
    seen = Symbol("SECTION Zoak COL 3 ROW 2 OPEN FIRST", "]d1", quad, "zxing", guided=True, confidence=0.9)
    reading = PhotoReading(9, 9, (seen, seen), ms=12.5)
    claims = read.claims_of(reading)
    text = terminal.say(read._words(Path("Z.jpg"), reading, claims, {claims[0].read_id: ("Z-1", "01")}))
    shown = WORD.findall(seen.raw)
    assert "carton" in text and "column 3, row 2" in text
    assert bare(text, *shown) == set(), text


def test_where_the_page_is_is_said(marked: None, capsys: pytest.CaptureFixture[str]) -> None:
    where = Where(
        "https://Z1/", "http://Z1/z", ":".join(["Z9"] * 32), is_readable_on_the_way=True, lets_everybody_in=True
    )
    serve._say_where(where)
    assert bare(capsys.readouterr().out) == set()


def test_doctor_is_said_and_what_it_says_to_machines_is_english(
    here: Path, marked: None, capsys: pytest.CaptureFixture[str]
) -> None:
    libraries = WORD.findall(" ".join((*doctor._NEEDED, *doctor._OPTIONAL, "Python SQLite ZBar libzbar pyzbar")))
    assert bare(run(capsys, "doctor --data Zd"), *libraries) == set()
    found = json.loads(run(capsys, "doctor --data Zd --json"))
    assert {each["what"] for each in found} >= {"Python", "SQLite", "data folder"}
    assert not any(mark in json.dumps(found, ensure_ascii=False) for mark in (MARKED.open, MARKED.close))


def test_the_environment_chooses_and_english_is_what_there_is_always(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal.speaker.cache_clear()
    monkeypatch.setenv("LANGUAGE", "tlh")
    assert terminal.speaker() is ENGLISH
    terminal.speaker.cache_clear()
    for code in LANGUAGES:
        monkeypatch.setenv("LANGUAGE", f"tlh:{code}_ZZ")
        terminal.speaker.cache_clear()
        assert terminal.speaker().code == code
    terminal.speaker.cache_clear()
