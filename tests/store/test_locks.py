"""What one process holds of the database stays held when it opens another connection.

Closing any handle of a file drops all POSIX locks that the process has on it (fcntl; SQLite, "How To Corrupt An SQLite
Database File", section 2.2). Another process then takes itself for the only one, and takes the log from under us.
"""

import subprocess
import sys
from pathlib import Path

from receiving.store.connection import connect, is_current, read_only

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
