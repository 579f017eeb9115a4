"""What TLS before waitress costs: time of a request on an open connection and of a new one, and of an upload.

    python tests/bench/tls_front.py

Plain and encrypted are asked in turn, in one run; given are medians, and the ratio of the encrypted to the plain one.
"""

import http.client
import ssl
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.planned_reader import PlannedReader  # noqa: E402
from tests.web.scenario import open_context  # noqa: E402
from web.serve import Server, make_server  # noqa: E402

TIMES = 300
PHOTO = b"x" * 4_000_000


def medians_ms(works: list[Callable[[], object]], times: int) -> list[float]:
    """Of each work, all done in turn."""
    took: list[list[float]] = [[] for _ in works]
    for _ in range(times):
        for work, mine in zip(works, took, strict=True):
            began = time.perf_counter()
            work()
            mine.append(1000 * (time.perf_counter() - began))
    return [statistics.median(mine) for mine in took]


def connect(server: Server, context: ssl.SSLContext | None) -> http.client.HTTPConnection:
    if context is None:
        return http.client.HTTPConnection("127.0.0.1", server.effective_port)
    return http.client.HTTPSConnection("127.0.0.1", server.effective_port, context=context)


def ask(connection: http.client.HTTPConnection, path: str, body: bytes | None = None) -> None:
    connection.request("POST" if body else "GET", path, body=body, headers={"Content-Type": "text/plain"})
    connection.getresponse().read()


def ask_anew(server: Server, context: ssl.SSLContext | None) -> None:
    connection = connect(server, context)
    ask(connection, "/healthz")
    connection.close()


def main() -> None:
    with open_context(Path(tempfile.mkdtemp(prefix="tls-")), PlannedReader()) as ctx:
        ctx.now = lambda: datetime.now(UTC)
        servers = [make_server(ctx, host="127.0.0.1", port=0, tls=tls) for tls in (False, True)]
        for server in servers:
            threading.Thread(target=server.run, daemon=True).start()
        trust = ssl.create_default_context(cafile=str(ctx.data / "tls" / "authority.crt"))
        sides = list(zip(servers, (None, trust), strict=True))
        opened = [connect(*side) for side in sides]
        for name, works, times in (
            ("a request on an open connection", [lambda c=c: ask(c, "/healthz") for c in opened], TIMES),
            ("a shipment's page", [lambda c=c: ask(c, "/s/S-2041~2FA") for c in opened], TIMES // 10),
            ("a request on a new connection", [lambda s=s: ask_anew(*s) for s in sides], TIMES // 3),
            ("an upload of 4 MB", [lambda c=c: ask(c, "/who", PHOTO) for c in opened], TIMES // 20),
        ):
            plain, encrypted = medians_ms(works, times)
            print(f"{name}: {plain:.1f} ms plain, {encrypted:.1f} ms encrypted, {encrypted / plain:.1f} times")
        for server in servers:
            server.close()


if __name__ == "__main__":
    main()
