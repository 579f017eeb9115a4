"""Whose turn it is: scans go ahead, following a page gives way, and nobody waits for ever.

waitress gives requests to its threads in the order in which they came. All threads share one interpreter, so that each
one more that works at once makes all the others slower, and an answer that can come a second later keeps one waiting
that somebody stands before with a carton in his hands. So each kind of request has threads of its own, few for those
that need nothing but the interpreter; a scan is taken before all others, and following waits while scans do.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from waitress.task import ThreadedTaskDispatcher

SCANNED = "/scans"
"""Where scans are sent."""

FOLLOWED = ("/state", "/live")
"""What an open page asks for every second."""

SCANS_AT_ONCE = 3
"""One that is being stored, one that is about to be, and one that is answered: more only wait for each other."""

PAGES_AT_ONCE = 6
"""Pages, papers, uploads, imports: some of them wait for other processes."""

FOLLOWING_AT_ONCE = 2
"""A part that is drawn needs nothing but the interpreter; the second one is for those that need not wait for it."""

THREADS = SCANS_AT_ONCE + PAGES_AT_ONCE + FOLLOWING_AT_ONCE

AT_LEAST_EACH_S = 0.25
"""While scans wait, whoever follows is answered all the same once the wait is this long: one at a time."""


@dataclass
class Lane:
    """Requests of one kind that wait, and how many of them may be worked on at once."""

    most: int
    waiting: deque[Any] = field(default_factory=deque)
    working: int = 0

    @property
    def free(self) -> bool:
        """True where the next one of this lane may begin."""
        return bool(self.waiting) and self.working < self.most


class Lanes:
    """The queue of a dispatcher: what waits, by lane. Used under the dispatcher's lock alone.

    ``notify`` wakes one more thread, where more than one may begin.
    """

    def __init__(self, notify: Callable[[], None] = lambda: None, clock: Callable[[], float] = time.monotonic) -> None:
        self.scans, self.pages, self.following = Lane(SCANS_AT_ONCE), Lane(PAGES_AT_ONCE), Lane(FOLLOWING_AT_ONCE)
        self._notify, self._clock = notify, clock
        self._ended = False

    def append(self, channel: Any) -> None:
        """Let the first request of this connection wait in its lane."""
        channel.lane, channel.waits_since_s = self._lane_of(channel.requests[0]), self._clock()
        channel.lane.waiting.append(channel)

    def popleft(self) -> Any:
        """The connection whose turn it is; it works until `done`."""
        lane = self._next()
        if lane is None:
            raise IndexError("nothing may begin")
        channel = lane.waiting.popleft()
        lane.working += 1
        if self:
            self._notify()
        return channel

    def done(self, lane: Lane) -> None:
        """One of this lane is answered; its thread looks for the next by itself."""
        lane.working -= 1

    def end(self) -> None:
        """No limits any more: what waits is only taken out."""
        self._ended = True

    def __bool__(self) -> bool:
        """True where one that waits may begin."""
        return self._next() is not None

    def __len__(self) -> int:
        return sum(len(lane.waiting) for lane in (self.scans, self.pages, self.following))

    def _lane_of(self, request: Any) -> Lane:
        path = str(getattr(request, "path", ""))
        if request.command == "POST":
            return self.scans if path.endswith(SCANNED) else self.pages
        return self.following if path.endswith(FOLLOWED) else self.pages

    def _next(self) -> Lane | None:
        lanes: tuple[Lane, ...] = (self.scans, self.pages, self.following)
        if self._ended:
            return next((lane for lane in lanes if lane.waiting), None)
        if self.following.free and self.scans.waiting:
            waited_s = self._clock() - self.following.waiting[0].waits_since_s
            if not self.following.working and waited_s > AT_LEAST_EACH_S:
                return self.following
            lanes = lanes[:2]
        return next((lane for lane in lanes if lane.free), None)


class _Turns(threading.Condition):
    """Wakes threads now and then while something waits: whose turn it is changes with time, and nobody says so."""

    def __init__(self, lock: threading.Lock, queue: Lanes) -> None:
        super().__init__(lock)
        self._queue = queue

    def wait(self, timeout: float | None = None) -> bool:
        """As usual; while something waits, no longer than until following may have its turn."""
        return super().wait(AT_LEAST_EACH_S if timeout is None and len(self._queue) else timeout)


class Dispatcher(ThreadedTaskDispatcher):  # type: ignore[misc]
    """Threads that take requests in this order."""

    def __init__(self) -> None:
        super().__init__()
        self.queue = Lanes(lambda: self.queue_cv.notify())
        self.queue_cv = _Turns(self.lock, self.queue)
        self.set_thread_count(THREADS)

    def done(self, lane: Lane) -> None:
        """Say that a request of this lane is answered; called by the thread that answered it."""
        with self.lock:
            self.queue.done(lane)

    def shutdown(self, cancel_pending: bool = True, timeout: float = 5) -> bool:
        """End the threads, and take out what still waits."""
        with self.lock:
            self.queue.end()
        return bool(super().shutdown(cancel_pending, timeout))
