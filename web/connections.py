"""Connections under load: how many, how slowly a request may come in, and how long one may wait for its turn.

waitress reads every connection in one thread and gives whole requests to its threads. What it leaves open is bounded
here: connections that are kept and idle make room for new ones, a request that trickles in is given up, and one whose
turn comes too late is told to come again, so that those behind it are answered in time.
"""

import selectors
import threading
import time
from collections.abc import Iterable
from functools import partial
from ipaddress import ip_address
from typing import Any

from flask import Flask, request
from waitress import wasyncore
from waitress.channel import HTTPChannel
from waitress.task import WSGITask

from receiving.errors import Limit, WorkStopped
from receiving.messages import figure, message
from web.lanes import FOLLOWED, Lane

MOST_CONNECTIONS = 1000
"""Browsers keep up to six each; poll(2) has no limit of its own, unlike select(2)."""

FILES_OF_OUR_OWN = 96
"""Descriptors that the service needs beside connections: the database three times in each thread, photos, processes."""

FEWEST_CONNECTIONS = 16

IDLE_S = 60
HEADERS_WITHIN_S = 20.0
BODY_GRACE_S = 60.0
SLOWEST_BODY_BYTES_S = 2_000
"""A photo over a weak mobile signal comes at some 20 kB/s; a tenth of that is nobody's phone."""

CROWDED, ROOMY = 0.9, 0.6
"""From which share of the connections idle ones are closed, and down to which."""

WATCHING_S, LOOKING_S, STORING_S = 3.0, 5.0, 15.0
"""How long a request may wait for its turn: one that follows a page asks again by itself, one that brings something
is the last to be sent away (a phone gives up after 30 s, and keeps it)."""

LOOK_AT_ALL_S = 0.5
"""How often all are looked at: connections that are to be closed for being idle or slow are only marked so."""

SENT_AT_ONCE_BYTES = 16 * 1024
"""Head and body of an answer go to the system together: each call may cost the thread its turn with the interpreter."""

_READ, _WRITE = selectors.EVENT_READ, selectors.EVENT_WRITE

WAITED = "receiving.waited_s"


def is_loopback(host: str) -> bool:
    """True for a host that only this machine reaches.

    >>> is_loopback("127.0.0.1"), is_loopback("localhost"), is_loopback("0.0.0.0"), is_loopback("")
    (True, True, False, False)
    """
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


class _Task(WSGITask):  # type: ignore[misc]
    """A request that knows how long it waited."""

    def get_environment(self) -> dict[str, Any]:
        """The WSGI environment (PEP 3333), with the seconds between the request's last byte and its turn."""
        environ: dict[str, Any] = super().get_environment()
        environ[WAITED] = time.monotonic() - getattr(self.request, "arrived_s", time.monotonic())
        return environ

    def service(self) -> None:
        """Answer, and send the answer from this thread: the loop may have to wait for its turn to do so."""
        super().service()
        self.channel.send_now()


class Channel(HTTPChannel):  # type: ignore[misc]
    """A connection that knows since when the request in hand comes in, and when a whole one arrived."""

    task_class = _Task
    began_s = 0.0
    lane: Lane
    waits_since_s = 0.0

    def service(self) -> None:
        """Work on the first request, in a thread of its own; waitress wakes its loop where something changed."""
        self.requests[0].begun = True
        self._map.touch(self._fileno)
        lane = self.lane
        try:
            super().service()
        finally:
            self.server.task_dispatcher.done(lane)

    def received(self, data: bytes) -> Any:
        """Take in what came."""
        if self.request is None:
            self.began_s = time.monotonic()
        result = super().received(data)
        for whole in tuple(self.requests):
            if not hasattr(whole, "arrived_s"):
                whole.arrived_s = time.monotonic()
        return result

    def send_now(self) -> None:
        """Send what was answered; what the system does not take at once is left to the loop."""
        with self.outbuf_lock:
            if self.connected and self.total_outbufs_len:
                self._flush_exception(self._flush_some, do_close=False)

    def writable(self) -> bool:
        """True where the loop has something to write or to close.

        Not while a thread works at the answer, unless it waits for room: it sends by itself. Waitress' loop is woken as
        soon as an answer begins, cannot write while the thread does, and turns as fast as it can until that has ended;
        with a hundred phones it took a third of the interpreter from the threads that it waited for.
        """
        most = self.adj.outbuf_high_watermark if self.requests else 0
        return bool(self.total_outbufs_len > most or self.will_close or self.close_when_flushed)

    @property
    def idle(self) -> bool:
        """Nothing comes in, nothing is worked on, nothing is left to send."""
        return self.request is None and not self.requests and not self.total_outbufs_len

    @property
    def is_quiescent(self) -> bool:
        """Only what comes in, or a thread that begins to work, will change what this connection can take.

        Asked of a connection whose thread may end meanwhile: what says that something is left to do is looked at last.
        """
        first = next(iter(self.requests), None)
        in_work = getattr(first, "begun", False) if first else self.request is not None
        return not (in_work or self.total_outbufs_len or self.will_close or self.close_when_flushed)

    def too_slow(self, now_s: float) -> bool:
        """A request began to come in, and takes longer than any phone would."""
        coming = self.request
        if coming is None or self.requests:
            return False
        took_s = now_s - self.began_s
        if not coming.headers_finished:
            return took_s > HEADERS_WITHIN_S
        body = coming.body_rcv
        got = len(body.getbuf()) if body is not None else 0
        return took_s > BODY_GRACE_S and got < SLOWEST_BODY_BYTES_S * took_s


class Sockets(dict[int, Any]):
    """The sockets of waitress by descriptor, which it puts in and takes out itself, with what each one waits for.

    waitress' own loop asks every open connection at every turn whether it is to be read or written, and takes two turns
    a request: with 100 phones that follow their pages that was 40 % of what the service did. A connection changes by
    what comes in on it and by the thread that works for it alone, so the others stay as they are with the system.
    """

    def __init__(self) -> None:
        super().__init__()
        self._selector = selectors.DefaultSelector()
        self._lock = threading.Lock()
        self._watched: dict[int, int] = {}
        self._always: set[int] = set()
        self._touched: set[int] = set()
        self._all_at_s = 0.0

    def __setitem__(self, descriptor: int, socket: Any) -> None:
        super().__setitem__(descriptor, socket)
        (self._touched if isinstance(socket, Channel) else self._always).add(descriptor)

    def __delitem__(self, descriptor: int) -> None:
        """Taken out before it is closed, in whatever thread, so that its number can be another's at once.

        Also twice: where a service is closed while its loop closes idle connections, two threads close the same one.
        """
        with self._lock:
            self.pop(descriptor, None)
            self._always.discard(descriptor)
            self._touched.discard(descriptor)
            if self._watched.pop(descriptor, 0):
                self._selector.unregister(descriptor)

    def turn(self, timeout_s: float) -> None:
        """Wait until one of them can be read or written, at most this long, and let each that can do so."""
        now_s = time.monotonic()
        if now_s >= self._all_at_s:
            self._all_at_s = now_s + LOOK_AT_ALL_S
            self._touched.update(set(self) - self._always)
        for descriptor in (*self._always, *self._touched):
            self._look_at(descriptor)
        for key, events in self._selector.select(timeout_s):
            socket = self.get(key.fd)
            if socket is None:
                continue
            if key.fd not in self._always:
                self._touched.add(key.fd)
            if events & _READ:
                if socket.readable():
                    wasyncore.read(socket)
                else:  # a request behind the one in work: left with the system until that is answered
                    self._watch(key.fd, socket, 0)
            if events & _WRITE and self.get(key.fd) is socket:
                wasyncore.write(socket)

    def touch(self, descriptor: int) -> None:
        """A thread begins to work for this connection, which can change from now on; called in that thread."""
        self._touched.add(descriptor)

    def _look_at(self, descriptor: int) -> None:
        """Watch a socket for what it wants now, and look at it the next time only where that may change by itself.

        In this order: a thread may begin to work for it meanwhile, or may end, and wakes the loop afterwards.
        """
        self._touched.discard(descriptor)
        socket = self.get(descriptor)
        if socket is None:
            return
        is_quiescent = isinstance(socket, Channel) and socket.is_quiescent
        events = _READ if socket.readable() else 0
        if socket.writable() and not socket.accepting:
            events |= _WRITE
        if events or self._watched.get(descriptor) != _READ:  # what may come in is heard of while a thread works, too
            self._watch(descriptor, socket, events)
        if not is_quiescent and descriptor not in self._always:
            self._touched.add(descriptor)

    def _watch(self, descriptor: int, socket: Any, events: int) -> None:
        with self._lock:
            before = self._watched.get(descriptor, 0)
            if events == before or self.get(descriptor) is not socket:
                return
            self._watched[descriptor] = events
            if not before:
                self._selector.register(descriptor, events)
            elif not events:
                self._selector.unregister(descriptor)
            else:
                self._selector.modify(descriptor, events)


def limit_connections(servers: Iterable[Any]) -> None:
    """Limit the connections of these waitress servers."""
    for server in servers:
        server.channel_class = Channel
        server.adj.send_bytes = SENT_AT_ONCE_BYTES
        server.maintenance = partial(_maintain, server, server.maintenance)


def _maintain(server: Any, usual: Any, now: float) -> None:
    """Waitress calls this every ``cleanup_interval`` seconds."""
    usual(now)
    now_s = time.monotonic()
    channels = tuple(server.active_channels.values())
    for channel in channels:
        if channel.too_slow(now_s):
            channel.will_close = True
    most = server.adj.connection_limit
    held = len(server._map)  # what waitress itself holds against its limit: connections, and some sockets of its own
    if held >= CROWDED * most:
        idle = sorted((channel for channel in channels if channel.idle), key=lambda channel: channel.last_activity)
        for channel in idle[: held - int(ROOMY * most)]:
            channel.will_close = True


def most_connections(descriptors: int, *, each: int = 1) -> int:
    """How many connections may be open where the process may have this many descriptors, of which one takes ``each``.

    A service without a descriptor left can neither take a connection nor open its database.
    """
    room = (descriptors - FILES_OF_OUR_OWN) // each
    return max(FEWEST_CONNECTIONS, min(MOST_CONNECTIONS, room))


def set_up(app: Flask) -> None:
    """Send away what waited too long for its turn: before anything else is done for it."""
    app.before_request(_in_time)


def _in_time() -> None:
    waited_s = float(request.environ.get(WAITED, 0.0))
    if waited_s > _patience_s():
        raise WorkStopped(
            message(
                "The service is busy: this request waited {waited_s} s for its turn, and nothing was done for it.",
                waited_s=figure(waited_s),
            ),
            Limit.BUSY,
            next_step=message("Try again in a moment."),
        )


def _patience_s() -> float:
    if request.method == "POST":
        return STORING_S
    return WATCHING_S if request.path.endswith(FOLLOWED) else LOOKING_S
