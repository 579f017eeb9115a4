"""Responses made smaller with gzip (RFC 9110, section 8.4.1.3), where the browser takes it and it pays.

The level is the one of tests/bench/compression.py: above it pages hardly shrink and the time grows. A page holds its
browser's token beside text that others wrote; an attack on compressed secrets (BREACH) needs a foreign site to ask for
pages with our cookies, which SameSite=Lax keeps from all but whole navigations.
"""

import gzip
import threading
import zlib
from collections import OrderedDict
from collections.abc import Iterable, Iterator

from flask import Flask, Response, request

LEVEL = 4
LEAST_BYTES = 600
"""Below one packet nothing is gained."""

KINDS = (
    "text/",
    "application/json",
    "application/javascript",
    "application/manifest+json",
    "image/svg+xml",
    "application/xml",
)


MOST_CACHED_BYTES = 16 * 1024 * 1024
"""What is kept of bodies that were compressed lately: a board that did not change costs a third as much."""


class _Packed:
    """Bodies as they were compressed lately, the longest unasked for going first. Safe to use from several threads."""

    def __init__(self) -> None:
        self._kept: OrderedDict[bytes, bytes] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def of(self, body: bytes) -> bytes:
        """The body, compressed."""
        with self._lock:
            known = self._kept.get(body)
            if known is not None:
                self._kept.move_to_end(body)
                return known
        packed = gzip.compress(body, LEVEL, mtime=0)
        with self._lock:
            if len(body) <= MOST_CACHED_BYTES // 8 and body not in self._kept:
                self._kept[body] = packed
                self._bytes += len(body) + len(packed)
            while self._bytes > MOST_CACHED_BYTES:
                old, small = self._kept.popitem(last=False)
                self._bytes -= len(old) + len(small)
        return packed


_packed = _Packed()


def set_up(app: Flask) -> None:
    """Compress what the app answers; register it before whatever else changes responses, so that it comes last."""
    app.after_request(_compressed)


def _compressed(response: Response) -> Response:
    if not (response.mimetype or "").startswith(KINDS) or "Content-Encoding" in response.headers:
        return response
    response.vary.add("Accept-Encoding")
    if not request.accept_encodings["gzip"] or request.method == "HEAD" or response.status_code in (204, 206, 304):
        return response
    if response.is_streamed and not response.direct_passthrough:
        response.response = _compressed_parts(response.iter_encoded())
        response.headers["Content-Encoding"] = "gzip"
        return response
    if response.direct_passthrough:
        _read_file(response)
    body = response.get_data()
    if len(body) < LEAST_BYTES:
        return response
    response.set_data(_packed.of(body))
    response.headers["Content-Encoding"] = "gzip"
    tag, weak = response.get_etag()
    if tag and not weak:
        response.set_etag(tag, weak=True)  # the same content in other bytes (RFC 9110, section 8.8.1)
    return response


def _compressed_parts(parts: Iterable[bytes]) -> Iterator[bytes]:
    """What is made while it is sent is sent as it is made, compressed."""
    packer = zlib.compressobj(LEVEL, wbits=zlib.MAX_WBITS | 16)  # a gzip header and trailer (zlib's deflateInit2)
    for part in parts:
        yield packer.compress(part)
    yield packer.flush()


def _read_file(response: Response) -> None:
    """A static file, which the server would send by itself: its bytes are needed here."""
    file = response.response
    response.direct_passthrough = False
    response.set_data(b"".join(response.iter_encoded()))
    if hasattr(file, "close"):
        file.close()
