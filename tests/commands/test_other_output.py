"""What commands say where something is in the way, is left out, or there is nothing to say."""

import io
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from receiving import service
from receiving.cli import run
from receiving.commands import data_folder, dispatch, doctor, files, imports, receipts, reconcile, serve, terminal, test
from receiving.commands.shipment import _note_lines
from receiving.dispatch import CartonOutlook, CartonStatus, MissingCarton, Urgency
from receiving.errors import BadRequest, ReceivingError
from receiving.model import CartonKind, PhotoReading, Symbol, UnreadRegion
from receiving.service import Damage, DamageKind
from receiving.store import CheckReport
from tests.commands.test_commands import MANIFEST, label_photo
from tests.commands.test_office_commands import output_of, typed

QUAD = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))


@pytest.fixture
def data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    assert run(["import", str(tmp_path / "manifest.csv"), "--data", str(tmp_path / "data")]) == 0
    capsys.readouterr()
    return tmp_path / "data"


# --- files that are in the way or not what they should be ----------------------------------------------------------


def test_a_file_that_the_system_does_not_open_is_named_with_the_reason(tmp_path: Path) -> None:
    name = tmp_path / ("n" * 300)  # longer than file systems take
    with pytest.raises(BadRequest, match="cannot be read: File name too long") as raised:
        files.file_bytes(name)
    assert str(raised.value).startswith(str(name))


def test_a_template_cannot_be_written_where_a_file_is_in_the_way(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "taken").write_text("mine")
    output = output_of(capsys, ["template", "--out", str(tmp_path / "taken" / "new")], 1)
    assert f"The folder {tmp_path / 'taken' / 'new'} cannot be used: Not a directory." in output
    assert imports.FILES == ("manifest.csv", "layout.toml", "patterns.toml")


def test_an_export_is_refused_before_it_is_worked_out_where_it_cannot_be_written(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(service.Context, "at", lambda *_, **__: pytest.fail("the data were opened"))
    (data.parent / "folder.csv").mkdir()
    assert "is a folder" in output_of(capsys, ["export", "S-1", "--out", str(data.parent / "folder.csv")], 1)


def test_doctor_names_a_data_folder_that_cannot_be_written(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def refuse(**_: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(doctor.tempfile, "TemporaryFile", refuse)
    found = doctor._data_folder(tmp_path / "data")
    assert (found.ok, str(found.words)) == (False, f"{tmp_path / 'data'} cannot be written to (Read-only file system).")
    assert str(found.next_step) == "Choose another: --data FOLDER."


def test_doctor_points_from_the_first_damage_to_all_of_them(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    damages = (Damage(DamageKind.ROWS_MISSING, "reads"), Damage(DamageKind.PHOTO_MISSING, "photos", "p1"))
    asked: list[bool] = []

    def checked(folder: Path, *, hash_photos: bool) -> CheckReport:
        asked.append(hash_photos)
        return CheckReport({}, 0, damages)

    monkeypatch.setattr(service, "check", checked)
    found = doctor._database(tmp_path)
    assert (found.ok, str(found.words)) == (False, f"{tmp_path} is damaged: reads: rows are missing.")
    assert str(found.next_step) == f"See all of it: receiving check --data {tmp_path}"
    assert asked == [False], "doctor is quick: photos are hashed by check"


def test_check_says_how_many_damages_it_does_not_list(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    damage = Damage(DamageKind.ROW_ALTERED, "carton_codes", "7", "S-1", "another digest")
    report = CheckReport({"raw_reads": 3, "photos": 2}, 2, (damage,), more=4)
    monkeypatch.setattr(service, "check", lambda _: report)
    assert run(["check", "--data", str(tmp_path)]) == 1
    assert capsys.readouterr().out == (
        "carton codes 7 (shipment S-1): altered after it was stored: another digest\n"
        "… and 4 more\n"
        f"{tmp_path}: looked at 3 raw reads, 2 photos.\n"
        "5 damaged places. Keep a copy of this folder as it is, then restore the last backup:\n"
        "receiving restore BACKUP --data NEW_FOLDER\n"
    )


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (Damage(DamageKind.DATABASE, ""), "the database itself is damaged"),
        (
            Damage(DamageKind.PHOTO_MISSING, "photos", "p1", "S-1"),
            "photos p1 (shipment S-1): the photo's file is",
        ),
        (
            Damage(DamageKind.ROWS_DISAGREE, "shipments", "S-1", "S-1"),
            "shipments S-1: does not agree with the data that",
        ),
    ],
)
def test_a_damage_names_what_is_damaged_and_no_shipment_twice(damage: Damage, words: str) -> None:
    assert str(data_folder.in_words(damage)).startswith(words)


# --- notes, photos and videos --------------------------------------------------------------------------------------


def test_lines_of_notes_that_are_none_are_all_named_and_empty_ones_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "notes.jsonl"
    path.write_text('\n{"kind": "carton_seen", "carton": "01"}\n\n')
    assert list(_note_lines(path)) == [(2, {"kind": "carton_seen", "carton": "01"})]
    path.write_text("[" * 100_000 + "\n\n[1]\n" + '{"kind": 7}\n' + '{"carton": "01"}\n{"kind": "x"}\nnot json\n')
    with pytest.raises(ReceivingError) as raised:
        _note_lines(path)
    assert [fault.line for fault in raised.value.faults] == [1, 3, 4, 5, 7]  # type: ignore[attr-defined]
    path.write_text("\n")
    with pytest.raises(ReceivingError, match="there is no note in it"):
        _note_lines(path)


def test_a_photo_that_is_kept_and_cannot_be_read_is_named_with_status_1(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = label_photo(data.parent / "half.png", "395200000000000012")
    photo.write_bytes(photo.read_bytes()[:-200])
    words = ["add", "S-1", "--photos", str(photo), "--data", str(data)]
    assert run(words) == 1
    assert capsys.readouterr().err.startswith(f"{photo}: ")


class Readers:
    """Stands for the processes that read: of a video it gives two frames with one label, of a photo another label."""

    def read(self, name: str, data: bytes, expected: object) -> PhotoReading:
        return PhotoReading(900, 300, (Symbol("P", "]C1", QUAD, "zxing"),), ms=5.0)

    def read_video(self, name: str, data: bytes, expected: object) -> SimpleNamespace:
        frames = (PhotoReading(640, 480, (), ms=3.0), PhotoReading(1, 2, (), ms=4.0))
        label = SimpleNamespace(symbol=Symbol("V", "]C1", QUAD, "zxing"))
        return SimpleNamespace(frames=frames, labels=(label,))


def test_a_video_is_one_reading_with_each_label_once(tmp_path: Path) -> None:
    video = b"RIFF\0\0\0\0AVI LIST"
    found = files._read(Readers(), tmp_path / "a.avi", video, ())  # type: ignore[arg-type]
    assert (found.width_px, found.height_px, found.ms) == (640, 480, 7.0)
    assert [symbol.raw for symbol in found.symbols] == ["V"]
    assert [s.raw for s in files._read(Readers(), tmp_path / "a.png", b"\x89PNG", ()).symbols] == ["P"]  # type: ignore[arg-type]


@pytest.mark.parametrize(("photos", "workers"), [(1, 1), (2, 2), (5, 2), (0, 1)])
def test_as_many_processes_read_as_there_are_photos_up_to_two(
    photos: int, workers: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [label_photo(tmp_path / f"{n}.png", "395200000000000012") for n in range(photos)]
    asked: list[tuple[int, float]] = []
    real = files._readers

    def noted(count: int, limit_s: float) -> object:
        asked.append((count, limit_s))
        return real(count, limit_s)

    monkeypatch.setattr(files, "_readers", noted)
    monkeypatch.setattr(files, "_read", lambda *_: PhotoReading(1, 1, ()))
    assert [path for path, _, _ in files.read_photos(tuple(paths), (), limit_s=7.0)] == paths
    assert asked == [(workers, 7.0)]


def test_what_photos_give_reconciles_with_their_place_and_what_was_not_read(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    seen = reconcile._Seen()
    reading = PhotoReading(900, 300, (Symbol("00395200000000000012", "]C1", QUAD, "zxing"),), (UnreadRegion(QUAD),))
    seen._keep(path, b"bytes of the photo", reading)
    (read,), (unread,) = seen.reads, seen.unread
    assert (read.raw, read.place.value, read.photo) == ("00395200000000000012", "other", unread.photo)
    assert seen.names == {unread.photo: str(path)} and unread.quad_px == QUAD


# --- what there is to say ------------------------------------------------------------------------------------------


def test_overview_tells_an_empty_folder_from_days_without_a_visit(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ["overview", "--data", str(data)]
    with service.Context.at(data) as ctx:
        (row,) = service.get_overview(ctx)
    monkeypatch.setattr(service, "get_overview", lambda _: [])
    assert output_of(capsys, words) == "No shipment is loaded yet.\n"
    later = replace(row, days_to_visit=9, urgency=Urgency.FOLLOWED)
    monkeypatch.setattr(service, "get_overview", lambda _: [later])
    assert output_of(capsys, [*words, "--days", "8"]) == "No visit in these days, and nothing urgent.\n"
    assert output_of(capsys, [*words, "--days", "8", "--json"]) == ""
    assert output_of(capsys, [*words, "--days", "9"]).startswith("store 0417, S-1: 0 of 2 here. ")


def test_overview_says_of_each_missing_carton_what_waits_for_it(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with service.Context.at(data) as ctx:
        (row,) = service.get_overview(ctx)
    missing = MissingCarton("02", kind=CartonKind.TRAY, positions=3)
    outlook = CartonOutlook(missing, CartonStatus.OPEN, None, covered=False, resolved=True)
    decided = replace(row, days_to_visit=9, urgency=Urgency.SHORT, outlooks=(outlook,))
    assert dispatch._shipment_as_json(decided) == {
        "shipment": "S-1",
        "store": "0417",
        "visit": None,
        "days_to_visit": 9,
        "state": "short",
        "expected": 2,
        "here": 0,
        "to_check": 0,
        "missing": [
            {
                "carton": "02",
                "done": str(service.missing_words(missing)),
                "settled": True,
                "status": "open",
                "positions": 3,
                "weight": missing.weight.value,
            }
        ],
        "held": False,
        "advice": str(service.advice_words(decided)),
    }


def test_what_no_carton_needs_of_a_ship_notice_goes_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    imports._warn(Path("asn.x12"), ("The count is wrong.",), ("REF*ZZ twice",))
    captured = capsys.readouterr()
    assert (captured.out, captured.err) == ("", "asn.x12: The count is wrong.\nasn.x12: left out: REF*ZZ twice\n")


def test_a_manifest_with_a_warning_is_reconciled_and_the_warning_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    head, *rows = MANIFEST.splitlines()
    (tmp_path / "m.csv").write_text("\n".join([f"{head},colour", *(f"{row},red" for row in rows)]) + "\n")
    assert run(["reconcile", "--manifest", str(tmp_path / "m.csv")]) == 3
    captured = capsys.readouterr()
    assert captured.err.startswith("m.csv: ") and "colour" in captured.err
    assert captured.out.startswith("Shipment S-1 to store 0417\n0 of 2 cartons are here")


def test_a_record_of_a_folder_from_which_a_name_was_taken_says_when(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    verdict = service.Verdict("S-1", 2, (), True, "0a1b", erased_on="2026-03-09")
    receipts._print_verdict(verdict, key_given=False)
    assert capsys.readouterr().out == (
        "Receipt 2 of shipment S-1 is as it was confirmed, compared with this data folder (key 0a1b).\n"
        "A name was taken out of this data folder on Mon 9 Mar 2026; the rest is compared.\n"
    )


def test_what_the_companys_sign_on_calls_a_person_is_set_and_taken_away(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typed(monkeypatch, "four plain words here\n")
    output_of(capsys, ["user", "add", "Ada Lund", "--role", "coordinator", "--data", str(data)])
    for subject in ("ada@regalhaus.example", ""):
        words = ["user", "sign-on", "ada lund", *filter(None, [subject]), "--data", str(data)]
        assert output_of(capsys, words) == "Ada Lund: done.\n"
        with service.Context.at(data) as ctx:
            assert [person.subject for person in service.list_people(ctx)] == [subject]


def test_messages_are_written_while_the_page_is_served_where_a_folder_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    kept: list[service.MessageFolder] = []
    monkeypatch.setattr("receiving.commands.serve.serve", stop)
    monkeypatch.setattr(service, "keep_writing", lambda ctx, folder: kept.append(folder))
    words = ["serve", "--messages-to", str(tmp_path), "--sender-id", "US", "--data", str(tmp_path / "new")]
    assert output_of(capsys, words) == "\nStopped.\n"
    assert kept == [service.MessageFolder(tmp_path, ("x12", "edi"), "US", "", "")]


def test_the_companys_sign_on_is_read_from_its_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(service, "read_company_sign_on", lambda name, data: (name, data))
    (tmp_path / "company.toml").write_bytes(b"text")
    assert serve._company(tmp_path / "company.toml") == ("company.toml", b"text")
    assert serve._company(None) is None


def test_progress_is_said_on_a_terminal_for_two_or_more(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = io.StringIO()
    seen_at_once: list[str] = []
    monkeypatch.setattr(screen, "flush", lambda: seen_at_once.append(screen.getvalue()))
    monkeypatch.setattr(sys, "stderr", screen)
    terminal.show_photo_progress(1, 2)
    assert screen.getvalue() == "", "a pipe gets nothing"
    monkeypatch.setattr(screen, "isatty", lambda: True)
    terminal.show_photo_progress(1, 1)
    assert screen.getvalue() == ""
    terminal.show_photo_progress(1, 2)
    assert screen.getvalue() == "\r\x1b[Kphoto 1 of 2" == seen_at_once[-1], "a line without an end is not held back"
    terminal.clear_progress()
    terminal.clear_progress()
    assert screen.getvalue() == "\r\x1b[Kphoto 1 of 2\r\x1b[K" == seen_at_once[-1], "taken away once"


def test_several_photos_are_counted_on_a_terminal_while_they_are_read(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    photos = [label_photo(data.parent / f"{n}.png", f"39520000000000001{n}") for n in (2, 3)]
    monkeypatch.setattr(service, "finish_photos", lambda _: None)
    assert run(["add", "S-1", "--photos", *map(str, photos), "--data", str(data)]) == 0
    assert screen.getvalue().startswith("\r\x1b[Kphoto 0 of 2\r\x1b[K")


@pytest.mark.parametrize(
    ("cores", "given", "options"),
    [
        (1, [], []),
        (2, [], ["-n", "2", "--dist", "worksteal"]),
        (8, ["-q"], ["-n", "8", "--dist", "worksteal"]),
        (9, [], ["-n", "8", "--dist", "worksteal"]),
        (4, ["-n4"], []),
        (4, ["--numprocesses=1"], []),
        (4, ["--pdb"], []),
        (4, ["--co"], []),
        (4, ["--collect-only", "-q"], []),
        (2, ["--color=no", "--collect-in-virtualenv"], ["-n", "2", "--dist", "worksteal"]),  # no others that begin so
    ],
)
def test_tests_run_on_all_cores_up_to_eight_unless_the_person_chose(
    cores: int, given: list[str], options: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(test.os, "sched_getaffinity", lambda _: set(range(cores)), raising=False)
    assert test.side_by_side(given) == options


def test_where_the_system_does_not_say_which_cores_may_be_used_all_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(test.os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(test.os, "cpu_count", lambda: 3)
    assert test._cores() == 3
    monkeypatch.setattr(test.os, "cpu_count", lambda: None)
    assert test._cores() == 1
