"""Set up the environment on a fresh machine, with nothing but the standard library.

``python3 -m receiving …`` comes here when the libraries are not installed: it makes ``.venv`` beside the package,
installs the pinned libraries, and starts the same command again inside. The second time this takes no time at all.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent
VENV = PROJECT / ".venv"
RUN_LOCK = PROJECT / "requirements.txt"
TEST_LOCK = PROJECT / "requirements-test.txt"
_STARTED = "RECEIVING_ENVIRONMENT_READY"
_RUN_MODULES = ("biip", "cv2", "flask", "msgspec", "sqlite_utils", "waitress", "zxingcpp")
_TEST_MODULES = ("hypothesis", "networkx", "pytest")

ZBAR_HINT = (
    "ZBar is not installed, so photos are read with zxing-cpp alone. To add it: "
    "apt install libzbar0 (Debian, Ubuntu), dnf install zbar (Fedora), brew install zbar (macOS)."
)


class SetupFailed(Exception):
    """The environment could not be set up; the message says what to do."""


def libraries_present(*, for_tests: bool) -> bool:
    """True when this interpreter can import what the commands (or the tests) need."""
    from importlib.util import find_spec

    needed = (*_RUN_MODULES, *(_TEST_MODULES if for_tests else ()))
    return all(find_spec(name) is not None for name in needed)


def continue_in_environment(arguments: list[str], *, for_tests: bool) -> int:
    """Set up what is missing, then run ``receiving`` with these arguments inside; gives its exit status."""
    if _STARTED in os.environ:
        _say(f"receiving: the environment in {VENV} is incomplete. Remove that folder and run the command again.")
        return 1
    try:
        python = prepare(for_tests=for_tests)
    except SetupFailed as fault:
        _say(f"receiving: {fault}")
        return 1
    environment = {**os.environ, _STARTED: "1", "PYTHONPATH": _with_project(os.environ.get("PYTHONPATH", ""))}
    command = [str(python), "-m", "receiving", *arguments]
    if os.name == "posix":
        os.execve(python, command, environment)
    return subprocess.run(command, env=environment, check=False).returncode


def prepare(*, for_tests: bool) -> Path:
    """Make the environment where it is missing or older than the pins; gives its interpreter. Raises SetupFailed."""
    python = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    lock = TEST_LOCK if for_tests else RUN_LOCK
    if not python.exists():
        _say("Making the environment in .venv (once).")
        _make_venv()
    if not pins_installed(lock):
        _say(f"Installing the pinned libraries of {lock.name} (once; a minute or so on a new machine).")
        _pip(python, lock)
        _point_at_project()
        note_installed(lock)
    _add_zbar()
    return python


def _make_venv() -> None:
    try:
        venv.EnvBuilder(with_pip=True, clear=VENV.exists()).create(VENV)
    except (subprocess.CalledProcessError, OSError) as fault:
        shutil.rmtree(VENV, ignore_errors=True)
        raise SetupFailed(
            f"the environment {VENV} could not be made ({fault}). On Debian: apt install python3-venv. "
            "Make sure that you may write to this folder, then run the command again."
        ) from fault


def _pip(python: Path, lock: Path) -> None:
    command = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--require-hashes"]
    done = subprocess.run([*command, "--requirement", str(lock)], check=False)
    if done.returncode:
        raise SetupFailed(
            "the libraries could not be installed; pip's message is above. "
            "Check the network, then run the command again."
        )


def _point_at_project() -> None:
    """Let the environment's interpreter find the project from any folder, as for ``python tests/bench/NAME.py``."""
    for packages in (*VENV.glob("lib/python*/site-packages"), *VENV.glob("Lib/site-packages")):
        (packages / "receiving-project.pth").write_text(f"{PROJECT}\n")


def _marker(lock: Path) -> Path:
    return VENV / f"installed-{lock.stem}"


def pins_installed(lock: Path) -> bool:
    """True when these very pins were installed last, alone or as part of the test pins, which hold all of them."""
    wanted = _digest(lock)
    marker = _marker(lock)
    return marker.exists() and marker.read_text() == wanted


def note_installed(lock: Path) -> None:
    """Remember that these pins are installed."""
    done = (TEST_LOCK, RUN_LOCK) if lock == TEST_LOCK else (lock,)
    for each in done:
        _marker(each).write_text(_digest(each))


def _digest(lock: Path) -> str:
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def _add_zbar() -> None:
    """Install ZBar's library where this command may (root, with apt); otherwise say once how to."""
    from ctypes.util import find_library

    tried = VENV / "zbar-tried"
    if tried.exists() or find_library("zbar") or _apt_zbar():
        return
    _say(ZBAR_HINT)
    tried.touch()


def _apt_zbar() -> bool:
    if os.name != "posix" or os.geteuid() != 0 or not shutil.which("apt-get"):
        return False
    _say("Installing ZBar's library (libzbar0, 6 MB).")
    install = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "libzbar0"]
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (install, ["apt-get", "update", "-qq"], install):
        done = subprocess.run(command, check=False, env=environment, capture_output=True)
        if command is install and done.returncode == 0:
            return True
    return False


def _with_project(path: str) -> str:
    return os.pathsep.join(part for part in (str(PROJECT), path) if part)


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
