"""The set-up on a fresh machine: whatever goes wrong, the next try works; and what the pins promise."""

import ast
import re
import shutil
import subprocess
import sys
import tomllib
import venv
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from receiving import setup
from receiving.commands import test

MAKE_VENV = setup._make_venv

PROJECT = Path(__file__).resolve().parent.parent


def pinned(name: str) -> dict[str, str]:
    return dict(re.findall(r"^([a-z0-9-]+)==([^ ;\\]+)", (PROJECT / name).read_text(), re.MULTILINE))


def wanted(*groups: str) -> set[str]:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]
    lines = [*project["dependencies"], *(line for group in groups for line in project["optional-dependencies"][group])]
    return {re.split(r"[><=\[;]", line)[0].strip() for line in lines}


def test_every_library_that_the_project_names_is_pinned() -> None:
    assert wanted() <= set(pinned("requirements.txt"))
    assert wanted("test", "lint") <= set(pinned("requirements-test.txt"))
    assert wanted("browser") <= {**pinned("requirements-test.txt"), **pinned("requirements-browser.txt")}.keys()


def test_the_test_pins_hold_all_run_pins() -> None:
    assert pinned("requirements.txt").items() <= pinned("requirements-test.txt").items()


@pytest.mark.parametrize("name", ["requirements.txt", "requirements-test.txt", "requirements-browser.txt"])
def test_pins_carry_hashes_and_name_no_host(name: str) -> None:
    text = (PROJECT / name).read_text()
    assert text.count("--hash=sha256:") >= len(pinned(name))
    assert "://" not in text


def test_changed_pins_are_installed_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(setup, "VENV", tmp_path)
    lock = tmp_path / "requirements.txt"
    lock.write_text("a==1")
    monkeypatch.setattr(setup, "RUN_LOCK", lock)
    assert not setup.pins_installed(lock)
    setup.note_installed(lock)
    assert setup.pins_installed(lock)
    lock.write_text("a==2")
    assert not setup.pins_installed(lock)


def test_installing_the_test_pins_installs_the_run_pins_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run_lock, test_lock = tmp_path / "requirements.txt", tmp_path / "requirements-test.txt"
    for lock in (run_lock, test_lock):
        lock.write_text(lock.name)
    for name, value in (("VENV", tmp_path), ("RUN_LOCK", run_lock), ("TEST_LOCK", test_lock)):
        monkeypatch.setattr(setup, name, value)
    setup.note_installed(test_lock)
    assert setup.pins_installed(run_lock)


class Checkout:
    """A source folder in which an environment is made of the standard library alone, with ``pip`` as the test says."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self.folder, self.installed = folder, 0
        (folder / "tests").mkdir()
        for name in ("requirements.txt", "requirements-test.txt"):
            (folder / name).write_text(name)
        patch.delenv("RECEIVING_ENVIRONMENT_READY", raising=False)
        for name, value in (
            ("PROJECT", folder),
            ("VENV", folder / ".venv"),
            ("ASIDE", folder / ".vnew"),
            ("RUN_LOCK", folder / "requirements.txt"),
            ("TEST_LOCK", folder / "requirements-test.txt"),
            ("_RUN_MODULES", ("json",)),
            ("_make_venv", lambda at: venv.EnvBuilder().create(at)),
            ("_pip", self.install),
            ("_add_zbar", lambda: None),
        ):
            patch.setattr(setup, name, value)

    def install(self, at: Path, lock: Path) -> None:
        self.installed += 1
        (at / "bin" / "tool").write_text(f"#!{at}/bin/python\n")

    def prepare(self) -> Path:
        return setup.prepare(for_tests=False)


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Checkout:
    return Checkout(tmp_path, monkeypatch)


def left(checkout: Checkout) -> list[str]:
    return sorted(path.name for path in checkout.folder.iterdir() if path.name.startswith("."))


def test_an_environment_is_made_once_and_its_programs_hold_its_final_path(checkout: Checkout) -> None:
    python = checkout.prepare()
    assert subprocess.run([python, "-c", "print(1)"], capture_output=True, check=True).stdout == b"1\n"
    assert (python.parent / "tool").read_text() == f"#!{python}\n"
    assert ".vnew" not in (setup.VENV / "pyvenv.cfg").read_text()
    assert checkout.prepare() == python
    assert (checkout.installed, left(checkout)) == (1, [".venv"])


@pytest.mark.parametrize("step", ["_make_venv", "_pip", "_point_at_project", "_give_final_path"])
def test_a_set_up_that_is_stopped_at_any_step_leaves_nothing_and_the_next_one_is_whole(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], step: str
) -> None:
    def stop(*_: object) -> None:
        (setup.ASIDE / "lib").mkdir(parents=True, exist_ok=True)
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(setup, step, stop)
        assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    assert "Nothing is left half made" in capsys.readouterr().err
    assert left(checkout) == []
    checkout.prepare()
    assert setup.ready()


def test_what_a_killed_set_up_left_is_made_anew(checkout: Checkout) -> None:
    (setup.ASIDE / "lib").mkdir(parents=True)
    (setup.VENV / "bin").mkdir(parents=True)
    (setup.VENV / "bin" / "python").symlink_to("/nowhere/python3")
    checkout.prepare()
    assert (setup.ready(), left(checkout)) == (True, [".venv"])


def test_an_environment_without_pip_whose_pins_are_not_known_is_made_anew(checkout: Checkout) -> None:
    venv.EnvBuilder().create(setup.VENV)
    assert not setup.ready()
    checkout.prepare()
    assert setup.ready()


def test_an_environment_whose_interpreter_has_gone_is_made_anew(checkout: Checkout) -> None:
    python = checkout.prepare()
    python.unlink()
    python.symlink_to("/nowhere/python3")
    checkout.prepare()
    assert (setup.ready(), checkout.installed) == (True, 2)


def test_a_folder_of_somebody_elses_is_not_removed(checkout: Checkout, capsys: pytest.CaptureFixture[str]) -> None:
    setup.VENV.mkdir()
    (setup.VENV / "thesis.txt").write_text("mine")
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    assert "is not a Python environment. Move it away" in capsys.readouterr().err
    assert (setup.VENV / "thesis.txt").read_text() == "mine"


def test_a_library_that_does_not_import_is_not_moved_into_place(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(setup, "_RUN_MODULES", ("no_such_library",))
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    assert "one cannot be imported; Python's message is above" in capfd.readouterr().err
    assert left(checkout) == []


@pytest.mark.parametrize("end", [subprocess.CalledProcessError(1, "ensurepip"), SystemExit(1), ImportError("no venv")])
def test_without_venv_the_package_to_install_is_named_and_nothing_is_left(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], end: BaseException
) -> None:
    def no_pip(self: venv.EnvBuilder, at: Path) -> None:
        Path(at, "lib").mkdir(parents=True)
        raise end

    monkeypatch.setattr(setup, "_make_venv", MAKE_VENV)
    monkeypatch.setattr(venv.EnvBuilder, "create", no_pip)
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    assert "apt install python3-venv" in capsys.readouterr().err
    assert left(checkout) == []


def test_an_installed_package_makes_no_environment(checkout: Checkout, capsys: pytest.CaptureFixture[str]) -> None:
    setup.RUN_LOCK.unlink()
    assert setup.continue_in_environment(["test"], for_tests=True) == 1
    assert "the tests are part of the source, not of the installed package" in capsys.readouterr().err
    assert left(checkout) == []


@pytest.mark.parametrize(
    ("words", "status", "answer"),
    [
        (["--help"], 0, "usage: receiving"),
        (["read", "-h"], 0, "PHOTO"),
        (["--version"], 0, "receiving 0."),
        (["raed"], 2, "invalid choice"),
        (["doctor"], 1, "MISSING"),
    ],
)
def test_a_question_is_answered_without_any_library_and_sets_nothing_up(
    tmp_path: Path, words: list[str], status: int, answer: str
) -> None:
    shutil.copytree(PROJECT / "receiving", tmp_path / "receiving", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "tests").mkdir()
    for name in ("requirements.txt", "requirements-test.txt"):
        shutil.copy(PROJECT / name, tmp_path)
    done = subprocess.run(
        [sys.executable, "-S", "-E", "-m", "receiving", *words],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, "Traceback" in done.stderr) == (status, False)
    assert answer in done.stdout + done.stderr
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_the_tests_run_on_all_cores_unless_the_person_chose(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(test, "_cores", lambda: 2)
    assert test.side_by_side(["-q"]) == ["-n", "2", "--dist", "worksteal"]
    assert test.side_by_side(["-n", "4"]) == test.side_by_side(["--pdb"]) == []
    monkeypatch.setattr(test, "_cores", lambda: 1)
    assert test.side_by_side(["-q"]) == []


def test_no_property_test_is_failed_by_the_clock_of_a_busy_machine() -> None:
    assert settings.default is not None
    assert settings.default.deadline is None
    assert HealthCheck.too_slow in settings.default.suppress_health_check


def test_no_test_module_needs_zbar_to_be_collected() -> None:
    needing = [
        path.relative_to(PROJECT)
        for path in PROJECT.glob("tests/**/*.py")
        if path.parent.name != "bench"
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.Import | ast.ImportFrom)
        if "pyzbar" in ast.unparse(node)
    ]
    assert needing == []


def test_every_file_that_a_command_needs_is_installed_with_the_package() -> None:
    wanted = tomllib.loads((PROJECT / "pyproject.toml").read_text())["tool"]["setuptools"]["package-data"]
    homes = {"receiving": "receiving", "web": "web", "receiving.sample_images": "sample_images"}
    assert set(wanted) == set(homes)
    listed = {
        path for name, patterns in wanted.items() for each in patterns for path in (PROJECT / homes[name]).glob(each)
    }
    files = {
        path
        for home in homes.values()
        for path in (PROJECT / home).rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc")
    }
    assert files - listed == set()


def test_an_installed_package_finds_the_sample_shipment_beside_itself(tmp_path: Path) -> None:
    """As setup.py lays it out: the samples inside the package, and no source beside it."""
    for name, home in (("receiving", "receiving"), ("web", "web"), ("sample_images", "receiving/sample_images")):
        shutil.copytree(PROJECT / name, tmp_path / home, ignore=shutil.ignore_patterns("__pycache__"))
    code = "from receiving.commands import serve; print(serve.SAMPLES, (serve.SAMPLES / 'manifest.csv').exists())"
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert done.stdout.split() == [str(tmp_path / "receiving" / "sample_images"), "True"]
    words = [sys.executable, "-m", "receiving", "test"]
    refused = subprocess.run(words, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (refused.returncode, "not of the installed package" in refused.stderr) == (1, True)


def test_the_hint_for_zbar_names_three_systems() -> None:
    for words in ("apt install libzbar0", "dnf install zbar", "brew install zbar"):
        assert words in setup.ZBAR_HINT


def test_a_broken_environment_does_not_set_itself_up_for_ever(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RECEIVING_ENVIRONMENT_READY", "1")
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    assert "Remove that folder and run the command again." in capsys.readouterr().err
