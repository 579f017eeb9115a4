"""A full disk, a torn log, a held lock, two services at one folder: reading goes on, and nothing is half stored."""

import json
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from receiving import service
from receiving.dispatch import Selection
from receiving.errors import StoreError
from receiving.model import Place, Source
from receiving.store import Store
from receiving.store import connection as waiting_module
from tests.planned_reader import PlannedReader
from tests.service.conftest import MANIFEST

ON_A_SMALL_DISK = """
import json, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from receiving import service
from receiving.dispatch import Selection
from receiving.errors import StoreError
from receiving.model import Place, Source
from tests.planned_reader import PlannedReader
from tests.service.conftest import MANIFEST, picture

disk = Path(sys.argv[1])
stored, refused = 0, []
with service.Context(disk / "data", PlannedReader()) as ctx:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    service.get_list_page(ctx, Selection())
    with (disk / "ballast").open("wb", buffering=0) as ballast:
        try:
            while True:
                ballast.write(bytes(4096))
        except OSError:
            pass
    for number in range(400):
        try:
            service.add_scan(ctx, "S-1", f"carton {number} {'x' * 300}", place=Place.DOCK, by="", source=Source.TYPED)
            stored += 1
        except StoreError as fault:
            refused.append([str(fault.message), str(fault.next_step)])
            break
    try:
        service.add_photo(ctx, "S-1", "a.png", picture() + bytes(200_000), place=Place.DOCK, by="")
        refused.append(["a photo was taken", ""])
    except StoreError as fault:
        refused.append([str(fault.message), str(fault.next_step)])
    read = len(service.get_shipment(ctx, "S-1").reads)
    listed = len(service.get_list_page(ctx, Selection()).rows)
    (disk / "ballast").unlink()
    service.add_scan(ctx, "S-1", "there is room again", place=Place.DOCK, by="", source=Source.TYPED)
    print(json.dumps({
        "stored": stored, "refused": refused, "read": read, "listed": listed,
        "after": len(service.get_shipment(ctx, "S-1").reads), "whole": service.check(disk / "data").whole,
        "leftovers": [p.name for p in (disk / "data").rglob(".incoming*")],
    }))
"""


def test_on_a_full_disk_reading_goes_on_and_nothing_is_half_stored(tmp_path: Path) -> None:
    mount = 'mount -t tmpfs -o size=2m tmpfs "$1" && shift && exec "$@"'
    trial = ["unshare", "-rm", "sh", "-c", mount, "sh", str(tmp_path)]
    if not shutil.which("unshare") or subprocess.run([*trial, "true"], check=False, capture_output=True).returncode:
        pytest.skip("no small disk can be made here: util-linux and user namespaces are needed")
    project = Path(__file__).resolve().parents[2]
    program = [sys.executable, "-c", ON_A_SMALL_DISK, str(tmp_path), str(project)]
    done = subprocess.run([*trial, *program], capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    (scan, scan_step), (photo, _) = found["refused"]
    assert scan == "The database cannot be used: database or disk is full."
    assert scan_step.startswith("The disk is full; free some space")
    assert photo == "The photo could not be kept: No space left on device."
    assert found["read"] == found["stored"]
    assert (found["listed"], found["after"]) == (2, found["stored"] + 1)
    assert (found["whole"], found["leftovers"]) == (True, [])


@pytest.fixture
def data(tmp_path: Path) -> Path:
    with service.Context(tmp_path / "data", PlannedReader()) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST.encode())
        service.get_list_page(ctx, Selection())
    return tmp_path / "data"


def scan(ctx: service.Context, text: str) -> None:
    service.add_scan(ctx, "S-1", text, place=Place.DOCK, by="", source=Source.TYPED)


@pytest.mark.parametrize("kept", [0.0, 0.3, 0.6, 0.9, 0.99])
def test_a_log_that_was_torn_off_keeps_what_was_stored_before_the_tear(data: Path, tmp_path: Path, kept: float) -> None:
    """As a disk leaves it that lost its power: SQLite takes the log up to its last whole transaction."""
    copy = tmp_path / "copy"
    with service.Context(data, PlannedReader()) as ctx:
        for number in range(20):
            scan(ctx, f"carton {number}")
        shutil.copytree(data, copy)
    log = copy / "receiving.sqlite-wal"
    whole = log.read_bytes()
    log.write_bytes(whole[: int(len(whole) * kept)])
    (copy / "receiving.sqlite-shm").unlink()
    with service.Context(copy, PlannedReader(), create=False) as ctx:
        found = [read.raw.raw for read in service.get_shipment(ctx, "S-1").reads]
        assert found == [f"carton {number}" for number in range(len(found))]
        scan(ctx, "one more")
    assert service.check(copy).whole


@pytest.fixture
def locked(data: Path) -> Iterator[Path]:
    """Another program holds the database, and does not let go."""
    with closing(sqlite3.connect(data / "receiving.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield data


def test_a_lock_that_is_held_long_keeps_few_threads_and_no_reader(
    locked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(waiting_module, "PATIENCE_S", 0.2)
    faults: list[StoreError] = []
    with service.Context(locked, PlannedReader()) as ctx:

        def write() -> None:
            try:
                scan(ctx, "carton 01")
            except StoreError as fault:
                faults.append(fault)

        threads = [threading.Thread(target=write, daemon=True) for _ in range(8)]
        for thread in threads:
            thread.start()
            time.sleep(0.1)
        for thread in threads[waiting_module.MOST_WAITING :]:
            thread.join(5)
        assert sum(thread.is_alive() for thread in threads) == waiting_module.MOST_WAITING
        assert {str(fault.message) for fault in faults} == {"The database is busy; nothing was stored."}
        assert len(service.get_list_page(ctx, Selection()).rows) == 2
        assert service.get_shipment(ctx, "S-1").reads == ()


def test_two_services_at_one_folder_lose_and_double_nothing(data: Path) -> None:
    with service.Context(data, PlannedReader()) as one, service.Context(data, PlannedReader()) as two:

        def write(ctx: service.Context, name: str) -> None:
            for number in range(15):
                scan(ctx, f"{name} {number}")
                service.get_shipment(ctx, "S-1")

        threads = [threading.Thread(target=write, args=each) for each in ((one, "one"), (two, "two"))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        found = [sorted(read.raw.raw for read in service.get_shipment(ctx, "S-1").reads) for ctx in (one, two)]
    assert found[0] == found[1] == sorted(f"{name} {number}" for name in ("one", "two") for number in range(15))
    assert service.check(data).whole


def test_a_store_that_is_only_read_waits_for_nobody(locked: Path) -> None:
    with Store(locked / "receiving.sqlite", create=False) as store:
        assert len(store.shipments()) == 2
