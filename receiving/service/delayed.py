"""Work that is due after a while: one thread waits for all of it, so that nothing that works is held up by waiting."""

import heapq
import itertools
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field


@dataclass(order=True)
class _Due:
    at_s: float
    number: int
    start: Callable[[], None] = field(compare=False)
    waits: Future[None] = field(compare=False, default_factory=Future)


class Delayed:
    """Starts work when it is due, in turn, in a thread that lives while there is any; safe to use from several threads.

    What is started must take a moment: it hands the work on to those who do it.
    """

    def __init__(self) -> None:
        self._due: list[_Due] = []
        self._changed = threading.Condition()
        self._numbers = itertools.count()
        self._thread: threading.Thread | None = None
        self._closed = False

    def start_after(self, seconds: float, start: Callable[[], None]) -> Future[None]:
        """Call ``start`` once, after this many seconds; what is given is done when it was called, or is not to be."""
        due = _Due(time.monotonic() + seconds, next(self._numbers), start)
        with self._changed:
            if self._closed:
                due.waits.set_result(None)
                return due.waits
            heapq.heappush(self._due, due)
            if self._thread is None:
                self._thread = threading.Thread(target=self._go_on, name="delayed", daemon=True)
                self._thread.start()
            self._changed.notify()
        return due.waits

    def _go_on(self) -> None:
        while due := self._next():
            try:
                due.start()
            except Exception as fault:
                due.waits.set_exception(fault)
            else:
                due.waits.set_result(None)

    def _next(self) -> _Due | None:
        """The next that is due, once it is; None where nothing waits any more, and then the thread ends."""
        with self._changed:
            while self._due and (wait_s := self._due[0].at_s - time.monotonic()) > 0:
                self._changed.wait(wait_s)
            if self._due:
                return heapq.heappop(self._due)
            self._thread = None
            return None

    def close(self) -> None:
        """Start nothing any more: what waits never is, and whoever waits for it goes on."""
        with self._changed:
            self._closed = True
            waiting, self._due = self._due, []
            self._changed.notify()
        for due in waiting:
            due.waits.set_result(None)
