"""Kill the service at random moments and at every write boundary: what was acknowledged is there, once.

A process works at a data folder as phones make it work: scans, notes, photos and confirmations, each with an id of its
own; each answer is acknowledged to this script through a pipe. It is killed (SIGKILL), and the next process begins with
what was not acknowledged, as a phone sends it again. A boundary is each SQL statement, and each sync and rename of a
photo's file. At the end every record is there exactly once, and `check` finds everything whole.

    python tests/bench/kill_service.py --random 1000 --boundaries 400
"""

import argparse
import json
import os
import random
import signal
import sqlite3
import sys
import tempfile
import time
import traceback
import uuid
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PIL import Image

from receiving import service
from receiving.model import CartonSeen, PhotoReading, Place, Source
from tests.planned_reader import PlannedReader
from tests.service.conftest import MANIFEST

NAMES = uuid.UUID("7a6cf5f0-1c2f-5d2c-9d53-0f5d8a1f2b10")
LONGEST_S = 0.4
KINDS = ("scan", "note", "photo", "scan", "confirm")


class Reader(PlannedReader):
    """Finds nothing on any photo."""

    def read(self, name: str, data: bytes, expected: object = ()) -> PhotoReading:
        return PhotoReading(40, 30, ())


def deed_id(number: int) -> str:
    return str(uuid.uuid5(NAMES, str(number)))


def photo_bytes(number: int) -> bytes:
    out = BytesIO()
    Image.new("RGB", (40, 30), (number % 256, number // 256 % 256, 7)).save(out, "PNG")
    return out.getvalue()


def do(ctx: service.Context, number: int) -> None:
    """What a phone asks for; asked again it changes nothing."""
    kind, name = KINDS[number % len(KINDS)], deed_id(number)
    if kind == "scan":
        service.add_scan(
            ctx, "S-1", f"carton {number}", place=Place.DOCK, by="Ada", source=Source.SCANNER, scan_id=name
        )
    elif kind == "note":

        def note() -> str:
            return service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02", reason=name).note_id

        service.run_once(ctx, name, {"carton": "02", "reason": name}, note, str)
    elif kind == "photo":
        service.add_photo(ctx, "S-1", f"{number}.png", photo_bytes(number), place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
    else:

        def confirm() -> int:
            shown = service.show_receipt(ctx, "S-1")
            given = service.confirm(
                ctx,
                "S-1",
                shown.digest,
                name=name,
                role="Manager",
                with_exceptions=True,
                missing=service.MissingAnswer(searched=True),
            )
            return given.number

        service.run_once(ctx, name, {"receipt": name}, confirm, int)


def at_boundaries(reached: Callable[[], None]) -> None:
    """Call this before every SQL statement and every sync and rename of a file."""
    connect, sync, rename = sqlite3.connect, os.fsync, os.replace

    def traced(*values: object, **named: object) -> sqlite3.Connection:
        connection: sqlite3.Connection = connect(*values, **named)  # type: ignore[call-overload]
        connection.set_trace_callback(lambda statement: reached())
        return connection

    def synced(handle: int) -> None:
        reached()
        sync(handle)

    def renamed(*values: object, **named: object) -> None:
        reached()
        rename(*values, **named)  # type: ignore[arg-type]

    sqlite3.connect, os.fsync, os.replace = traced, synced, renamed  # type: ignore[assignment]


def work(data: Path, first: int, pipe: int, kill_at: int) -> None:
    """Do one deed after the other, and acknowledge each; die at the boundary with this number (0: never)."""
    count, opened = 0, False

    def reached() -> None:
        nonlocal count
        count += opened
        if opened and count == kill_at:
            os.kill(os.getpid(), signal.SIGKILL)

    if kill_at:
        at_boundaries(reached)
    with service.Context(data, Reader(), create=False) as ctx:
        service.resume_photos(ctx)
        service.finish_photos(ctx)
        os.write(pipe, b"o")
        opened = True
        for number in range(first, first + 10_000):
            do(ctx, number)
            os.write(pipe, b"x")


def forked(run: Callable[[int], None]) -> tuple[int, int]:
    """A process that runs this with the writing end of a pipe; its id, and the reading end."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(reading)
        status = 1
        try:
            run(writing)
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(status)
    os.close(writing)
    return process, reading


def ended(process: int, reading: int) -> tuple[int, bytes]:
    """Its status once it has ended, and all that it said."""
    output = b"".join(iter(lambda: os.read(reading, 65536), b""))
    os.close(reading)
    return os.waitpid(process, 0)[1], output


def kill_once(data: Path, first: int, *, after_s: float = 0.0, at: int = 0) -> int:
    """Work from this deed on until killed; gives how many deeds were acknowledged."""
    process, reading = forked(lambda pipe: work(data, first, pipe, at))
    os.read(reading, 1)  # it is open
    if not at:
        time.sleep(after_s)
        os.kill(process, signal.SIGKILL)
    status, output = ended(process, reading)
    if not os.WIFSIGNALED(status) or os.WTERMSIG(status) != signal.SIGKILL:
        raise SystemExit(f"the process ended by itself: {status}")
    return len(output)


def account(data: Path, done: int) -> dict[str, object]:
    """What is there beside what was acknowledged: all deeds below ``done``, and perhaps the one that was in work."""
    with service.Context(data, Reader(), create=False) as ctx:
        service.resume_photos(ctx)
        service.finish_photos(ctx)
        view = service.get_shipment(ctx, "S-1")
        there = [read.read_id for read in view.reads]
        there += [note.reason for note in view.notes if isinstance(note, CartonSeen)]  # confirming adds others
        there += [receipt.name for receipt in view.receipts]
        there += [photo.name for photo in view.photos]
        waiting = sum(photo.status is not service.PhotoStatus.READ for photo in view.photos)
        numbers = [receipt.number for receipt in view.receipts]
    wanted = {deed_id(n) if KINDS[n % len(KINDS)] != "photo" else f"{n}.png" for n in range(done)}
    in_work = {deed_id(done), f"{done}.png"}
    report = service.check(data)
    return {
        "acknowledged": done,
        "lost": len(wanted - set(there)),
        "doubled": len(there) - len(set(there)),
        "unasked": len(set(there) - wanted - in_work),
        "photos_unread": waiting,
        "receipts_in_order": numbers == list(range(1, len(numbers) + 1)),
        "damages": [f"{damage.kind} {damage.table} {damage.detail}" for damage in report.damages],
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--random", type=int, default=1000, help="kills at random moments")
    parser.add_argument("--boundaries", type=int, default=400, help="kills at the first, second, … boundary")
    parser.add_argument("--seed", type=int, default=20261127)
    options = parser.parse_args()
    rng, kills = random.Random(options.seed), 0
    with tempfile.TemporaryDirectory(prefix="kills-") as folder:
        data = Path(folder) / "data"

        def prepare(pipe: int) -> None:
            with service.Context(data, Reader()) as ctx:
                service.import_manifest(ctx, "m.csv", MANIFEST.encode())

        ended(*forked(prepare))
        done = 0
        for at in range(1, options.boundaries + 1):
            done += kill_once(data, done, at=at)
            kills += 1
        for _ in range(options.random):
            done += kill_once(data, done, after_s=rng.uniform(0.0, LONGEST_S))
            kills += 1
        status, output = ended(*forked(lambda pipe: os.write(pipe, json.dumps(account(data, done)).encode()) and None))
        print(json.dumps({"kills": kills, **(json.loads(output) if status == 0 else {"failed": status})}))


if __name__ == "__main__":
    main()
