"""Who makes the rows of lists where they are many: the thread that asks, or a process of its own."""

import logging
import math
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from receiving.workers import Limits, WorkerPool

WATCHED_S = 60.0
"""A board that is open asks every second; one in a tab behind others may ask once a minute."""

_log = logging.getLogger(__name__)


class RowMaker(Protocol):
    """Makes rows that are many. A list makes at most ``at_once`` itself; the others are made beside it."""

    at_once: int

    def asked(self) -> None:
        """Somebody looks at a list now."""
        ...

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Make, or begin to make, all rows of a data folder; ``make_some`` makes some here, False when none is left."""
        ...

    def close(self) -> None:
        """Give up what is in work."""
        ...


class RowsHere:
    """Makes them in the thread that asks: for commands and tests."""

    at_once = sys.maxsize

    def asked(self) -> None:
        """Nothing is made for those who look."""

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Make all rows that are to be made."""
        while make_some():
            pass

    def close(self) -> None:
        """Nothing is in work."""


class RowsAway:
    """Makes few beside the requests, in this process, where they are warm; many in a process of its own."""

    at_once = 5
    """A list waits for this many: a cold one takes some 15 ms of CPU."""

    def __init__(self) -> None:
        self.asked_s = -math.inf
        self._pool = WorkerPool(1, Limits(wall_s=3600, memory_mb=2048, open_files=64), name="rows")
        self._lock = threading.Lock()
        self._working = False

    def asked(self) -> None:
        """Somebody looks at a list now: rows are made soon after they went stale."""
        self.asked_s = time.monotonic()

    @property
    def watched(self) -> bool:
        """True when somebody looked at a list lately."""
        return time.monotonic() - self.asked_s < WATCHED_S

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
