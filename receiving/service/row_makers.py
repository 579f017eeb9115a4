"""Who makes the rows of lists where they are many: the thread that asks, or a process of its own."""

import logging
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from receiving.workers import Limits, WorkerPool

_log = logging.getLogger(__name__)


class RowMaker(Protocol):
    """Makes rows that are many."""

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Make, or begin to make, all rows of a data folder; ``make_some`` makes some here, False when none is left."""
        ...

    def close(self) -> None:
        """Give up what is in work."""
        ...


class RowsHere:
    """Makes them in the thread that asks: for commands and tests."""

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Make all rows that are to be made."""
        while make_some():
            pass

    def close(self) -> None:
        """Nothing is in work."""


class RowsAway:
    """Makes them in a process of its own, at low priority, one after the other."""

    def __init__(self) -> None:
        self._pool = WorkerPool(1, Limits(wall_s=3600, memory_mb=2048, open_files=64), name="rows")
        self._lock = threading.Lock()
        self._working = False

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Begin to make them, unless that is in work."""
        with self._lock:
            if self._working:
                return
            self._working = True
        threading.Thread(target=self._work, args=(data,), name="rows", daemon=True).start()

    def _work(self, data: Path) -> None:
        try:
            self._pool.run("receiving.service.list_pages:make_all_rows", data)
        except Exception as fault:
            _log.warning("rows of lists were not made: %s", fault)
        finally:
            self._working = False

    def close(self) -> None:
        """End the process; what is not made is made later."""
        self._pool.close()
