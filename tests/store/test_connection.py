"""What one connection holds of the database, whatever others come and go: its log, and its locks."""

import subprocess
import sys
from pathlib import Path

from receiving.model import Place, Source
from receiving.service import Context, add_scan
from receiving.service.context import DATABASE
from receiving.store import Anchor, Store
from receiving.store.connection import connect, is_current, read_only
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_context


def log_of(folder: Path) -> Path:
    return folder / f"{DATABASE}-wal"


def test_the_log_outlives_each_use_and_ends_with_the_desk(tmp_path: Path) -> None:
    with open_context(tmp_path, PlannedReader()) as ctx:
        add_scan(ctx, SHIPMENT, "C1 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        data = ctx.data
        before = log_of(data).stat().st_size
        assert before > 0
        add_scan(ctx, SHIPMENT, "C2 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        assert log_of(data).stat().st_size >= before
    assert not log_of(data).exists()
    with Store(data / DATABASE) as store:
        assert len(store.reads(SHIPMENT)) == 2


def test_an_anchor_does_not_keep_others_from_writing(tmp_path: Path) -> None:
    with Context(tmp_path, PlannedReader()) as ctx, ctx.store() as store, store.transaction():
        assert store.shipments() == ()
    Anchor().close()


def test_a_file_that_is_not_a_database_is_left_to_the_store_to_name(tmp_path: Path) -> None:
    path = tmp_path / "x.sqlite"
    path.write_bytes(b"no database at all, but long enough to be looked at" * 40)
    anchor = Anchor()
    anchor.hold(path)
    anchor.close()
    anchor.close()


# --- what one process holds of the database stays held when it opens another connection -----------------------------
# Closing any handle of a file drops all POSIX locks that the process has on it (fcntl; SQLite, "How To Corrupt An
# SQLite Database File", section 2.2). Another process then takes itself for the only one, and takes the log from under
# us.


COMMAND = """
import sys
from pathlib import Path
from receiving.store.connection import connect
connect(Path(sys.argv[1]), create=False).conn.close()
"""


def test_a_command_beside_a_served_folder_does_not_take_its_log_away(tmp_path: Path) -> None:
    path = tmp_path / "receiving.sqlite"
    served = connect(path)
    served.conn.execute("SELECT count(*) FROM sqlite_master").fetchone()
    connect(path).conn.close()  # a thread's own
    assert is_current(path)
    with read_only(path):
        pass
    subprocess.run([sys.executable, "-c", COMMAND, str(path)], check=True)
    assert path.with_name(path.name + "-shm").exists(), "the other process thought that nobody else is here"
    assert path.with_name(path.name + "-wal").exists()
