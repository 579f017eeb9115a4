"""``receiving import``: manifests, ship notices, layouts and label patterns into the data folder."""

import argparse
import dataclasses
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import file_bytes, open_file
from receiving.commands.terminal import show, show_fault, show_json
from receiving.errors import ReceivingError
from receiving.expected import Progress


def run(options: argparse.Namespace) -> int:
    """Import every file; one with a fault loads nothing, the others go on, and the status is 1."""
    status = DONE
    with service.Desk.at(options.data) as desk:
        for path in options.files:
            try:
                _import(desk, path, options)
            except ReceivingError as fault:
                status = FAILED
                show_fault(f"{path}: {fault}")
    return status


def _import(desk: service.Desk, path: Path, options: argparse.Namespace) -> None:
    if path.suffix.lower() == ".toml":
        _import_toml(desk, path, file_bytes(path), options)
    elif options.preview:
        preview = service.preview_import(desk, path.name, file_bytes(path))
        _warn(path, preview.warnings)
        for manifest in preview.manifests:
            _say(options, dataclasses.asdict(manifest))
    else:
        with open_file(path) as file:
            done = service.import_stream(desk, path.name, file, progress=_progress(path))
        _warn(path, done.warnings)
        for result in done.manifests:
            _say(options, dataclasses.asdict(result))


def _warn(path: Path, warnings: tuple[str, ...]) -> None:
    for warning in warnings:
        show_fault(f"{path.name}: {warning}")


def _progress(path: Path) -> Callable[[Progress], None] | None:
    """Say every second on a terminal how far a long file is; a pipe or a file gets nothing."""
    if not sys.stderr.isatty():
        return None
    size, said = path.stat().st_size or 1, [time.monotonic()]

    def say(progress: Progress) -> None:
        if time.monotonic() - said[0] >= 1:
            said[0] = time.monotonic()
            show_fault(
                f"{path.name}: {min(progress.bytes_read / size, 1):.0%}, {progress.manifests} shipments, "
                f"{progress.cartons} cartons"
            )

    return say


def _import_toml(desk: service.Desk, path: Path, data: bytes, options: argparse.Namespace) -> None:
    if _holds_patterns(data):
        count = service.import_patterns(desk, path.name, data) if not options.preview else None
        _say(options, {"file": path.name, "what": "label patterns", "patterns": count})
        return
    from receiving.expected import read_layout

    layout = read_layout(path.name, data) if options.preview else service.import_layout(desk, path.name, data)
    _say(options, {"file": path.name, "what": "layout", "store": layout.store, "bays": len(layout.bays)})


def _holds_patterns(data: bytes) -> bool:
    try:
        return "pattern" in tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return False  # the layout reader says what is wrong, with line and column


def _say(options: argparse.Namespace, done: dict[str, object]) -> None:
    if options.json:
        show_json(done)
        return
    changes = done.pop("changes", ())
    show(", ".join(f"{name} {value}" for name, value in done.items() if value is not None))
    for change in changes if isinstance(changes, (list, tuple)) else ():
        show(f"  {change}")
