"""Set up the environment on a fresh machine, with nothing but the standard library.

``python3 -m receiving …`` comes here when the libraries are not installed: it makes ``.venv`` beside the package,
installs the pinned libraries, and starts the same command again inside. The second time this takes no time at all.

A new environment is made aside, tried, and only then moved to its place, so that one that is there is whole, however
an earlier set-up ended. One that does not work any more, because its interpreter is gone or another, is made anew.

It says all this in English: other languages need a library that it has yet to install.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

from receiving.messages import message

PROJECT = Path(__file__).resolve().parent.parent
VENV = PROJECT / ".venv"
ASIDE = PROJECT / ".vnew"
"""Where a new environment is made. Its name is as long as the final one: programs that pip installs hold their own
path, in text or in a binary, and are given the new one byte for byte."""

RUN_LOCK = PROJECT / "requirements.txt"
TEST_LOCK = PROJECT / "requirements-test.txt"
_STARTED = "RECEIVING_ENVIRONMENT_READY"
_RUN_MODULES = ("biip", "cv2", "flask", "msgspec", "sqlite_utils", "waitress", "zxingcpp")
_TEST_MODULES = ("hypothesis", "networkx", "pytest", "xdist")
_PARTS = frozenset({"bin", "include", "lib", "lib64", "share", "etc", "Include", "Lib", "Scripts"})

ZBAR_MISSING = message(
    "ZBar is not installed, so photos are read with zxing-cpp alone. To add it: "
    "apt install libzbar0 (Debian, Ubuntu), dnf install zbar (Fedora), brew install zbar (macOS)."
)
ZBAR_HINT = str(ZBAR_MISSING)
NO_TESTS_HERE = (
    "receiving: the tests are part of the source, not of the installed package. "
    "Get the source, go to its folder, and run there: python3 -m receiving test"
)


class SetupFailed(Exception):
    """The environment could not be set up; the message says what to do."""


def is_checkout() -> bool:
    """True when this package runs from its source folder, with its pins and tests; False where pip installed it."""
    return RUN_LOCK.exists() and TEST_LOCK.exists() and (PROJECT / "tests").is_dir()


def libraries_present(*, for_tests: bool) -> bool:
    """True when this interpreter can import what the commands (or the tests) need."""
    return all(find_spec(name) is not None for name in _needed(for_tests))


def continue_in_environment(arguments: list[str], *, for_tests: bool) -> int:
    """Set up what is missing, then run ``receiving`` with these arguments inside; gives its exit status."""
    try:
        python = _environment(for_tests=for_tests)
    except SetupFailed as fault:
        say(f"receiving: {fault}")
        return 1
    except KeyboardInterrupt:
        say("\nStopped. Nothing is left half made; the same command starts again.")
        return 1
    environment = {**os.environ, _STARTED: "1", "PYTHONPATH": _with_project(os.environ.get("PYTHONPATH", ""))}
    command = [str(python), "-m", "receiving", *arguments]
    if os.name == "posix":
        os.execve(python, command, environment)
    return subprocess.run(command, env=environment, check=False).returncode


def _environment(*, for_tests: bool) -> Path:
    if not is_checkout():
        if for_tests:
            raise SetupFailed(NO_TESTS_HERE.removeprefix("receiving: "))
        missing = ", ".join(name for name in _RUN_MODULES if not _found(name))
        raise SetupFailed(f"these libraries are not installed: {missing}. Install the package again with pip.")
    if _STARTED in os.environ:
        raise SetupFailed(f"the environment in {VENV} is incomplete. Remove that folder and run the command again.")
    return prepare(for_tests=for_tests)


def prepare(*, for_tests: bool) -> Path:
    """Make the environment where it is missing, broken or older than the pins; gives its interpreter.

    Raises SetupFailed. Two commands at once set up one after the other.
    """
    with _alone():
        if not ready(for_tests=for_tests):
            _complete(TEST_LOCK if for_tests else RUN_LOCK)
        _add_zbar()
    return _python(VENV)


def ready(*, for_tests: bool = False) -> bool:
    """True when the environment is there, its interpreter starts, and the pins are those installed."""
    lock = TEST_LOCK if for_tests else RUN_LOCK
    names = ", ".join(map(repr, _needed(for_tests)))
    look = f"import sys; from importlib.util import find_spec; sys.exit(not all(map(find_spec, [{names}])))"
    return pins_installed(lock) and _runs(VENV, "-I", "-c", look)


def _complete(lock: Path) -> None:
    """Bring a working environment up to these pins, or make a new one."""
    for_tests = lock == TEST_LOCK
    if _runs(VENV, "-m", "pip", "--version"):
        _say_installing(lock)
        forget_installed(lock)
        _pip(VENV, lock)
        _point_at_project(VENV)
        if _imports_all(VENV, for_tests=for_tests):
            note_installed(lock)
            return
        say("The environment in .venv is damaged; it is set up again.")
    _make_anew(lock)


def _make_anew(lock: Path) -> None:
    """Make an environment aside, try it, and move it to its place. Whatever happens, none is left half made."""
    _check_place()
    say(f"Making the environment in {VENV.name}{' again: the one there does not work' if VENV.exists() else ''}.")
    try:
        _remove(ASIDE)
        _make_venv(ASIDE)
        _say_installing(lock)
        _pip(ASIDE, lock)
        _point_at_project(ASIDE)
        if not _imports_all(ASIDE, for_tests=lock == TEST_LOCK):
            raise SetupFailed("the libraries were installed, and one cannot be imported; Python's message is above.")
        note_installed(lock, ASIDE)
        _give_final_path()
        _remove(VENV)
        ASIDE.rename(VENV)
    except OSError as fault:
        raise SetupFailed(
            f"the environment {VENV} could not be made: {fault.strerror or fault}. It needs 750 MB of disk and the "
            "right to write to this folder; where you may not, copy the folder to one of your own."
        ) from fault
    finally:
        shutil.rmtree(ASIDE, ignore_errors=True)


def _check_place() -> None:
    """Never remove what is not an environment."""
    if VENV.is_file() or (VENV.is_dir() and not VENV.is_symlink() and not _is_environment(VENV)):
        raise SetupFailed(f"{VENV} is not a Python environment. Move it away, then run the command again.")


def _is_environment(folder: Path) -> bool:
    """True for an environment, also one that was left half made; an empty folder may become one."""
    return (folder / "pyvenv.cfg").exists() or all(path.name in _PARTS for path in folder.iterdir())


def _remove(path: Path) -> None:
    if path.is_symlink():
        path.unlink()
    elif path.exists():
        shutil.rmtree(path)


def _make_venv(folder: Path) -> None:
    try:
        import venv

        venv.EnvBuilder(with_pip=True).create(folder)
    except (ImportError, subprocess.CalledProcessError, SystemExit) as fault:  # Debian's venv ends the program
        raise SetupFailed(
            "Python's venv or pip is not installed, so no environment can be made. On Debian and Ubuntu: "
            "apt install python3-venv. Then run the command again."
        ) from fault


def _pip(folder: Path, lock: Path) -> None:
    command = [str(_python(folder)), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*command, "--require-hashes", "--requirement", str(lock)], check=False)
    if done.returncode:
        raise SetupFailed(
            "the libraries could not be installed; pip's message is above. "
            "Check the network and the room on the disk (750 MB), then run the command again."
        )


def _point_at_project(folder: Path) -> None:
    """Let the environment's interpreter find the project from any folder, as for ``python tests/bench/NAME.py``."""
    for packages in (*folder.glob("lib/python*/site-packages"), *folder.glob("Lib/site-packages")):
        (packages / "receiving-project.pth").write_text(f"{PROJECT}\n")


def _give_final_path() -> None:
    """Put the final path where pip and venv wrote the one aside."""
    old, new = os.fsencode(ASIDE), os.fsencode(VENV)
    programs = (path for folder in ("bin", "Scripts") for path in ASIDE.glob(f"{folder}/*") if not path.is_symlink())
    for path in (ASIDE / "pyvenv.cfg", *programs):
        if path.is_file() and old in (data := path.read_bytes()):
            path.write_bytes(data.replace(old, new))


def _needed(for_tests: bool) -> tuple[str, ...]:
    return (*_RUN_MODULES, *(_TEST_MODULES if for_tests else ()))


def _found(name: str) -> bool:
    return find_spec(name) is not None


def _imports_all(folder: Path, *, for_tests: bool) -> bool:
    return _runs(folder, "-c", f"import {', '.join(_needed(for_tests))}", quiet=False)


def _python(folder: Path) -> Path:
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def _runs(folder: Path, *arguments: str, quiet: bool = True) -> bool:
    """True when the environment's interpreter is there and does this without a fault."""
    words = subprocess.DEVNULL if quiet else None
    try:
        done = subprocess.run([str(_python(folder)), *arguments], check=False, stdout=words, stderr=words)
    except OSError:
        return False
    return done.returncode == 0


@contextmanager
def _alone() -> Iterator[None]:
    """One set-up at a time; the system ends the lock with the process that holds it."""
    try:
        import fcntl
    except ImportError:  # Windows: two first starts at once are left to chance there
        yield
        return
    with RUN_LOCK.open("rb") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another command is setting up the environment; waiting for it.")
            fcntl.flock(held, fcntl.LOCK_EX)
        except OSError:  # a file system without locks
            pass
        yield


def _marker(lock: Path, folder: Path) -> Path:
    return folder / f"installed-{lock.stem}"


def pins_installed(lock: Path) -> bool:
    """True when these very pins were installed last, alone or as part of the test pins, which hold all of them."""
    marker = _marker(lock, VENV)
    return marker.exists() and marker.read_text() == _digest(lock)


def note_installed(lock: Path, folder: Path | None = None) -> None:
    """Remember that these pins are installed."""
    for each in _held_by(lock):
        _marker(each, folder or VENV).write_text(_digest(each))


def forget_installed(lock: Path) -> None:
    """Before pins change: what was installed is not known any more. Test pins are added to unchanged run pins."""
    for each in (TEST_LOCK, RUN_LOCK):
        if each == lock or not pins_installed(each):
            _marker(each, VENV).unlink(missing_ok=True)


def _held_by(lock: Path) -> tuple[Path, ...]:
    return (TEST_LOCK, RUN_LOCK) if lock == TEST_LOCK else (lock,)


def _digest(lock: Path) -> str:
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def _add_zbar() -> None:
    """Install ZBar's library where this command may (root, with apt); otherwise say once how to."""
    from ctypes.util import find_library

    tried = VENV / "zbar-tried"
    if tried.exists() or find_library("zbar") or _apt_zbar():
        return
    say(ZBAR_HINT)
    try:
        tried.touch()
    except OSError:  # an environment of another person: it is said again next time
        return


def _apt_zbar() -> bool:
    if os.name != "posix" or os.geteuid() != 0 or not shutil.which("apt-get"):
        return False
    say("Installing ZBar's library (libzbar0, 6 MB).")
    install = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "libzbar0"]
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (install, ["apt-get", "update", "-qq"], install):
        done = subprocess.run(command, check=False, env=environment, capture_output=True)
        if command is install and done.returncode == 0:
            return True
    return False


def _with_project(path: str) -> str:
    return os.pathsep.join(part for part in (str(PROJECT), path) if part)


def _say_installing(lock: Path) -> None:
    say(f"Installing the pinned libraries of {lock.name} (once; a minute or so on a new machine).")


def say(text: str) -> None:
    """Print to standard error at once."""
    print(text, file=sys.stderr, flush=True)
