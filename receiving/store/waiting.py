"""Who waits to write: few, so that a lock that another program holds leaves threads to read with."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from receiving.errors import StoreError
from receiving.messages import message

MOST_WAITING = 4
"""Threads that may wait once the first of them has waited long; a server has eight."""

LONGEST_TURN_S = 20.0
PATIENCE_S = 1.0
"""A write takes milliseconds: whoever waits longer waits for something that is held."""


class Waiting:
    """The threads of this process that wait for the right to write; one for each database."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._since_s: dict[int, float] = {}
        self._turn = threading.Lock()

    @contextmanager
    def in_turn(self) -> Iterator[None]:
        """One writer of this process at a time, in about the order in which they came. Raises StoreError.

        SQLite lets those that wait ask again now and then: some wait a second among others that wait a millisecond.
        """
        if not self._turn.acquire(timeout=LONGEST_TURN_S):
            raise _busy()
        try:
            yield
        finally:
            self._turn.release()

    @contextmanager
    def one_more(self) -> Iterator[None]:
        """Wait inside. Raises StoreError at once where enough others have waited long already."""
        me, now_s = threading.get_ident(), time.monotonic()
        with self._lock:
            longest_s = now_s - min(self._since_s.values(), default=now_s)
            if len(self._since_s) >= MOST_WAITING and longest_s > PATIENCE_S:
                raise _busy()
            self._since_s[me] = now_s
        try:
            yield
        finally:
            with self._lock:
                self._since_s.pop(me, None)


def _busy() -> StoreError:
    return StoreError(
        message("The database is busy; nothing was stored."),
        next_step=message("Another program holds it. Try again in a moment."),
    )


_WAITING: dict[str, Waiting] = {}


def waiting_at(database: str) -> Waiting:
    """The waiting threads of this database."""
    return _WAITING.setdefault(database, Waiting())
