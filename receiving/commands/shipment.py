"""``receiving add``, ``export`` and ``void``: what one shipment takes in, gives out, or no longer counts.

Photos, scans, codes and notes come in as the page takes them. A shipment that was imported by mistake is hidden from
every list, and brought back.
"""

import argparse
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeAlias, TypeVar

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import (
    FileKind,
    bytes_of_kind,
    check_not_inside,
    check_output,
    file_bytes,
    photo_paths,
    write_file,
)
from receiving.commands.terminal import (
    clear_progress,
    fault_words,
    say,
    show,
    show_fault,
    show_json,
    show_photo_progress,
)
from receiving.errors import BadRequest, Fault, FileFaults, ReceivingError, StoreError
from receiving.messages import joined, message, plural
from receiving.model import Place, Source

N = TypeVar("N")

_Add: TypeAlias = Callable[[service.Context, N, argparse.Namespace], object]


class NoteFaults(FileFaults):
    """A file of notes cannot be taken; none of it was stored."""

    what = message("list of notes")


def run_add(options: argparse.Namespace) -> int:
    """Add everything that was named; what has a fault adds nothing, the rest goes on, and the status is 1."""
    if not any((options.photos, options.scans, options.codes, options.notes)):
        raise BadRequest(
            message("Nothing was named to add."), next_step=message("Use --photos, --scans, --codes or --notes.")
        )
    with service.Context.at(options.data, workers=options.workers) as ctx:
        service.get_version(ctx, options.shipment)  # an unknown shipment is named before anything is read
        failed = sum(_failed(_scans, ctx, path, options) for path in options.scans)
        failed += sum(_failed(_code, ctx, code, options) for code in options.codes)
        failed += sum(_failed(_notes, ctx, path, options) for path in options.notes)
        failed += _photos(ctx, options)
        service.write_command(ctx, "add", shipment=options.shipment)
    return FAILED if failed else DONE


def _failed(add: "_Add[N]", ctx: service.Context, named: N, options: argparse.Namespace) -> bool:
    """Add what was named; True when it failed, which is told by its name."""
    try:
        add(ctx, named, options)
    except ReceivingError as fault:
        show_fault(message("{file}: {fault}", file=str(named), fault=fault_words(fault)))
        return True
    return False


def _scans(ctx: service.Context, path: Path, options: argparse.Namespace) -> None:
    for answer in service.add_scans(ctx, options.shipment, path.name, bytes_of_kind(path, FileKind.SCANS)):
        _say_scan(answer, options)


def _code(ctx: service.Context, code: str, options: argparse.Namespace) -> None:
    place = Place(options.place)
    answer = service.add_scan(ctx, options.shipment, code, place=place, by=options.by, source=Source.TYPED)
    _say_scan(answer, options)


def _say_scan(answer: service.ScanAnswer, options: argparse.Namespace) -> None:
    if options.json:
        show_json(
            {
                "scan": answer.read_id,
                "outcome": answer.outcome.value,
                "carton": answer.carton or None,
                "open_first": answer.open_first,
                "why": str(answer.sentence),
            }
        )
    else:
        stated = say(answer.sentence)
        ended = stated if stated.endswith((".", "?")) else f"{stated}."
        show(joined(ended, message("Open it first.")) if answer.open_first else ended)


def _notes(ctx: service.Context, path: Path, options: argparse.Namespace) -> None:
    """All notes of a file or none; a line with an ``action_id`` that was taken before is answered, not taken twice."""
    noted = []
    with ctx.transaction():
        for line, fields in _note_lines(path):
            try:
                noted.append((fields["kind"], _note(ctx, options, dict(fields))))
            except ReceivingError as fault:
                raise NoteFaults(path.name, (Fault(line, 0, fault.words),)) from fault
    for kind, note_id in noted:
        show_json({"note": note_id, "kind": kind}) if options.json else show(message("Noted: {kind}.", kind=kind))


def _note(ctx: service.Context, options: argparse.Namespace, fields: dict[str, object]) -> str:
    kind, by = str(fields.pop("kind")), str(fields.pop("by", options.by))
    action_id = str(fields.pop("action_id", ""))
    content = {"command": "add note", "shipment": options.shipment, "kind": kind, "by": by, "fields": fields}
    return service.run_once(
        ctx,
        action_id,
        content,
        lambda: service.add_note(ctx, options.shipment, kind, by=by, **fields).note_id,
        str,
    )


def _note_lines(path: Path) -> Iterator[tuple[int, dict[str, object]]]:
    """Each JSON object with its line; NoteFaults names every line that is none."""
    faults, found = [], []
    for line, text in enumerate(file_bytes(path).decode("utf-8-sig", errors="replace").split("\n"), 1):
        if not text.strip():
            continue
        try:
            value = json.loads(text)
        except (ValueError, RecursionError):
            value = None
        if isinstance(value, dict) and isinstance(value.get("kind"), str):
            found.append((line, value))
        else:
            faults.append(Fault(line, 0, message('this is not a JSON object on one line with a "kind"')))
    if faults or not found:
        raise NoteFaults(path.name, tuple(faults) or (Fault(0, 0, message("there is no note in it")),))
    return iter(found)


def _photos(ctx: service.Context, options: argparse.Namespace) -> int:
    """Keep every photo, then wait until all are read; gives how many could not be kept or read."""
    kept: dict[str, Path] = {}

    def keep(ctx: service.Context, path: Path, options: argparse.Namespace) -> None:
        data = bytes_of_kind(path, FileKind.PHOTO)
        row = service.add_photo(ctx, options.shipment, path.name, data, place=Place(options.place), by=options.by)
        kept[row.photo] = path

    failed = sum(_failed(keep, ctx, path, options) for path in photo_paths(options.photos))
    show_photo_progress(0, len(kept))
    service.finish_photos(ctx)
    clear_progress()
    return failed + sum(_say_photo(ctx, photo, path, options) for photo, path in kept.items())


def _say_photo(ctx: service.Context, photo: str, path: Path, options: argparse.Namespace) -> bool:
    row = service.get_photo(ctx, options.shipment, photo).row
    if options.json:
        plain = {"photo": str(path), "id": photo, "status": row.status.value, "symbols": row.found}
        show_json(plain | ({"error": str(row.error)} if row.error else {}))
    elif row.error:
        show_fault(message("{file}: {fault}", file=str(path), fault=row.error))
    else:
        show(plural(row.found, "{file}: {number} symbol", "{file}: {number} symbols", file=str(path)))
    return bool(row.error)


_MAKERS: dict[str, Callable[[service.Context, str], str | bytes]] = {
    ".csv": service.make_result_csv,
    ".xlsx": service.make_result_xlsx,
    ".json": service.make_result_json,
}


def run_export(options: argparse.Namespace) -> int:
    """Write the result in the form that the file's name asks for."""
    make = _MAKERS.get(options.out.suffix.lower())
    if make is None:
        raise BadRequest(
            message("{file} does not say in which form.", file=str(options.out)),
            next_step=message("Let --out end in .csv, .xlsx or .json."),
        )
    check_not_inside(options.out, options.data)
    check_output(options.out, [])
    with service.Context.at(options.data) as ctx:
        made = make(ctx, options.shipment)
        try:
            service.write_command(ctx, "export", shipment=options.shipment, about=options.out.name)
        except StoreError as fault:  # on a full disk reading goes on
            show_fault(message("That this was exported is not written down: {fault}", fault=fault.words))
    write_file(options.out, made.encode() if isinstance(made, str) else made)
    show(message("The result of shipment {shipment} is in {file}", shipment=options.shipment, file=str(options.out)))
    return DONE


def run_void(options: argparse.Namespace) -> int:
    """Void the shipment, or restore it."""
    with service.Context.at(options.data) as ctx:
        if options.undo:
            service.restore_shipment(ctx, options.shipment, by=options.by, reason=options.reason)
        else:
            service.void_shipment(ctx, options.shipment, by=options.by, reason=options.reason)
        service.write_command(ctx, "void --undo" if options.undo else "void", shipment=options.shipment)
    if options.json:
        show_json({"shipment": options.shipment, "voided": not options.undo})
    elif options.undo:
        show(message("Shipment {shipment} counts again.", shipment=options.shipment))
    else:
        show(
            message(
                "Shipment {shipment} is voided: it is in no list. To bring it back: add --undo.",
                shipment=options.shipment,
            )
        )
    return DONE
