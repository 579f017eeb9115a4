"""What a command does to a data folder stands in the audit log, by the user of the operating system who ran it."""

import os
import pwd
from pathlib import Path

import pytest

from receiving import cli, service
from receiving.model import AuditKind, AuditWanted, Deed, Role
from receiving.service.context import COMMAND_LINE, user_of_this_machine
from tests.planned_reader import PlannedReader

ROWS = "shipment,store,carton,kind,visit_date\nS-9001,0417,01,tray,2026-03-06\n"
WORDS = "four plain words here"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    with service.Context(tmp_path / "data", PlannedReader()) as ctx:
        service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    return tmp_path / "data"


def lines(data: Path) -> list[tuple[str, str, str, str, str]]:
    with service.Context(data, PlannedReader()) as ctx:
        kinds = (AuditKind.ACCESS, AuditKind.KEEPING)
        found = [each for kind in kinds for each in service.list_audit(ctx, AuditWanted(kind=kind))]
    found.sort(key=lambda e: e.seq)
    return [(e.action, e.name, e.role, e.about, e.detail or e.shipment) for e in found if e.role]


def test_each_command_that_changes_or_takes_data_names_who_ran_it(data: Path, tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text(ROWS)
    out = str(tmp_path / "result.csv")
    for words in (
        ["import", str(tmp_path / "m.csv")],
        ["user", "add", "Bo Reyes", "--role", "rep"],
        ["user", "close", "Bo Reyes"],
        ["keys", "--rotate"],
        ["export", "S-9001", "--out", out],
        ["void", "S-9001", "--by", "Ada Lund"],
        ["prune", "--older-than", "400"],
        ["erase-name", "Bo Reyes"],
    ):
        assert cli.run([*words, "--data", str(data)]) == 0, words
    me = pwd.getpwuid(os.getuid()).pw_name
    done = lines(data)
    assert {line[1:3] for line in done} == {(me, COMMAND_LINE)}
    assert [line[:1] + line[3:] for line in done if line[0] not in (Deed.KEY_ROTATED, Deed.NAME_ERASED)] == [
        (Deed.COMMAND_RUN, "m.csv", "import"),
        (Deed.ACCOUNT_ADDED, erased(done), "rep"),
        (Deed.ACCOUNT_CLOSED, erased(done), ""),
        (Deed.COMMAND_RUN, "result.csv", "export"),
        (Deed.COMMAND_RUN, "", "void"),
        (Deed.PHOTOS_PRUNED, "", "photos=0 days=400"),
    ]
    assert Deed.KEY_ROTATED in {line[0] for line in done}


def erased(done: list[tuple[str, str, str, str, str]]) -> str:
    """What stands in place of the name: the deed of erasing says it."""
    return next(line[3] for line in done if line[0] == Deed.NAME_ERASED)


def test_a_dry_run_changes_nothing_and_leaves_no_line(data: Path) -> None:
    assert cli.run(["prune", "--older-than", "400", "--dry-run", "--data", str(data)]) == 0
    assert lines(data) == []


def test_a_folder_that_was_restored_says_from_what_and_by_whom(data: Path, tmp_path: Path) -> None:
    archive, new = tmp_path / "b.zip", tmp_path / "new"
    assert cli.run(["backup", "--out", str(archive), "--data", str(data)]) == 0
    assert cli.run(["restore", str(archive), "--data", str(new)]) == 0
    assert lines(new)[-1][::3] == (Deed.RESTORED, "b.zip")
    assert cli.run(["check", "--data", str(new)]) == 0


def test_the_user_is_whom_the_system_knows_and_not_whom_the_environment_names(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("LOGNAME", "USER", "LNAME", "USERNAME"):
        monkeypatch.setenv(name, "Somebody Else")
    assert user_of_this_machine().name == pwd.getpwuid(os.getuid()).pw_name
