"""A served service on a full disk: each deed is refused in words and nothing is half stored, reading goes on."""

import fcntl
import json
import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

TRIAL = Path(__file__).with_name("on_a_full_disk.py")
DEEDS = ("scan", "photo", "note", "import", "layout", "confirm")
CHANGING_COMMANDS = ("backup", "backup_folder", "add", "load", "messages")
READING_COMMANDS = ("rescue", "export", "overview", "check")


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    if not _can_mount():
        pytest.skip("no small disk can be made here: util-linux and user namespaces are needed")
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent  # of all workers: one of them tries it, which takes half a minute
    with (folder / "full_disk.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        kept = folder / "full_disk.json"
        if not kept.exists():
            kept.write_text(_tried(tmp_path_factory.mktemp("disk"), tmp_path_factory.mktemp("beside")))
        results: dict[str, Any] = json.loads(kept.read_text())
        return results


def _tried(disk: Path, beside: Path) -> str:
    """What each deed answered on a small disk that is full, and again once there was room; as JSON."""
    mount = 'mount -t tmpfs -o size=12m tmpfs "$1" && shift && exec "$@"'
    trial = ["unshare", "-rm", "sh", "-c", mount, "sh", str(disk), sys.executable, str(TRIAL), str(disk), str(beside)]
    done = subprocess.run(trial, capture_output=True, text=True, check=False, timeout=600)
    assert done.returncode == 0, done.stderr
    return done.stdout


@cache
def _can_mount() -> bool:
    mount = ["unshare", "-rm", "sh", "-c", "mount -t tmpfs tmpfs /mnt"]
    return bool(shutil.which("unshare")) and not subprocess.run(mount, check=False, capture_output=True).returncode


@pytest.mark.parametrize("deed", DEEDS)
def test_a_deed_is_refused_with_what_is_wrong_and_what_to_do(found: dict[str, Any], deed: str) -> None:
    status, text = found["full"][deed]
    full = "No space left on device" if deed == "photo" else "database or disk is full"
    assert (status, full in text, "ree some space" in text) == (503, True, True), text
    assert "/data" not in text, "a page does not say where the data is"
    assert found["again"][deed][0] == 200, found["again"][deed]


def test_a_phone_keeps_what_was_not_taken_and_it_is_taken_once_there_is_room(found: dict[str, Any]) -> None:
    (answer,) = json.loads(found["full"]["outbox"][1])["answers"]
    assert (answer["state"], answer["why"]) == ("kept", "trouble")
    assert (
        '"state":"done"' in found["again"]["outbox"][1].replace(" ", "")
        or '"carton":"07"' in found["again"]["outbox"][1]
    )


def test_nothing_is_half_stored_and_every_page_is_read_as_before(found: dict[str, Any]) -> None:
    assert found["stored"] == [0, 0, 0, 0]
    assert found["new_files"] == []
    assert set(found["first"].values()) == {200}
    assert found["pages"] == []
    assert found["whole"]


def test_that_the_service_is_not_ready_is_said_to_whoever_watches_it(found: dict[str, Any]) -> None:
    assert (found["full"]["ready"][0], found["again"]["ready"][0]) == (503, 200)


@pytest.mark.parametrize("command", CHANGING_COMMANDS)
def test_a_command_that_changes_something_fails_in_words(found: dict[str, Any], command: str) -> None:
    status, text = found["full"][command]
    assert (status, "full" in text or "No space" in text, "Traceback" in text) == (1, True, False), text
    assert found["again"][command][0] == 0, found["again"][command]


@pytest.mark.parametrize("command", READING_COMMANDS)
def test_a_command_that_reads_goes_on_and_a_backup_onto_another_disk(found: dict[str, Any], command: str) -> None:
    assert found["full"][command][0] == 0, found["full"][command]


def test_a_doctor_says_that_the_disk_is_full(found: dict[str, Any]) -> None:
    status, text = found["full"]["doctor"]
    assert status == 1
    assert "The disk is full. Free some space" in text or "No space left on device" in text


def test_an_export_says_that_it_was_not_written_down(found: dict[str, Any]) -> None:
    assert "not written down" in found["full"]["export"][1]
    assert "not written down" not in found["again"]["export"][1]


def test_each_message_is_in_its_folder_whole_once_there_is_room(found: dict[str, Any]) -> None:
    assert len(found["messages"]) == 8
