"""Who waits to write: few, so that a lock that another program holds leaves threads to read with."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from receiving.errors import StoreError

MOST_WAITING = 4
"""Threads that may wait once the first of them has waited long; a server has eight."""

PATIENCE_S = 1.0
"""A write takes milliseconds: whoever waits longer waits for something that is held."""


class Waiting:
    """The threads of this process that wait for the right to write; one for each database."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._since_s: dict[int, float] = {}

    @contextmanager
    def one_more(self) -> Iterator[None]:
        """Wait inside. Raises StoreError at once where enough others have waited long already."""
        me, now_s = threading.get_ident(), time.monotonic()
        with self._lock:
            longest_s = now_s - min(self._since_s.values(), default=now_s)
            if len(self._since_s) >= MOST_WAITING and longest_s > PATIENCE_S:
                raise StoreError(
                    "The database is busy; nothing was stored.",
                    next_step="Another program holds it. Try again in a moment.",
                )
            self._since_s[me] = now_s
        try:
            yield
        finally:
            with self._lock:
                self._since_s.pop(me, None)


_WAITING: dict[str, Waiting] = {}


def waiting_at(database: str) -> Waiting:
    """The waiting threads of this database."""
    return _WAITING.setdefault(database, Waiting())
