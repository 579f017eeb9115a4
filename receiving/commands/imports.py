"""``receiving import`` and ``template``: files into the data folder, and empty ones to fill in, each explained inside.

Manifests, ship notices, layouts, label patterns, kits, lists of stores.
"""

import argparse
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import HEAD_BYTES, FileKind, kind_of, open_file, write_file, wrong_kind
from receiving.commands.terminal import fault_words, show, show_fault, show_json
from receiving.errors import BadRequest, ReceivingError
from receiving.expected import Progress, read_layout, read_stores
from receiving.messages import Text, figure, joined, message

V = TypeVar("V")

SAY_AFTER_S = 2.0

MASTER_DATA = (FileKind.LAYOUT, FileKind.PATTERNS, FileKind.KIT, FileKind.STORES)


def run_import(options: argparse.Namespace) -> int:
    """Import every file; one with a fault loads nothing, the others go on, and the status is 1."""
    status = DONE
    with service.Context.at(options.data, create=True) as ctx:
        for path in options.files:
            try:
                _import(ctx, path, options)
            except ReceivingError as fault:
                status = FAILED
                show_fault(message("{file}: {fault}", file=str(path), fault=fault_words(fault)))
    return status


def _import(ctx: service.Context, path: Path, options: argparse.Namespace) -> None:
    how = {"shipper": options.shipper, "restore_zeros": options.restore_zeros}
    with open_file(path) as file:
        kind = kind_of(file.read(HEAD_BYTES))
        file.seek(0)
        if kind in MASTER_DATA or path.suffix.lower() == ".toml":
            _import_master_data(ctx, path, kind, file.read(), options)
            if not options.preview:
                service.write_command(ctx, "import", about=path.name)
        elif kind not in (FileKind.MANIFEST, FileKind.UNKNOWN):
            raise wrong_kind(path, kind, message("a file that can be imported"))
        elif options.preview:
            with _print_progress(path):
                preview = service.preview_import(ctx, path.name, file.read(), **how)
            _warn(path, preview.warnings, preview.unused)
            for manifest in preview.manifests:
                _say(options, dict(vars(manifest)))
        else:
            with _print_progress(path):
                done = service.import_stream(ctx, path.name, file, progress=_progress(path), **how)
            _warn(path, done.warnings, done.unused)
            service.write_command(ctx, "import", about=path.name)
            for result in done.manifests:
                _say(options, dict(vars(result)))


def _warn(path: Path, warnings: tuple[Text, ...], unused: tuple[Text, ...]) -> None:
    for warning in warnings:
        show_fault(message("{file}: {fault}", file=path.name, fault=warning))
    for left in unused:
        show_fault(message("{file}: left out: {values}", file=path.name, values=left))


@contextmanager
def _print_progress(path: Path) -> Iterator[None]:
    """Say on a terminal every few seconds that a table is being read, which tells nothing of itself until its end."""
    if not sys.stderr.isatty():
        yield
        return
    started, done = time.monotonic(), threading.Event()

    def say() -> None:
        while not done.wait(SAY_AFTER_S):
            seconds = figure(time.monotonic() - started)
            show_fault(message("{file}: reading, {seconds} s", file=path.name, seconds=seconds))

    thread = threading.Thread(target=say, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def _progress(path: Path) -> Callable[[Progress], None] | None:
    """Say every second on a terminal how far a long file is; a pipe or a file gets nothing."""
    if not sys.stderr.isatty():
        return None
    size, shown_s = path.stat().st_size or 1, [time.monotonic()]

    def say(progress: Progress) -> None:
        if time.monotonic() - shown_s[0] >= 1:
            shown_s[0] = time.monotonic()
            show_fault(
                message(
                    "{file}: {percent}%, shipments: {shipments}, cartons: {cartons}",
                    file=path.name,
                    percent=figure(100 * min(progress.bytes_read / size, 1)),
                    shipments=figure(progress.manifests),
                    cartons=figure(progress.cartons),
                )
            )

    return say


def _import_master_data(
    ctx: service.Context, path: Path, kind: FileKind, data: bytes, options: argparse.Namespace
) -> None:
    """A layout, label patterns, a kit or a list of stores: checked, and stored unless this is a preview."""
    name = path.name
    if kind is FileKind.PATTERNS:
        patterns = _import_text(ctx, service.PATTERNS, name, data, options)
        _say(options, {"file": name, "what": "label patterns", "patterns": len(patterns)})
    elif kind is FileKind.KIT:
        kit = _import_text(ctx, service.KIT, name, data, options)
        _say(options, {"file": name, "what": "kit", "places": len(kit.places) if kit else 0})
    elif kind is FileKind.STORES:
        listed = len(read_stores(name, data))
        changed = None if options.preview else service.import_stores(ctx, name, data)
        _say(options, {"file": name, "what": "list of stores", "stores": listed, "changed": changed})
    else:
        layout = read_layout(name, data) if options.preview else service.import_layout(ctx, name, data)
        _say(options, {"file": name, "what": "layout", "store": layout.store, "bays": len(layout.bays)})


def _import_text(
    ctx: service.Context, of: service.TextDocument[V], name: str, data: bytes, options: argparse.Namespace
) -> V:
    return of.read(name, data) if options.preview else service.import_text(ctx, of, name, data)


def _say(options: argparse.Namespace, done: dict[str, Any]) -> None:
    changes = done.pop("changes", None)
    if options.json:
        show_json(done if changes is None else {**done, "changes": list(map(str, changes))})
        return
    words = [_DONE_WORDS[name](value) for name, value in done.items() if value is not None]
    show(joined(*words, separator=", "))
    for change in changes or ():
        show(joined("  ", change, separator=""))


_WHAT = {
    "label patterns": message("label patterns"),
    "kit": message("kit"),
    "list of stores": message("list of stores"),
    "layout": message("layout"),
}

_STATUS = {
    "new": message("status new"),
    "changed": message("status changed"),
    "unchanged": message("status unchanged"),
}

_DONE_WORDS: dict[str, Callable[[Any], Text]] = {
    "file": lambda value: message("file {file}", file=value),
    "what": lambda value: message("kind {kind}", kind=_WHAT[value]),
    "patterns": lambda value: message("patterns {number}", number=value),
    "places": lambda value: message("places {number}", number=value),
    "stores": lambda value: message("stores {number}", number=value),
    "changed": lambda value: message("changed {number}", number=value),
    "bays": lambda value: message("bays {number}", number=value),
    "cartons": lambda value: message("cartons {number}", number=value),
    "shipment": lambda value: message("shipment {shipment}", shipment=value),
    "store": lambda value: message("store {store}", store=value),
    "status": lambda value: _STATUS[value],
    "revision": lambda value: message("revision {number}", number=value),
}

FILES = ("manifest.csv", "layout.toml", "patterns.toml")


def run_template(options: argparse.Namespace) -> int:
    """Write the files that are not there yet; one that is there stops all, and none is written."""
    folder: Path = options.out
    _check(folder)
    for name in FILES:
        write_file(folder / name, template(name))
        show(str(folder / name))
    load = f"receiving import {folder / FILES[0]} {folder / FILES[1]}"
    show(message("Fill them in, then load them: {command}", command=load))
    show(message("The pattern file is needed only where labels carry texts of your own shippers; the photos tell."))
    return DONE


def template(name: str) -> bytes:
    """The template of this name."""
    return (resources.files("receiving.commands") / "templates" / name).read_bytes()


def _check(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadRequest(
            message("The folder {folder} cannot be used: {fault}.", folder=str(folder), fault=fault.strerror),
            next_step=message("Choose another with --out FOLDER."),
        ) from fault
    there = [str(folder / name) for name in FILES if (folder / name).exists()]
    if there:
        raise BadRequest(
            message("Already there: {files}; nothing was written.", files=", ".join(there)),
            next_step=message("Choose another --out FOLDER."),
        )
