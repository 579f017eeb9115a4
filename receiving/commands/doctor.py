"""``receiving doctor``: what is installed, what is missing, and what to do about it."""

import argparse
import os
import platform
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from receiving.cli import DONE, FAILED
from receiving.commands.terminal import say, show, show_json
from receiving.errors import NoData, StoreError
from receiving.messages import Text, joined, message
from receiving.model.limits import ROOM_BYTES
from receiving.reading import zbar_available
from receiving.setup import ZBAR_MISSING, is_checkout

_NEEDED = {
    "zxing-cpp": "zxingcpp",
    "opencv-python-headless": "cv2",
    "numpy": "numpy",
    "scipy": "scipy",
    "pillow": "PIL",
    "pi-heif": "pi_heif",
    "biip": "biip",
    "google-re2": "re2",
    "flask": "flask",
    "waitress": "waitress",
    "prometheus-client": "prometheus_client",
    "argon2-cffi": "argon2",
    "authlib": "authlib",
    "babel": "babel",
    "webauthn": "webauthn",
    "cryptography": "cryptography.hazmat.primitives.asymmetric.ed25519",
    "sqlite-utils": "sqlite_utils",
    "msgspec": "msgspec",
    "openpyxl": "openpyxl",
    "ortools": "ortools.sat.python.cp_model",
    "reportlab": "reportlab",
    "arabic-reshaper": "arabic_reshaper",
    "python-bidi": "bidi",
    "holidays": "holidays",
    "tzdata": "tzdata",
}
_OPTIONAL = {
    "rapidocr": (message("printed text on labels whose bars are gone"), "pip install rapidocr onnxruntime"),
}
_MARKS = {True: message("ok"), False: message("MISSING"), None: message("optional")}
_MIN_SQLITE = (3, 37, 0)  # STRICT tables


@dataclass(frozen=True)
class Finding:
    """One thing that was checked; ``ok`` False means that the work cannot be done, None that something is optional."""

    what: Text
    ok: bool | None
    words: Text
    next_step: Text = ""


def run_doctor(options: argparse.Namespace) -> int:
    """Print every finding; status 1 when something needed is missing."""
    findings = tuple(_look(options.data))
    if options.json:
        show_json([_plain(finding) for finding in findings])
    else:
        marks = {ok: say(mark) for ok, mark in _MARKS.items()}
        width = max(map(len, marks.values()))
        for finding in findings:
            text = joined(finding.words, finding.next_step)
            mark = marks[finding.ok].ljust(width)
            show(message("{mark}  {part}: {state}", mark=mark, part=finding.what, state=text))
    return DONE if all(finding.ok is not False for finding in findings) else FAILED


def _plain(finding: Finding) -> dict[str, object]:
    words, next_step = str(finding.words), str(finding.next_step)
    return {"what": str(finding.what), "ok": finding.ok, "words": words, "next_step": next_step}


def _look(data: Path) -> Iterator[Finding]:
    yield Finding("Python", sys.version_info >= (3, 11), platform.python_version(), "")
    for name, module in _NEEDED.items():
        yield _library(name, module)
    yield _zbar()
    for name, (use, how) in _OPTIONAL.items():
        yield _optional(name, use, how)
    yield _sqlite()
    yield _data_folder(data)


def _sqlite() -> Finding:
    new_enough = sqlite3.sqlite_version_info >= _MIN_SQLITE
    return Finding("SQLite", new_enough, sqlite3.sqlite_version, "" if new_enough else message("Use a newer Python."))


def _library(name: str, module: str) -> Finding:
    try:
        import_module(module)
        return Finding(name, True, version(name))
    except PackageNotFoundError:
        return Finding(name, True, message("installed, version unknown"))
    except ImportError as fault:
        return Finding(name, False, message("cannot be imported ({fault}).", fault=str(fault)), _how_to_install())


def _how_to_install() -> Text:
    if is_checkout():
        return message("{command} sets up what is missing.", command="receiving demo --no-serve")
    return message("Install the package again with pip.")


def _zbar() -> Finding:
    try:
        present = zbar_available()
    except ImportError:  # of another library that reads codes, which has a line of its own
        present = False
    if present:
        return Finding("ZBar (libzbar0, pyzbar)", True, message("installed"))
    return Finding("ZBar (libzbar0, pyzbar)", None, "", ZBAR_MISSING)


def _optional(name: str, use: Text, how: str) -> Finding:
    try:
        return Finding(name, True, version(name))
    except PackageNotFoundError:
        return Finding(
            name,
            None,
            message("not installed; it reads {use}.", use=use),
            message("To add it: {command}", command=how),
        )


def _data_folder(data: Path) -> Finding:
    nearest = next((p for p in (data.resolve(), *data.resolve().parents) if p.exists()), Path.cwd())
    try:
        with tempfile.TemporaryFile(dir=nearest, buffering=0) as file:
            full = file.write(os.urandom(ROOM_BYTES)) < ROOM_BYTES
    except OSError as fault:
        return Finding(
            _FOLDER,
            False,
            message("{folder} cannot be written to ({fault}).", folder=str(data), fault=fault.strerror),
            message("Choose another: {option}.", option="--data FOLDER"),
        )
    if full:
        return Finding(_FOLDER, False, message("The disk is full."), message("Free some space."))
    return _database(data)


def _database(data: Path) -> Finding:
    try:
        from receiving import service
        from receiving.commands.data_folder import in_words
    except ImportError:  # said of the library that is missing
        return Finding(_FOLDER, True, message("{folder} can be written to", folder=str(data)))
    try:
        report = service.check(data, hash_photos=False)
    except NoData:
        return Finding(_FOLDER, True, message("{folder} can be written to, and holds no data yet", folder=str(data)))
    except StoreError as fault:
        return Finding(
            _FOLDER,
            False,
            message("{folder}: {fault}", folder=str(data), fault=fault.message),
            fault.next_step,
        )
    if not report.whole:
        words = message("{folder} is damaged: {damage}.", folder=str(data), damage=in_words(report.damages[0]))
        see = f"receiving check --data {data}"
        return Finding(_FOLDER, False, words, message("See all of it: {command}", command=see))
    fine = message("{folder} can be written to, and its database is undamaged", folder=str(data))
    return Finding(_FOLDER, True, fine)


_FOLDER = message("data folder")
