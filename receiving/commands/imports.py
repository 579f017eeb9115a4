"""``receiving import``: manifests, ship notices, layouts and label patterns into the data folder."""

import argparse
import dataclasses
import json
import sys
import tomllib
from pathlib import Path

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import file_bytes
from receiving.errors import ReceivingError


def run(options: argparse.Namespace) -> int:
    """Import every file; one with a fault loads nothing, the others go on, and the status is 1."""
    status = DONE
    with service.Desk.at(options.data) as desk:
        for path in options.files:
            try:
                _import(desk, path, options)
            except ReceivingError as fault:
                status = FAILED
                print(f"{path}: {fault}", file=sys.stderr)
    return status


def _import(desk: service.Desk, path: Path, options: argparse.Namespace) -> None:
    data = file_bytes(path)
    if path.suffix.lower() == ".toml":
        _import_toml(desk, path, data, options)
    elif options.preview:
        preview = service.preview_import(desk, path.name, data)
        for warning in preview.warnings:
            print(f"{path.name}: {warning}", file=sys.stderr)
        for manifest in preview.manifests:
            _say(options, dataclasses.asdict(manifest))
    else:
        for result in service.import_manifest(desk, path.name, data):
            _say(options, dataclasses.asdict(result))


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
        print(json.dumps(done, ensure_ascii=False))
        return
    changes = done.pop("changes", ())
    print(", ".join(f"{name} {value}" for name, value in done.items() if value is not None))
    for change in changes if isinstance(changes, (list, tuple)) else ():
        print(f"  {change}")
