"""Accounts, keys, records, voiding, labels, backups and exports from a terminal: what is done and what is said."""

import io
import json
import re
import sys
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from receiving import cli, service
from receiving.cli import run
from receiving.commands import doctor, files, serve, test
from receiving.commands import imports as importing
from receiving.errors import NoData
from receiving.model import Place, Role, Source
from tests.closing.printed import pages
from tests.commands.test_commands import MANIFEST, label_photo
from tests.receipts import confirm_with_shorts
from tests.web.scenario import sscc
from web.serve import Where

WORDS = "four plain words here"


@pytest.fixture
def data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    assert run(["import", str(tmp_path / "manifest.csv"), "--data", str(tmp_path / "data")]) == 0
    capsys.readouterr()
    return tmp_path / "data"


def output_of(capsys: pytest.CaptureFixture[str], words: list[str], status: int = 0) -> str:
    assert run(words) == status
    captured = capsys.readouterr()
    assert bool(captured.err) == (status == 1), captured.err
    return captured.out or captured.err


# --- accounts ------------------------------------------------------------------------------------------------------


def typed(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))


def signs_in(data: Path, name: str, password: str) -> bool:
    with service.Context.at(data) as ctx:
        try:
            return bool(service.sign_in(ctx, name, password, address="192.0.2.1"))
        except service.SignInRefused:
            return False


def first_password_in(output: str, name: str) -> str:
    found = re.search(rf"^The first password of {name} is (\S+)\.", output, re.MULTILINE)
    assert found, output
    return found[1]


def replaces(data: Path, name: str, first: str, own: str) -> bool:
    """A first password opens nothing by itself, and lets its holder in once he chose his own."""
    with service.Context.at(data) as ctx:
        with pytest.raises(service.FirstPassword):
            service.sign_in(ctx, name, first, address="")
        return bool(service.sign_in(ctx, name, first, address="", new=own).token)


def test_the_first_account_may_be_made_before_anything_is_imported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    new = tmp_path / "new"
    typed(monkeypatch, f"{WORDS}\n")
    output = output_of(capsys, ["user", "add", "Ada Lund", "--role", "coordinator", "--data", str(new)])
    assert output.startswith(f"{new} is a new data folder.\nAda Lund can sign in now.")
    assert signs_in(new, "Ada Lund", WORDS)


def test_an_account_is_made_changed_closed_and_opened(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    at = ["--data", str(data)]
    assert "There is no account: whoever reaches the page can read and write." in output_of(
        capsys, ["user", "list", *at]
    )
    typed(monkeypatch, f"{WORDS}\nmore lines\n")
    add = ["user", "add", "Ada Lund", "--role", "coordinator", *at]
    assert output_of(capsys, add) == "Ada Lund can sign in now. From the first account on, everybody has to.\n"
    assert signs_in(data, "Ada Lund", WORDS)
    given = output_of(capsys, ["user", "add", "Bo", "--role", "rep", "--store", "0422", "--store", "0417", *at])
    assert replaces(data, "Bo", first_password_in(given, "Bo"), WORDS)
    listed = "Ada Lund: coordinator, all stores\nBo: rep, 0417, 0422\n"
    assert output_of(capsys, ["user", "list", *at]) == listed
    first = first_password_in(output_of(capsys, ["user", "password", "ADA LUND", *at]), "Ada Lund")
    assert not signs_in(data, "Ada Lund", WORDS)
    assert replaces(data, "Ada Lund", first, "another four plain words")
    assert signs_in(data, "Ada Lund", "another four plain words") and not signs_in(data, "Ada Lund", first)
    output_of(capsys, ["user", "close", "Bo", *at])
    assert not signs_in(data, "Bo", WORDS)
    assert output_of(capsys, ["user", "list", *at]) == listed.replace("0422\n", "0422, closed\n")
    output_of(capsys, ["user", "open", "Bo", *at])
    assert output_of(capsys, ["user", "list", *at]) == listed


def test_an_account_that_is_not_there_is_named(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = output_of(capsys, ["user", "close", "Eve", "--data", str(data)], 1)
    assert output == "receiving user: There is no account 'Eve'. See receiving user list.\n"


@pytest.mark.parametrize(("second", "status"), [(WORDS, 0), ("other words", 1)])
def test_at_a_terminal_a_password_is_typed_twice(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, second: str, status: int
) -> None:
    answers = iter((WORDS, second))
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: True))
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(answers))
    output = output_of(capsys, ["user", "add", "Ada", "--role", "coordinator", "--data", str(data)], status)
    assert ("The two passwords differ." in output) == bool(status)
    with service.Context.at(data) as ctx:
        assert [person.role for person in service.list_people(ctx)] == ([] if status else [Role.COORDINATOR])


# --- keys and records ----------------------------------------------------------------------------------------------


def confirmed(data: Path) -> Path:
    """A receipt, and its sealed record in a file."""
    with service.Context.at(data) as ctx:
        service.add_scan(ctx, "S-1", "]C100395200000000000012", place=Place.DOCK, by="Ada", source=Source.SCANNER)
        confirm_with_shorts(ctx, "S-1", name="Ida Berg")
        record = data.parent / "r.record"
        record.write_text(service.get_record_file(ctx, "S-1", 1))
    return record


def test_keys_are_listed_and_renewed(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = ["--data", str(data)]
    assert output_of(capsys, ["keys", *at]) == "There is no key yet: the first confirmation makes one.\n"
    confirmed(data)
    (line,) = output_of(capsys, ["keys", *at]).splitlines()
    key, public, rest = line.split("  ")
    assert rest == f"from {date.today():%Y-%m-%d}, in use" and len(bytes.fromhex(public)) == 32
    fresh, newer, older = output_of(capsys, ["keys", "--rotate", *at]).splitlines()
    assert newer.startswith(fresh.split()[5]) and newer.endswith(", in use")
    assert fresh == f"Receipts are sealed with key {newer.split()[0]} from now on."
    assert older == f"{key}  {public}  from {date.today():%Y-%m-%d} to {date.today():%Y-%m-%d}"


def test_a_sound_record_is_said_to_be_so_alone_and_against_the_data(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = confirmed(data)
    (key, *_) = output_of(capsys, ["keys", "--data", str(data)]).split()
    assert output_of(capsys, ["verify", str(record)]) == (
        f"Receipt 1 of shipment S-1 is as it was confirmed, compared by itself (key {key}).\n"
        "Compare the key with the one that the service shows: receiving keys --data FOLDER.\n"
    )
    assert output_of(capsys, ["verify", str(record), "--data", str(data)]) == (
        f"Receipt 1 of shipment S-1 is as it was confirmed, compared with this data folder (key {key}).\n"
    )


def change(record: Path, field: str, old: str, new: str) -> None:
    whole = json.loads(record.read_text())
    assert old in whole[field]
    whole[field] = whole[field].replace(old, new)
    record.write_text(json.dumps(whole))


@pytest.mark.parametrize(
    ("field", "old", "new", "alone", "against"),
    [
        ("receipt", "Ida Berg", "Eve Moss", "its text was changed, between bytes ", "differs from the receipt in the"),
        ("header", '"number":1', '"number":01', "", ""),
        (
            "header",
            '"previous":""',
            '"previous":"ab"',
            "its header or signature was changed",
            "the receipt before this one",
        ),
        ("header", '"reads":1', '"reads":0', "its header or signature was changed", "an earlier read or note"),
    ],
)
def test_what_was_changed_in_a_record_is_said_with_status_1(
    data: Path, capsys: pytest.CaptureFixture[str], field: str, old: str, new: str, alone: str, against: str
) -> None:
    record = confirmed(data)
    change(record, field, old, new)
    assert run(["verify", str(record)]) == 1
    captured = capsys.readouterr()
    assert alone in captured.out
    assert not alone or captured.out.startswith("Receipt 1 of shipment S-1: ")
    assert run(["verify", str(record), "--data", str(data)]) == 1
    assert against in capsys.readouterr().out


def test_a_byte_that_differs_from_the_data_is_named_by_its_place(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = confirmed(data)
    at = json.loads(record.read_text())["receipt"].encode().index(b"Ida Berg")
    change(record, "receipt", "Ida Berg", "Eve Moss")
    assert run(["verify", str(record), "--data", str(data)]) == 1
    assert f"it differs from the receipt in the data folder, at byte {at} of its text." in capsys.readouterr().out


@pytest.mark.parametrize(("field", "part"), [("header", "header"), ("signature", "signature"), ("public_key", "key")])
def test_a_byte_of_a_seal_that_differs_from_the_data_is_named_by_its_place(
    data: Path, capsys: pytest.CaptureFixture[str], field: str, part: str
) -> None:
    record = confirmed(data)
    sealed = json.loads(record.read_text())[field]
    at = next(place for place in range(40, len(sealed)) if sealed[place] in "abcdef")
    whole = json.loads(record.read_text()) | {field: sealed[:at] + sealed[at].upper() + sealed[at + 1 :]}
    record.write_text(json.dumps(whole))
    assert run(["verify", str(record)]) == 1
    assert run(["verify", str(record), "--data", str(data)]) == 1
    assert f"its {part} differs from the one in the data folder, at byte {at} of it." in capsys.readouterr().out


def test_a_file_that_differs_in_more_than_an_erased_name_is_told_without_a_place(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = confirmed(data)
    assert run(["erase-name", "Ida Berg", "--data", str(data)]) == 0
    assert run(["verify", str(record), "--data", str(data)]) == 0
    capsys.readouterr()
    change(record, "receipt", "Manager", "Monarch")
    assert run(["verify", str(record), "--data", str(data)]) == 1
    output = capsys.readouterr().out
    assert "it differs from the receipt in the data folder in more than the names that were taken out of it." in output


# --- voiding -------------------------------------------------------------------------------------------------------


def test_a_shipment_is_voided_and_brought_back(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = ["--data", str(data), "--by", "Ada", "--reason", "wrong file"]
    output = output_of(capsys, ["void", "S-1", *at])
    assert output == "Shipment S-1 is voided: it is in no list. To bring it back: add --undo.\n"
    with service.Context.at(data) as ctx:
        assert service.get_overview(ctx) == ()
    assert output_of(capsys, ["void", "S-1", "--undo", *at]) == "Shipment S-1 counts again.\n"
    with service.Context.at(data) as ctx:
        assert len(service.get_overview(ctx)) == 1
    for undo, voided in (([], True), (["--undo"], False)):
        plain = json.loads(output_of(capsys, ["void", "S-1", *undo, "--json", *at]))
        assert plain == {"shipment": "S-1", "voided": voided}


# --- labels --------------------------------------------------------------------------------------------------------


def test_labels_are_written_for_all_or_for_some(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    manifest, out = str(data.parent / "manifest.csv"), data.parent / "l.pdf"
    words = ["labels", "--manifest", manifest, "--out", str(out)]
    assert output_of(capsys, words) == f"2 labels written to {out}\n"
    assert len(pages(out.read_bytes())) == 2
    assert output_of(capsys, [*words, "--carton", "02", "--sender", "Northlight"]) == f"1 label written to {out}\n"
    (page,) = pages(out.read_bytes())
    assert "Northlight" in page.text and "0417" in page.text
    output = output_of(capsys, [*words, "--carton", "02", "99"], 1)
    assert output == "receiving labels: Carton '99' is not on the manifest. It holds 01, 02.\n"


def test_labels_for_a_printer_are_pictures_in_its_language(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = data.parent / "l.ZPL"
    words = ["labels", "--manifest", str(data.parent / "manifest.csv"), "--out", str(out), "--dpi", "203"]
    output_of(capsys, words)
    assert out.read_bytes().count(b"^XA") == 2


@pytest.mark.parametrize(("units", "weight"), [("metric", "7.5 kg"), ("us", "16.5 lb")])
def test_weights_on_labels_are_in_the_units_that_were_chosen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], units: str, weight: str
) -> None:
    (tmp_path / "m.csv").write_text("shipment,store,carton,kind,barcode,weight_kg\nS-1,0417,01,tray,B-1,7.5\n")
    out = tmp_path / "l.pdf"
    output_of(capsys, ["labels", "--manifest", str(tmp_path / "m.csv"), "--out", str(out), "--units", units])
    assert weight in pages(out.read_bytes())[0].text


def test_of_a_file_with_several_shipments_one_is_chosen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = MANIFEST.splitlines()
    path, out = tmp_path / "m.csv", tmp_path / "l.pdf"
    path.write_text("\n".join([*rows, "S-2,0422,01,,tray,Harbor,1,1,no"]) + "\n")
    words = ["labels", "--manifest", str(path), "--out", str(out)]
    output = output_of(capsys, words, 1)
    assert "The manifest holds 2 shipments: S-1, S-2. Choose with --shipment ID." in output
    assert output_of(capsys, [*words, "--shipment", "S-2"]).startswith("1 label ")
    assert "The manifest holds no shipment 'S-3'. It holds S-1, S-2." in output_of(
        capsys, [*words, "--shipment", "S-3"], 1
    )


# --- backup, restore, export ---------------------------------------------------------------------------------------


def test_a_backup_says_what_it_holds_and_is_restored(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = label_photo(data.parent / "a.png", "395200000000000012")
    run(["add", "S-1", "--photos", str(photo), "--data", str(data)])
    capsys.readouterr()
    archive, folder, new = (data.parent / name for name in ("b.zip", "kept", "new"))
    folder.mkdir()
    output = output_of(capsys, ["backup", "--out", str(archive), "--data", str(data)])
    assert output.startswith(f"{archive}: the database and 1 photo, ") and " MB written; all is undamaged.\n" in output
    assert output.endswith(f"To use it: receiving restore {archive} --data FOLDER\n")
    first = json.loads(output_of(capsys, ["backup", "--out", str(folder), "--data", str(data), "--json"]))
    assert (first["archive"], first["photos"], first["written"]) == (str(folder), 1, 1)
    again = output_of(capsys, ["backup", "--out", str(folder), "--data", str(data)])
    assert "the database and 1 photo (0 of them new), " in again
    output = output_of(capsys, ["restore", str(archive), "--data", str(new)])
    assert output == (
        f"{new}: 1 shipment and 1 photo, checked: all is as it was stored.\nServe it: receiving serve --data {new}\n"
    )
    plain = json.loads(output_of(capsys, ["restore", str(folder), "--data", str(data.parent / "newer"), "--json"]))
    assert plain == {"data": str(data.parent / "newer"), "shipments": 1, "photos": 1}


def test_a_backup_into_no_folder_is_refused_and_an_export_says_where_it_is(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    output = output_of(capsys, ["backup", "--out", str(data.parent / "none" / "b.zip"), "--data", str(data)], 1)
    assert "There is no folder" in output
    out = data.parent / "r.csv"
    output = output_of(capsys, ["export", "S-1", "--out", str(out), "--data", str(data)])
    assert output == f"The result of shipment S-1 is in {out}\n"


def test_check_names_all_that_it_looked_at(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = json.loads(output_of(capsys, ["check", "--data", str(data), "--json"]))
    assert (plain["data"], plain["whole"], plain["damages"], plain["photos"]) == (str(data), True, [], 0)
    assert plain["rows"]["shipments"] == 1


# --- serving -------------------------------------------------------------------------------------------------------


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """Stands for the server: notes how it was asked for, says where it is, and is stopped by Ctrl+C."""
    asked: list[dict[str, object]] = []

    def stand_in(ctx: service.Context, *, ready: object, **options: object) -> None:
        asked.append(options)
        ready(Where("http://127.0.0.1:8417"))  # type: ignore[operator]
        raise KeyboardInterrupt

    monkeypatch.setattr("receiving.commands.serve.serve", stand_in)
    return asked


def test_the_page_is_served_as_it_was_asked_for_until_ctrl_c(
    tmp_path: Path, served: list[dict[str, object]], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    logged: list[str] = []
    monkeypatch.setattr("receiving.commands.serve.log_requests", logged.append)
    words = "--host 0.0.0.0 --port 9000 --allow-host a.example --proxy 192.0.2.7 --proxy-user-header X-User --log l"
    output = output_of(capsys, ["serve", *words.split(), "--data", str(tmp_path / "new")])
    assert served == [
        {
            "host": "0.0.0.0",
            "port": 9000,
            "allowed_hosts": ["a.example"],
            "proxy": "192.0.2.7",
            "proxy_user_header": "X-User",
            "tls": False,
            "company": None,
        }
    ]
    assert output == "\nThe page is at http://127.0.0.1:8417 (stop with Ctrl+C).\n\nStopped.\n"
    assert logged == ["l"]
    assert (tmp_path / "new" / "receiving.sqlite").exists(), "a new data folder is made"
    output_of(capsys, ["serve", "--data", str(tmp_path / "new")])
    assert logged == ["l"], "nothing is logged unless asked for"


def test_with_a_certificate_of_ones_own_a_phone_is_told_where_to_get_it(capsys: pytest.CaptureFixture[str]) -> None:
    fingerprint = ":".join(f"{n:02X}" for n in range(20))
    serve._say_where(Where("https://a", "http://a/ca", fingerprint))
    output = capsys.readouterr().out
    assert "A phone opens this first, once, and installs the certificate: http://a/ca\n" in output
    assert output.endswith("  00 01 02 03 04 05 06 07\n  08 09 0A 0B 0C 0D 0E 0F\n  10 11 12 13\n")


# --- doctor, test, and how commands end ----------------------------------------------------------------------------


def findings(capsys: pytest.CaptureFixture[str], data: Path, status: int) -> dict[str, dict[str, object]]:
    assert run(["doctor", "--data", str(data), "--json"]) == status
    return {each["what"]: each for each in json.loads(capsys.readouterr().out)}


def test_doctor_names_a_library_that_is_missing_and_how_to_get_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(doctor, "_NEEDED", {"no-such-library": "no_such_library", "json-of-python": "json"})
    monkeypatch.setattr(doctor, "_OPTIONAL", {"nor-this": ("runes", "pip install nor-this"), "flask": ("x", "y")})
    found = findings(capsys, tmp_path, 1)
    assert found["no-such-library"]["ok"] is False
    assert found["no-such-library"]["next_step"] == "receiving demo --no-serve sets up what is missing."
    assert (found["json-of-python"]["ok"], found["json-of-python"]["words"]) == (True, "installed, version unknown")
    assert (found["nor-this"]["ok"], found["nor-this"]["words"]) == (None, "not installed; it reads runes.")
    assert found["nor-this"]["next_step"] == "To add it: pip install nor-this"
    assert found["flask"]["ok"] is True
    monkeypatch.setattr(doctor, "is_checkout", lambda: False)
    assert findings(capsys, tmp_path, 1)["no-such-library"]["next_step"] == "Install the package again with pip."
    assert run(["doctor", "--data", str(tmp_path)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert "MISSING   no-such-library: cannot be imported (No module named 'no_such_library')." in lines[1]
    assert lines[2] == "ok        json-of-python: installed, version unknown"
    assert any(line.startswith("optional  nor-this: not installed") for line in lines)


@pytest.mark.parametrize(("version", "ok"), [((3, 37, 0), True), ((3, 36, 9), False)])
def test_doctor_wants_a_database_with_strict_tables(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, version: object, ok: bool
) -> None:
    monkeypatch.setattr(doctor.sqlite3, "sqlite_version_info", version)
    found = findings(capsys, tmp_path, 0 if ok else 1)["SQLite"]
    assert (found["ok"], found["next_step"]) == (ok, "" if ok else "Use a newer Python.")


@pytest.mark.parametrize("there", [True, False])
def test_doctor_says_whether_zbar_is_there_and_does_not_need_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, there: bool
) -> None:
    monkeypatch.setattr("receiving.reading.decoders.zbar_available", lambda: there)
    monkeypatch.setattr("receiving.reading.zbar_available", lambda: there, raising=False)
    found = findings(capsys, tmp_path, 0)["ZBar (libzbar0, pyzbar)"]
    assert found["ok"] is (True if there else None)
    assert ("apt install libzbar0" in str(found["next_step"])) == (not there)


def test_doctor_tells_a_folder_without_data_from_one_with_data(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    none = data.parent / "none" / "deeper"
    hint = f"{none} can be written to, and holds no data yet"
    assert findings(capsys, none, 0)["data folder"]["words"] == hint
    assert not none.exists()
    assert findings(capsys, data, 0)["data folder"]["words"].endswith("and its database is undamaged")


def test_the_tests_are_run_with_the_projects_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[list[str]] = []

    def stand_in(words: list[str]) -> int:
        asked.append(words)
        return pytest.ExitCode.TESTS_FAILED if "red" in words else pytest.ExitCode.OK

    monkeypatch.setattr(pytest, "main", stand_in)
    monkeypatch.setattr(test, "_cores", lambda: 20)
    assert run(["test", "-q", "green"]) == 0
    assert run(["test", "red"]) == 1
    project = str(test.PROJECT)
    settings = ["--rootdir", project, "-c", f"{project}/pyproject.toml", "-n", "8", "--dist", "worksteal"]
    assert asked == [[*settings, "-q", "green"], [*settings, "red"]]


def test_installed_without_its_source_there_are_no_tests(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(test, "is_checkout", lambda: False)
    assert run(["test"]) == 1
    assert "the tests are part of the source" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("end", "expected"),
    [
        (NoData("There is none.", next_step="Look.", where="/d"), "receiving overview: /d: There is none. Look.\n"),
        (KeyboardInterrupt(), "Stopped.\n"),
    ],
)
def test_a_command_that_cannot_go_on_ends_with_1_and_says_why(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], end: BaseException, expected: str
) -> None:
    def stop(options: object) -> int:
        raise end

    monkeypatch.setattr("receiving.commands.dispatch.run_overview", stop)
    assert run(["overview"]) == 1
    assert capsys.readouterr().err == expected


def test_a_reader_of_the_output_that_has_gone_ends_it_in_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(options: object) -> int:
        raise BrokenPipeError

    closed = io.StringIO()
    monkeypatch.setattr("receiving.commands.dispatch.run_overview", stop)
    monkeypatch.setattr(cli.sys, "stderr", closed)
    assert run(["overview"]) == 1
    assert closed.closed


# --- files ---------------------------------------------------------------------------------------------------------


def test_what_is_wrong_with_a_path_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "There is no file" in output_of(capsys, ["verify", str(tmp_path / "none")], 1)
    assert "is a folder. Name a file in it." in output_of(capsys, ["verify", str(tmp_path)], 1)
    output = output_of(capsys, ["read", str(tmp_path)], 1)
    assert f"The folder {tmp_path} holds no photo or video. Those end in .avi, .bmp, .gif, .heic" in output


def test_photos_of_folders_are_found_by_their_endings_each_once(tmp_path: Path) -> None:
    for name in ("b.JPG", "a.png", "notes.txt", "sub/c.mov", "sub/d.heic"):
        path = tmp_path / "photos" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")
    (tmp_path / "photos" / "folder.jpg").mkdir()
    folder, single = tmp_path / "photos", tmp_path / "photos" / "a.png"
    found = files.photo_paths([single, folder, folder])
    assert [path.name for path in found] == ["a.png", "b.JPG", "c.mov", "d.heic"]


def test_the_kinds_of_photos_and_videos_that_a_folder_is_searched_for() -> None:
    photos = {".jpg", ".jpeg", ".png", ".heic", ".heif", ".webp", ".tif", ".tiff", ".bmp", ".gif"}
    assert photos == files.PHOTO_SUFFIXES
    assert files.VIDEO_SUFFIXES ^ {".mp4", ".mov", ".m4v", ".avi"} == set()


# --- imports -------------------------------------------------------------------------------------------------------

LAYOUT = (
    '[store]\nid="0417"\nwalk_m=60\n[cart]\nmax_load_kg=110\ndeck_length_cm=120\ndeck_width_cm=60\nstack_height_cm=100\n'
    '[[bay]]\nid="B1"\nsection="Harbor"\ncolumns=[1]\nwidth_cm=122\nstaging_length_cm=122\nstaging_depth_cm=60\norder=1\n'
)
KIT = "item,section,column,row\nA,Harbor,1,2\n"
PATTERNS = "[[pattern]]\nname='a'\nregex='BOX (?P<carton>\\d+)'\n"


@pytest.mark.parametrize("preview", [True, False])
@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [
        ("layout.toml", LAYOUT, {"file": "layout.toml", "what": "layout", "store": "0417", "bays": 1}),
        ("kit.csv", KIT, {"file": "kit.csv", "what": "kit", "places": 1}),
        ("patterns.toml", PATTERNS, {"file": "patterns.toml", "what": "label patterns", "patterns": 1}),
    ],
)
def test_master_data_are_stored_unless_it_is_a_preview(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, text: str, expected: dict[str, object], preview: bool
) -> None:
    path, at = tmp_path / name, ["--data", str(tmp_path / "data")]
    path.write_text(text)
    words = ["import", str(path), *(["--preview"] if preview else []), *at]
    assert json.loads(output_of(capsys, [*words, "--json"])) == expected
    in_words = {"what": "kind"}
    assert output_of(capsys, words) == ", ".join(f"{in_words.get(key, key)} {expected[key]}" for key in expected) + "\n"
    with service.Context.at(tmp_path / "data") as ctx:
        kept = (
            service.get_value(ctx, service.name_layout("0417")),
            service.get_value(ctx, service.KIT),
            not service.get_text(ctx, service.PATTERNS).shipped,
        )
    assert [bool(each) for each in kept].count(True) == (0 if preview else 1)


def test_a_preview_of_a_manifest_says_what_would_change_and_stores_nothing(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changed = data.parent / "new.csv"
    changed.write_text(MANIFEST.replace("Harbor,1,1", "Harbor,2,1"))
    words = ["import", str(changed), "--data", str(data)]
    before = json.loads(output_of(capsys, [*words, "--preview", "--json"]))
    assert (before["shipment"], before["store"], before["status"], before["cartons"]) == ("S-1", "0417", "changed", 2)
    output = output_of(capsys, words)
    first, *changes = output.splitlines()
    assert first == "shipment S-1, store 0417, status changed, revision 2"
    assert changes == [f"  {line}" for line in before["changes"]] and changes
    assert json.loads(output_of(capsys, [*words, "--json"]))["status"] == "unchanged"


def test_a_file_of_another_kind_is_not_imported_and_warnings_go_to_standard_error(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (data.parent / "p.pdf").write_bytes(b"%PDF-1.4")
    output = output_of(capsys, ["import", str(data.parent / "p.pdf"), "--data", str(data)], 1)
    assert "p.pdf is a PDF, not a file that can be imported." in output
    head, *rows = MANIFEST.replace("S-1", "S-2").splitlines()
    (data.parent / "w.csv").write_text("\n".join([f"{head},colour", *(f"{row},red" for row in rows)]))
    run(["import", str(data.parent / "w.csv"), "--data", str(data)])
    seen = capsys.readouterr()
    assert seen.err.startswith("w.csv: ") and "colour" in seen.err


def test_on_a_terminal_a_long_file_says_how_far_it_is(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from receiving.expected import Progress

    path = data.parent / "manifest.csv"
    assert importing._progress(path) is None, "a pipe gets nothing"
    monkeypatch.setattr(importing.sys.stderr, "isatty", lambda: True, raising=False)
    clock = iter((0.0, 0.5, 1.0, 1.0, 1.5))
    monkeypatch.setattr(importing.time, "monotonic", lambda: next(clock))
    say = importing._progress(path)
    assert say is not None
    half = path.stat().st_size / 2
    for _ in range(3):
        say(Progress(half, 1, 2))  # type: ignore[arg-type]
    assert capsys.readouterr().err == "manifest.csv: 50%, shipments: 1, cartons: 2\n", "once a second"


# --- swaps between stores ------------------------------------------------------------------------------------------


@pytest.fixture
def spare(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Store 0100 has one tray too many that the visit to store 0200 lacks, too late to order."""
    visit = (date.today() + timedelta(days=6)).isoformat()
    rows = [
        f"{shipment},{store},{carton},{sscc(first + n)},tray,Elm,{n},1,T-{n},1,6,{visit}"
        for shipment, store, first in (("S-A", "0100", 10), ("S-B", "0200", 20))
        for n, carton in enumerate(("01", "02"), 1)
    ]
    head = "shipment,store,carton,sscc,kind,section,column,row,item,qty,weight_kg,dispatch_date"
    (tmp_path / "two.csv").write_text("\n".join([head, *rows]))
    (tmp_path / "lanes.csv").write_text("from,to,cost,days\n0100,0200,0.1,1\n")
    to = ["--data", str(tmp_path / "swap-data")]
    assert run(["import", str(tmp_path / "two.csv"), *to]) == 0
    for shipment, serials in (("S-A", (11, 12, 22)), ("S-B", (21,))):
        assert run(["add", shipment, "--codes", *(f"]C100{sscc(n)}" for n in serials), "--by", "Ada", *to]) in (0, 3)
    capsys.readouterr()
    return to


def test_a_swap_is_listed_taken_once_and_noted(
    spare: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (line,) = output_of(capsys, ["swaps", "--lanes", str(tmp_path / "lanes.csv"), "--json", *spare]).splitlines()
    found = json.loads(line)
    names = ("shipment", "store", "carton", "from_shipment", "from_store", "cost", "taken")
    assert [found[name] for name in names] == ["S-B", "0200", "02", "S-A", "0100", 0.1, False]
    output = output_of(capsys, ["swaps", *spare])
    assert "S-B, carton 02 for store 0200" in output and "from store 0100 (S-A)" in output
    assert "--take SHIPMENT CARTON" in output
    taken = output_of(capsys, ["swaps", "--take", "S-B", "02", "--by", "Ada", *spare])
    assert "1 carton is noted as on its way" in taken
    with service.Context.at(Path(spare[1])) as ctx:
        note = service.get_shipment(ctx, "S-B").notes[-1]
    assert (note.by, note.spare_of) == ("Ada", "S-A")  # type: ignore[attr-defined]
    assert "No extra carton" in output_of(capsys, ["swaps", *spare])
    again = output_of(capsys, ["swaps", "--take", "S-B", "02", "--by", "Bo", *spare], status=1)
    assert "nothing was noted" in again and "without --take" in again


def test_swaps_are_taken_all_at_once_and_by_somebody(spare: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert "Nobody is named" in output_of(capsys, ["swaps", "--take-all", *spare], status=1)
    assert "1 carton is noted" in output_of(capsys, ["swaps", "--take-all", "--by", "Ada", *spare])


def test_a_table_of_lanes_that_is_not_there_is_named(spare: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert "There is no file nowhere.csv" in output_of(capsys, ["swaps", "--lanes", "nowhere.csv", *spare], status=1)
