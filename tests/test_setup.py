import re
import tomllib
from pathlib import Path

import pytest

from receiving import setup

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


def test_the_hint_for_zbar_names_three_systems() -> None:
    for words in ("apt install libzbar0", "dnf install zbar", "brew install zbar"):
        assert words in setup.ZBAR_HINT


def test_a_broken_environment_does_not_set_itself_up_for_ever(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RECEIVING_ENVIRONMENT_READY", "1")
    assert setup.continue_in_environment(["demo"], for_tests=False) == 1
    assert "Remove that folder and run the command again." in capsys.readouterr().err
