"""One connection that stays open while a data folder is in use, so that no other one is ever the last.

SQLite copies its write-ahead log into the database, and waits for the disk, whenever the last connection is closed. A
service whose threads open one for each use would pay for that at every read of a label.
"""

import sqlite3
import threading
from pathlib import Path


class Anchor:
    """Holds a database open; safe to use from several threads, and to close twice."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: sqlite3.Connection | None = None
        self._closed = False

    def hold(self, database: Path) -> None:
        """Hold this database, which is there already, unless one is held; where it cannot be, all goes on as before."""
        if self._held is not None or self._closed:
            return
        with self._lock:
            if self._held is None and not self._closed:
                connection = sqlite3.connect(database, isolation_level=None, check_same_thread=False)
                try:
                    connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchall()  # the log opens at a read
                except sqlite3.Error:
                    connection.close()
                    return
                self._held = connection

    def close(self) -> None:
        """Hold it no longer."""
        with self._lock:
            self._closed = True
            if self._held is not None:
                self._held.close()
                self._held = None
