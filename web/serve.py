"""The app served by waitress: eight threads, plain requests, no development server."""

import logging
from collections.abc import Callable
from typing import Any

from receiving.errors import BadRequest
from receiving.service import Desk

THREADS = 8


def serve(
    desk: Desk, *, host: str = "127.0.0.1", port: int = 8000, ready: Callable[[str], None] = lambda address: None
) -> None:
    """Serve until stopped; ``ready`` is told the address once it listens. Port 0 takes a free one.

    Photos that waited when the service last stopped are taken up again. Raises BadRequest when the port cannot be
    used.
    """
    server = make_server(desk, host=host, port=port)
    ready(f"http://{shown_host(host)}:{server.effective_port}/")
    try:
        server.run()
    finally:
        server.close()


def shown_host(host: str) -> str:
    """The host as a browser on this machine can open it."""
    return {"0.0.0.0": "localhost", "::": "localhost"}.get(host, f"[{host}]" if ":" in host else host)


def make_server(desk: Desk, *, host: str, port: int) -> "Server":
    """A server that listens already; `Server.run` serves until `Server.close`."""
    from waitress import create_server

    from receiving import service
    from web import MAX_UPLOAD_BYTES, create_app

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    app = create_app(desk)
    try:
        waitress = create_server(
            app,
            host=host,
            port=port,
            threads=THREADS,
            ident="",
            max_request_body_size=MAX_UPLOAD_BYTES + 1024 * 1024,
            clear_untrusted_proxy_headers=True,
        )
    except (OSError, ValueError) as fault:
        raise BadRequest(
            f"Port {port} of {host!r} cannot be used: {fault}.",
            next_step="Stop the program that uses it, or choose another port.",
        ) from fault
    service.resume_photos(desk)
    return Server(waitress)


class Server:
    """A listening server."""

    def __init__(self, waitress: Any) -> None:
        self._waitress = waitress

    @property
    def effective_port(self) -> int:
        """The port that it listens on; with several addresses (IPv4 and IPv6) that of the first."""
        listening = getattr(self._waitress, "effective_listen", None)
        return int(listening[0][1] if listening else self._waitress.effective_port)

    def run(self) -> None:
        """Serve until closed."""
        self._waitress.run()

    def close(self) -> None:
        """Stop listening."""
        self._waitress.close()
