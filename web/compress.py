"""Responses made smaller with gzip (RFC 9110, section 8.4.1.3), where the browser takes it and it pays.

The level is the one of tests/bench/compression.py: above it pages hardly shrink and the time grows. A page holds its
browser's token beside text that others wrote; an attack on compressed secrets (BREACH) needs a foreign site to ask for
pages with our cookies, which SameSite=Lax keeps from all but whole navigations.
"""

import gzip

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


def set_up(app: Flask) -> None:
    """Compress what the app answers; register it before whatever else changes responses, so that it comes last."""
    app.after_request(_compressed)


def _compressed(response: Response) -> Response:
    if not (response.mimetype or "").startswith(KINDS) or "Content-Encoding" in response.headers:
        return response
    response.vary.add("Accept-Encoding")
    if not request.accept_encodings["gzip"] or request.method == "HEAD" or response.status_code in (204, 206, 304):
        return response
    if response.direct_passthrough:
        _read_file(response)
    body = response.get_data()
    if len(body) < LEAST_BYTES:
        return response
    response.set_data(gzip.compress(body, LEVEL, mtime=0))
    response.headers["Content-Encoding"] = "gzip"
    tag, weak = response.get_etag()
    if tag and not weak:
        response.set_etag(tag, weak=True)  # the same content in other bytes (RFC 9110, section 8.8.1)
    return response


def _read_file(response: Response) -> None:
    """A static file, which the server would send by itself: its bytes are needed here."""
    file = response.response
    response.direct_passthrough = False
    response.set_data(b"".join(response.iter_encoded()))
    if hasattr(file, "close"):
        file.close()
