"""Each step of the set-up by itself: what is asked of pip, apt and the system, and what is said of each failure."""

import errno
import fcntl
import importlib.util
import os
import subprocess
import sys
import threading
import time
import venv
from pathlib import Path
from types import SimpleNamespace

import pytest

from receiving import __main__ as start
from receiving import cli, setup
from tests.test_setup import MAKE_VENV, Checkout, left

RUN_MODULES, TEST_MODULES = setup._RUN_MODULES, setup._TEST_MODULES
PIP, ADD_ZBAR = setup._pip, setup._add_zbar


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Checkout:
    monkeypatch.setattr(setup, "_TEST_MODULES", ("csv",))
    return Checkout(tmp_path, monkeypatch)


class Programs:
    """Stands for ``subprocess.run``: notes the commands and answers with the status that a test planned."""

    def __init__(self, *statuses: int) -> None:
        self.statuses, self.commands = list(statuses), []
        self.environments: list[dict[str, str] | None] = []

    def run(self, command: list[str], **options: object) -> SimpleNamespace:
        self.commands.append(command)
        self.environments.append(options.get("env"))  # type: ignore[arg-type]
        assert options["check"] is False
        return SimpleNamespace(returncode=self.statuses.pop(0) if self.statuses else 0)


@pytest.fixture
def programs(monkeypatch: pytest.MonkeyPatch) -> Programs:
    made = Programs()
    monkeypatch.setattr(setup.subprocess, "run", made.run)
    return made


# --- pip -----------------------------------------------------------------------------------------------------------


def test_pip_is_asked_for_the_pins_with_their_hashes_by_the_environments_own_interpreter(
    programs: Programs, tmp_path: Path
) -> None:
    PIP(tmp_path, tmp_path / "requirements.txt")
    (command,) = programs.commands
    assert command[:4] == [str(tmp_path / "bin" / "python"), "-m", "pip", "install"]
    assert command[-3:] == ["--require-hashes", "--requirement", str(tmp_path / "requirements.txt")]
    assert {"--quiet", "--disable-pip-version-check"} <= set(command)


def test_pip_that_fails_is_said_with_what_to_check(programs: Programs, tmp_path: Path) -> None:
    programs.statuses = [1]
    with pytest.raises(setup.SetupFailed, match="Check the network and the room on the disk"):
        PIP(tmp_path, tmp_path / "requirements.txt")


# --- which libraries -----------------------------------------------------------------------------------------------


def test_the_tests_need_more_libraries_than_the_commands(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(setup, "_RUN_MODULES", ("json",))
    monkeypatch.setattr(setup, "_TEST_MODULES", ("no_such_library",))
    assert setup.libraries_present(for_tests=False)
    assert not setup.libraries_present(for_tests=True)
    monkeypatch.setattr(setup, "_RUN_MODULES", ("json", "no_such_library"))
    assert not setup.libraries_present(for_tests=False)


def test_an_installed_package_without_a_library_names_it(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(setup, "_RUN_MODULES", ("json", "no_such_library", "nor_this"))
    (checkout.folder / "requirements.txt").unlink()
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    output = capsys.readouterr().err
    assert (
        "receiving: these libraries are not installed: no_such_library, nor_this. Install the package again" in output
    )


@pytest.mark.parametrize("gone", ["requirements.txt", "requirements-test.txt", "tests"])
def test_a_checkout_has_both_pins_and_the_tests(checkout: Checkout, gone: str) -> None:
    assert setup.is_checkout()
    path = checkout.folder / gone
    path.rmdir() if path.is_dir() else path.unlink()
    assert not setup.is_checkout()


# --- going on inside -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("before", "after"), [("", "{project}"), ("/else", "{project}:/else")])
def test_the_same_command_goes_on_inside_with_the_project_to_be_found(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, before: str, after: str
) -> None:
    started: list[tuple[Path, list[str], dict[str, str]]] = []

    def execve(python: Path, command: list[str], environment: dict[str, str]) -> None:
        started.append((python, command, environment))
        raise SystemExit(7)  # a process that is replaced never comes back

    monkeypatch.setattr(setup.os, "execve", execve)
    monkeypatch.setenv("PYTHONPATH", before)
    with pytest.raises(SystemExit):
        setup.continue_in_environment(["read", "a b.jpg"], for_tests=False)
    ((python, command, environment),) = started
    assert python == setup.VENV / "bin" / "python"
    assert command == [str(python), "-m", "receiving", "read", "a b.jpg"]
    assert environment["RECEIVING_ENVIRONMENT_READY"] == "1"
    assert environment["PYTHONPATH"] == after.format(project=checkout.folder)
    assert environment["PATH"] == os.environ["PATH"]


def test_where_a_process_cannot_be_replaced_the_status_of_the_inner_one_is_given(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch
) -> None:
    checkout.prepare()
    programs = Programs(3)
    monkeypatch.setattr(setup.subprocess, "run", programs.run)
    monkeypatch.setattr(setup, "_environment", lambda *, for_tests: "python.exe")
    with monkeypatch.context() as patched:
        patched.setattr(setup.os, "name", "nt")
        status = setup.continue_in_environment(["overview"], for_tests=False)
    assert status == 3
    assert programs.commands == [["python.exe", "-m", "receiving", "overview"]]


# --- what is ready -------------------------------------------------------------------------------------------------


def test_an_environment_with_the_run_pins_is_not_ready_for_the_tests(checkout: Checkout) -> None:
    checkout.prepare()
    assert setup.ready()
    assert not setup.ready(for_tests=True)


def test_an_environment_that_lacks_a_library_is_not_ready(checkout: Checkout, monkeypatch: pytest.MonkeyPatch) -> None:
    checkout.prepare()
    monkeypatch.setattr(setup, "_RUN_MODULES", ("json", "no_such_library"))
    assert not setup.ready()


def pip_in(folder: Path) -> None:
    """Let ``python -m pip --version`` of this environment answer."""
    (package,) = folder.glob("lib/python*/site-packages")
    (package / "pip").mkdir()
    (package / "pip" / "__main__.py").write_text("print('pip 0')")


def test_changed_pins_are_installed_into_the_environment_that_is_there(
    checkout: Checkout, capsys: pytest.CaptureFixture[str]
) -> None:
    checkout.prepare()
    pip_in(setup.VENV)
    inside = (setup.VENV / "pyvenv.cfg").stat().st_ino
    setup.RUN_LOCK.write_text("other pins")
    assert not setup.ready()
    capsys.readouterr()
    checkout.prepare()
    assert (setup.ready(), checkout.installed) == (True, 2)
    assert (setup.VENV / "pyvenv.cfg").stat().st_ino == inside, "it is the same one"
    output = capsys.readouterr().err
    assert "Installing the pinned libraries of requirements.txt (once" in output
    assert "Making the environment" not in output


def test_an_environment_that_stays_broken_after_installing_is_made_anew(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    checkout.prepare()
    pip_in(setup.VENV)
    setup.RUN_LOCK.write_text("other pins")
    works = setup._imports_all
    monkeypatch.setattr(setup, "_imports_all", lambda at, **more: at != setup.VENV and works(at, **more))
    checkout.prepare()
    output = capsys.readouterr().err
    assert "The environment in .venv is damaged; it is set up again." in output
    assert "Making the environment in .venv again: the one there does not work." in output
    assert left(checkout) == [".venv"]


def test_a_first_set_up_says_what_it_does(checkout: Checkout, capsys: pytest.CaptureFixture[str]) -> None:
    setup.prepare(for_tests=True)
    output = capsys.readouterr().err
    assert "Making the environment in .venv.\n" in output
    assert "Installing the pinned libraries of requirements-test.txt" in output
    assert setup.pins_installed(setup.TEST_LOCK) and setup.pins_installed(setup.RUN_LOCK)


def test_bench_scripts_find_the_project_from_any_folder(checkout: Checkout, tmp_path: Path) -> None:
    python = checkout.prepare()
    (checkout.folder / "found_here.py").write_text("print('found')")
    output = subprocess.run([python, "-c", "import found_here"], cwd="/", capture_output=True, text=True, check=True)
    assert output.stdout == "found\n"


@pytest.mark.parametrize(("pins", "remembered"), [("requirements.txt", set()), ("requirements-test.txt", {"run"})])
def test_while_pins_are_installed_it_is_not_known_what_is_there(
    checkout: Checkout, pins: str, remembered: set[str]
) -> None:
    """Test pins are added to run pins that stay; where run pins change, nothing is known any more."""
    setup.prepare(for_tests=True)
    lock = checkout.folder / pins
    lock.write_text("changed")
    setup.forget_installed(lock)
    known = {name for name, each in (("run", setup.RUN_LOCK), ("test", setup.TEST_LOCK)) if setup.pins_installed(each)}
    assert known - {"test"} == remembered
    assert not setup.pins_installed(lock)


def test_a_disk_that_is_full_is_said_and_nothing_is_left(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(at: Path) -> None:
        at.mkdir()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(setup, "_make_venv", full)
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    output = capsys.readouterr().err
    assert "could not be made: No space left on device. It needs 750 MB of disk" in output
    assert left(checkout) == []


@pytest.mark.parametrize("kind", ["file", "folder", "environment", "half made", "empty", "link"])
def test_only_an_environment_is_replaced(checkout: Checkout, kind: str) -> None:
    elsewhere = checkout.folder / "elsewhere"
    if kind == "file":
        setup.VENV.write_text("mine")
    elif kind == "link":
        elsewhere.mkdir()
        (elsewhere / "thesis.txt").write_text("mine")
        setup.VENV.symlink_to(elsewhere)
    else:
        setup.VENV.mkdir()
        names = {"folder": ["lib", "thesis.txt"], "environment": ["pyvenv.cfg", "notes"], "half made": ["lib", "bin"]}
        for name in names.get(kind, []):
            (setup.VENV / name).mkdir() if name in ("lib", "bin") else (setup.VENV / name).write_text("")
    if kind in ("file", "folder"):
        with pytest.raises(setup.SetupFailed, match="is not a Python environment"):
            checkout.prepare()
        assert setup.VENV.exists()
    else:
        checkout.prepare()
        assert setup.ready()
    assert not elsewhere.exists() or (elsewhere / "thesis.txt").read_text() == "mine"


@pytest.mark.parametrize("part", ["bin", "include", "lib", "lib64", "share", "etc", "Include", "Lib", "Scripts"])
def test_each_part_of_an_environment_may_be_all_that_was_made_of_it(checkout: Checkout, part: str) -> None:
    (setup.VENV / part).mkdir(parents=True)
    setup._check_place()
    (setup.VENV / part).rename(setup.VENV / f"{part}s")
    with pytest.raises(setup.SetupFailed, match="is not a Python environment"):
        setup._check_place()


def test_an_environment_is_made_with_pip(checkout: Checkout, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[tuple[bool, Path]] = []
    monkeypatch.setattr(venv.EnvBuilder, "create", lambda self, at: made.append((self.with_pip, at)))
    MAKE_VENV(setup.ASIDE)
    assert made == [(True, setup.ASIDE)]


def test_of_what_is_tried_the_person_hears_python_only_where_that_is_the_answer(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    checkout.prepare()
    capfd.readouterr()
    assert not setup._runs(setup.VENV, "-c", "import sys; print('out'); sys.exit('err')")
    assert capfd.readouterr() == ("", "")
    monkeypatch.setattr(setup, "_RUN_MODULES", ("no_such_library",))
    assert not setup._imports_all(setup.VENV, for_tests=False)
    assert "No module named 'no_such_library'" in capfd.readouterr().err
    assert not setup.ready()
    assert capfd.readouterr() == ("", "")


def test_programs_that_are_links_or_folders_are_left_alone_when_paths_are_made_final(checkout: Checkout) -> None:
    for folder in (setup.ASIDE / "bin" / "folder", setup.ASIDE / "Scripts"):
        folder.mkdir(parents=True)
    other = checkout.folder / "other"
    other.write_text(str(setup.ASIDE))
    (setup.ASIDE / "bin" / "link").symlink_to(other)
    (setup.ASIDE / "bin" / "plain").write_bytes(b"\xff no path")
    (setup.ASIDE / "Scripts" / "tool.exe").write_bytes(b"MZ" + os.fsencode(setup.ASIDE) + b"\0")
    (setup.ASIDE / "pyvenv.cfg").write_text(f"command = {setup.ASIDE}\n")
    setup._give_final_path()
    assert other.read_text() == str(setup.ASIDE)
    assert (setup.ASIDE / "bin" / "plain").read_bytes() == b"\xff no path"
    assert (setup.ASIDE / "Scripts" / "tool.exe").read_bytes() == b"MZ" + os.fsencode(setup.VENV) + b"\0"
    assert (setup.ASIDE / "pyvenv.cfg").read_text() == f"command = {setup.VENV}\n"


@pytest.mark.parametrize("which", ["run", "test"])
def test_what_is_forgotten_is_not_known_although_the_pins_are_the_same(checkout: Checkout, which: str) -> None:
    setup.prepare(for_tests=True)
    lock = setup.TEST_LOCK if which == "test" else setup.RUN_LOCK
    setup.forget_installed(lock)
    assert not setup.pins_installed(lock)
    assert setup.pins_installed(setup.RUN_LOCK) == (which == "test"), "run pins stay where test pins are added"


def test_pins_whose_change_failed_half_way_are_not_believed_when_they_come_back(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch
) -> None:
    checkout.prepare()
    pip_in(setup.VENV)
    before = setup.RUN_LOCK.read_text()
    setup.RUN_LOCK.write_text("other pins")

    def half(at: Path, lock: Path) -> None:
        raise setup.SetupFailed("the network went away")

    with monkeypatch.context() as patched:
        patched.setattr(setup, "_pip", half)
        with pytest.raises(setup.SetupFailed):
            checkout.prepare()
    setup.RUN_LOCK.write_text(before)
    assert not setup.ready(), "some of the other pins may be installed"


def test_the_interpreter_of_an_environment_is_where_the_system_puts_it(monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Path("env")
    assert setup._python(folder) == folder / "bin" / "python"
    with monkeypatch.context() as patched:
        patched.setattr(setup.os, "name", "nt")
        found = setup._python(folder)
    assert found == folder / "Scripts" / "python.exe"


def test_every_module_that_is_looked_for_is_one_of_a_pinned_library() -> None:
    from importlib.util import find_spec

    assert [name for name in (*RUN_MODULES, *TEST_MODULES) if find_spec(name) is None] == []
    assert {"cv2", "flask", "zxingcpp"} <= set(RUN_MODULES) and "pytest" in TEST_MODULES


# --- two at once ---------------------------------------------------------------------------------------------------


def test_a_second_command_waits_for_the_first_and_says_so(
    checkout: Checkout, capsys: pytest.CaptureFixture[str]
) -> None:
    order = []
    with setup.RUN_LOCK.open("rb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        second = threading.Thread(target=lambda: (checkout.prepare(), order.append("second")))
        second.start()
        deadline = time.monotonic() + 60
        while "waiting for it" not in (output := capsys.readouterr().err):
            assert time.monotonic() < deadline, output
            time.sleep(0.01)
        order.append("first")
        fcntl.flock(held, fcntl.LOCK_UN)
    second.join()
    assert order == ["first", "second"]
    assert setup.ready()


def test_a_file_system_without_locks_stops_nobody(checkout: Checkout, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_locks(*_: object) -> None:
        raise OSError(errno.ENOLCK, "no locks")

    monkeypatch.setattr(fcntl, "flock", no_locks)
    checkout.prepare()
    assert setup.ready()


# --- ZBar ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def zbar(checkout: Checkout, monkeypatch: pytest.MonkeyPatch, programs: Programs) -> Programs:
    """A machine without ZBar, for root, with apt."""
    setup.VENV.mkdir()
    monkeypatch.setattr("ctypes.util.find_library", lambda name: None)
    monkeypatch.setattr(setup.os, "geteuid", lambda: 0)
    monkeypatch.setattr(setup.shutil, "which", lambda name: "/usr/bin/apt-get" if name == "apt-get" else None)
    return programs


def test_the_name_aside_is_as_long_as_the_final_one_for_programs_that_hold_it_in_a_binary() -> None:
    fresh = importlib.util.module_from_spec(importlib.util.find_spec("receiving.setup"))  # type: ignore[arg-type]
    fresh.__spec__.loader.exec_module(fresh)  # type: ignore[union-attr]
    assert len(fresh.ASIDE.name) == len(fresh.VENV.name) and fresh.ASIDE.parent == fresh.VENV.parent == fresh.PROJECT


def test_zbar_is_installed_where_the_command_may(zbar: Programs, capsys: pytest.CaptureFixture[str]) -> None:
    ADD_ZBAR()
    assert zbar.commands == [["apt-get", "install", "-y", "-qq", "--no-install-recommends", "libzbar0"]]
    assert zbar.environments[0] is not None and zbar.environments[0]["DEBIAN_FRONTEND"] == "noninteractive"
    output = capsys.readouterr().err
    assert "Installing ZBar's library" in output and setup.ZBAR_HINT not in output


def test_where_apt_knows_no_packages_yet_its_list_is_fetched_first(zbar: Programs) -> None:
    zbar.statuses = [100, 0, 0]
    ADD_ZBAR()
    assert [command[1] for command in zbar.commands] == ["install", "update", "install"]
    assert zbar.commands[1] == ["apt-get", "update", "-qq"]
    assert not (setup.VENV / "zbar-tried").exists()


def test_where_apt_cannot_it_is_said_once_how_to(zbar: Programs, capsys: pytest.CaptureFixture[str]) -> None:
    zbar.statuses = [100, 100, 100]
    ADD_ZBAR()
    ADD_ZBAR()
    assert len(zbar.commands) == 3
    assert capsys.readouterr().err.count(setup.ZBAR_HINT) == 1


@pytest.mark.parametrize(
    "patch", [("os.geteuid", lambda: 1000), ("shutil.which", lambda name: None), ("os.name", "nt")], ids=lambda p: p[0]
)
def test_apt_is_not_asked_where_there_is_none_or_by_a_user(
    zbar: Programs, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], patch: tuple[str, object]
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(f"receiving.setup.{patch[0]}", patch[1])
        asked = setup._apt_zbar()
    assert (asked, zbar.commands) == (False, [])


def test_zbar_that_is_there_is_not_installed(zbar: Programs, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ctypes.util.find_library", lambda name: "libzbar.so.0" if name == "zbar" else None)
    ADD_ZBAR()
    assert zbar.commands == []


def test_an_environment_of_somebody_else_gets_no_mark(zbar: Programs, capsys: pytest.CaptureFixture[str]) -> None:
    setup.VENV.rmdir()
    zbar.statuses = [1, 1, 1]
    ADD_ZBAR()
    assert setup.ZBAR_HINT in capsys.readouterr().err


# --- the start -----------------------------------------------------------------------------------------------------


def test_an_old_python_is_told_which_one_is_needed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(start.sys, "version_info", (3, 10, 9))
    assert start.main(["demo"]) == 1
    assert "Python 3.11 or newer is needed; this is 3." in capsys.readouterr().err
    monkeypatch.setattr(start.sys, "version_info", (3, 11, 0))
    monkeypatch.setattr(start, "_run", lambda given: 5)
    assert start.main(["demo"]) == 5


def test_ctrl_c_ends_a_command_in_one_word(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def stop(given: list[str]) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(start, "_run", stop)
    assert start.main(["demo"]) == 1
    assert capsys.readouterr().err == "Stopped.\n"


@pytest.mark.parametrize(
    ("words", "present", "ready", "inside"),
    [
        (["overview"], True, False, ""),  # the libraries are there
        (["overview"], False, True, "run"),
        (["test", "-q"], False, True, "tests"),
        (["doctor"], False, False, ""),  # it says what is missing
        (["doctor"], False, True, "run"),
    ],
)
def test_a_command_runs_here_or_goes_on_inside(
    monkeypatch: pytest.MonkeyPatch, words: list[str], present: bool, ready: bool, inside: str
) -> None:
    asked: list[bool] = []
    monkeypatch.setattr(setup, "libraries_present", lambda *, for_tests: asked.append(for_tests) or present)
    monkeypatch.setattr(setup, "ready", lambda: ready)
    monkeypatch.setattr(cli, "run", lambda given: f"here {given}")
    monkeypatch.setattr(
        setup, "continue_in_environment", lambda given, *, for_tests: f"{'tests' if for_tests else 'run'} {given}"
    )
    assert start.main(words) == f"{inside or 'here'} {words}"
    assert asked == [words[0] == "test"]


def test_without_words_those_of_the_command_line_are_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["receiving", "overview"])
    monkeypatch.setattr(start, "_run", lambda given: given)
    assert start.main() == ["overview"]


def test_a_terminal_that_cannot_show_a_letter_shows_its_code(monkeypatch: pytest.MonkeyPatch) -> None:
    lines: list[str] = []

    class Terminal:
        def reconfigure(self, *, errors: str) -> None:
            lines.append(errors)

    monkeypatch.setattr(start.sys, "stdout", Terminal())
    monkeypatch.setattr(start.sys, "stderr", object())
    monkeypatch.setattr(setup, "libraries_present", lambda *, for_tests: True)
    monkeypatch.setattr(cli, "run", lambda given: 0)
    assert start._run(["overview"]) == 0
    assert lines == ["backslashreplace"]


def test_a_try_of_the_interpreter_is_silent_unless_its_words_are_wanted(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "python").symlink_to(sys.executable)
    loud = "import sys; print('out'); print('err', file=sys.stderr)"
    assert setup._runs(tmp_path, "-c", loud)
    assert capfd.readouterr() == ("", "")
    assert setup._runs(tmp_path, "-c", loud, quiet=False)
    assert capfd.readouterr() == ("out\n", "err\n")
    assert not setup._runs(tmp_path, "-c", "raise SystemExit(1)") and not setup._runs(tmp_path / "none", "-c", "")
