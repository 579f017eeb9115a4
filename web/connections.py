"""Connections under load: how many, how slowly a request may come in, and how long one may wait for its turn.

waitress reads every connection in one thread and gives whole requests to its threads. What it leaves open is bounded
here: connections that are kept and idle make room for new ones, a request that trickles in is given up, and one whose
turn comes too late is told to come again, so that those behind it are answered in time.
"""

import time
from collections.abc import Iterable
from functools import partial
from typing import Any

from flask import Flask, request
from waitress.channel import HTTPChannel
from waitress.task import WSGITask

from receiving.errors import Limit, WorkStopped
from receiving.messages import figure, message

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

WATCHING_S, LOOKING_S, STORING_S = 1.0, 5.0, 15.0
"""How long a request may wait for its turn: one that follows a page asks again by itself, one that brings something
is the last to be sent away (a phone gives up after 30 s, and keeps it)."""

WAITED = "receiving.waited_s"


class _Task(WSGITask):  # type: ignore[misc]
    """A request that knows how long it waited."""

    def get_environment(self) -> dict[str, Any]:
        """The WSGI environment (PEP 3333), with the seconds between the request's last byte and its turn."""
        environ: dict[str, Any] = super().get_environment()
        environ[WAITED] = time.monotonic() - getattr(self.request, "arrived_s", time.monotonic())
        return environ


class Channel(HTTPChannel):  # type: ignore[misc]
    """A connection that knows since when the request in hand comes in, and when a whole one arrived."""

    task_class = _Task
    began_s = 0.0

    def received(self, data: bytes) -> Any:
        """Take in what came."""
        if self.request is None:
            self.began_s = time.monotonic()
        result = super().received(data)
        for whole in tuple(self.requests):
            if not hasattr(whole, "arrived_s"):
                whole.arrived_s = time.monotonic()
        return result

    @property
    def idle(self) -> bool:
        """Nothing comes in, nothing is worked on, nothing is left to send."""
        return self.request is None and not self.requests and not self.total_outbufs_len

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


def bound(servers: Iterable[Any]) -> None:
    """Bound the connections of these waitress servers."""
    for server in servers:
        server.channel_class = Channel
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
    return WATCHING_S if request.path.endswith(("/state", "/live")) else LOOKING_S
