"""A disk whose syncs, writes and opens fail now and then: each failure is said, and what was acknowledged is kept.

The calls of the C library are replaced in a process of its own (LD_PRELOAD), below SQLite and below our own files.
"""

import errno
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

STEPS = {
    errno.EIO: {"The disk is failing: copy the data folder with `receiving backup` while it can still be read"},
    errno.ENOSPC: {"The disk is full", "Free some space"},
    errno.EMFILE: {"Too much is going on at once"},
}
"""How the next step begins, by what failed."""

SHIM = Path(__file__).with_name("failing_disk.c")
ROUNDS = 60

PROGRAM = """
import json, os, sys, uuid
from pathlib import Path
from receiving import service
from receiving.errors import StoreError
from receiving.model import Place, Source
from receiving.service import photo_reading
from tests.planned_reader import PlannedReader
from tests.service.conftest import MANIFEST, picture

data, switch, rounds = Path(sys.argv[1]), Path(os.environ["FAILING_SWITCH"]), int(sys.argv[2])
NAMES = uuid.UUID("9a1f3f0e-6c55-5f0f-8a43-1b2c3d4e5f60")
done, faults = set(), []
photo_reading.RETRY_AFTER_S = (0.01, 0.05, 0.2)


def do(ctx, number):
    name = str(uuid.uuid5(NAMES, str(number)))
    if number % 2:  # photos alone open files for sure, and threads take some of the calls that fail
        service.add_photo(ctx, "S-1", f"{number}.png", picture() + bytes([number]), place=Place.DOCK, by="Ada")
    elif number % 4 == 2:
        service.run_once(ctx, name, {"n": number}, lambda: service.add_note(
            ctx, "S-1", "carton_seen", by="Ada", carton="02", reason=str(number)).note_id, str)
    else:
        service.add_scan(
            ctx, "S-1", f"carton {number}", place=Place.DOCK, by="", source=Source.TYPED, scan_id=name)
    done.add(number)


with service.Context(data, PlannedReader()) as ctx:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    for number in range(rounds):
        if number % 3:
            switch.touch()
        try:
            do(ctx, number)
        except StoreError as fault:
            faults.append([str(fault.message), str(fault.next_step)])
        switch.unlink(missing_ok=True)
        seen = service.get_shipment(ctx, "S-1")  # reading goes on
    acknowledged = set(done)
    ctx.wait()
    for number in range(rounds):  # as phones send again what was not acknowledged, and by mistake what was
        do(ctx, number)
    ctx.wait()

with service.Context(data, PlannedReader(), create=False) as ctx:
    view = service.get_shipment(ctx, "S-1")
    there = [read.raw.raw.split()[1] for read in view.reads] + [note.reason for note in view.notes]
    there += [photo.name.removesuffix(".png") for photo in view.photos]
report = service.check(data)
print(json.dumps({
    "acknowledged": len(acknowledged), "faults": faults, "there": sorted(map(int, there)),
    "damages": [f"{d.kind} {d.table} {d.detail}" for d in report.damages],
    "leftovers": [path.name for path in data.rglob(".incoming*")],
}))
"""


@pytest.fixture(scope="module")
def shim(tmp_path_factory: pytest.TempPathFactory) -> Path:
    compiler = shutil.which("cc") or shutil.which("gcc")
    if sys.platform != "linux" or not compiler:
        pytest.skip(
            "calls of the C library are replaced on Linux, with a C compiler (Debian: apt install gcc libc6-dev)"
        )
    library = tmp_path_factory.mktemp("shim") / "failing_disk.so"
    subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", library, SHIM, "-ldl"], check=True)
    return library


@pytest.mark.parametrize(
    ("call", "each", "number"),
    [
        ("sync", 1, errno.EIO),
        ("sync", 3, errno.EIO),
        ("write", 2, errno.EIO),
        ("write", 3, errno.ENOSPC),
        ("open", 2, errno.EMFILE),
    ],
)
def test_what_a_failing_disk_did_not_take_is_said_and_the_rest_is_kept(
    shim: Path, tmp_path: Path, call: str, each: int, number: int
) -> None:
    data = tmp_path / "data"
    failing = {"SWITCH": str(tmp_path / "fails"), "BELOW": str(data), "CALL": call, "EACH": str(each)}
    environment = {f"FAILING_{name}": value for name, value in failing.items()} | {"FAILING_ERRNO": str(number)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(data), str(ROUNDS)],
        env=os.environ | environment | {"LD_PRELOAD": str(shim)},
        cwd=Path(__file__).resolve().parents[2],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert len(found["faults"]) >= 5
    assert found["acknowledged"] + len(found["faults"]) == ROUNDS
    assert {step.partition(",")[0].partition(";")[0] for _, step in found["faults"]} <= STEPS[number]
    assert found["there"] == list(range(ROUNDS))
    assert (found["damages"], found["leftovers"]) == ([], [])


# --- the short form of `tests/bench/kill_service.py`, which kills a thousand times ----------------------------------


BENCH = Path(__file__).resolve().parents[1] / "bench" / "kill_service.py"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked to be killed")
def test_what_was_acknowledged_before_a_kill_is_there_once() -> None:
    command = [sys.executable, str(BENCH), "--random", "6", "--boundaries", "30"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=600)
    found = json.loads(done.stdout)
    assert found["kills"] == 36
    assert (found["lost"], found["doubled"], found["unasked"], found["photos_unread"]) == (0, 0, 0, 0)
    assert found["receipts_in_order"]
    assert found["damages"] == []
