"""A service without memory, files or connections left: it says so, loses nothing, and works again afterwards."""

import http.client
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from io import BytesIO
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from receiving import service
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.scenario import SHIPMENT, open_context, picture
from web import connections

ADDRESS = "/s/S-2041~2FA"


@contextmanager
def served(data: Path, descriptors: int, log: Path) -> Iterator[int]:
    """`receiving serve` as a process that may have this many files open; gives its port."""
    limited = (
        "import resource, sys; from receiving.__main__ import main; "
        f"resource.setrlimit(resource.RLIMIT_NOFILE, ({descriptors}, {descriptors})); sys.exit(main(sys.argv[1:]))"
    )
    command = [sys.executable, "-c", limited, "serve", "--data", str(data), "--port", "0"]
    root = Path(__file__).resolve().parents[2]
    with log.open("w") as errors:
        process = subprocess.Popen(command, cwd=root, stdout=subprocess.PIPE, stderr=errors, text=True)
    try:
        assert process.stdout is not None
        found = next(filter(None, (re.search(r"http://[^/]*:(\d+)/", line) for line in process.stdout)))
        yield int(found[1])
        assert process.poll() is None
    finally:
        process.terminate()
        process.communicate(timeout=60)


def status(port: int) -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        connection.request("GET", ADDRESS)
        return connection.getresponse().status
    except (OSError, http.client.HTTPException):
        return 0
    finally:
        connection.close()


def test_more_connections_than_files_lock_nobody_out_for_long(tmp_path: Path) -> None:
    pytest.importorskip("resource", reason="limits are those of POSIX")
    with open_context(tmp_path, PlannedReader()):
        pass
    log = tmp_path / "log"
    with served(tmp_path, 140, log) as port, ExitStack() as held:
        assert status(port) == 200
        for _ in range(200):
            held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
        end = time.monotonic() + 50
        while status(port) != 200:
            assert time.monotonic() < end
        held.close()
        assert status(port) == 200
    assert log.stat().st_size < 20_000  # a line for each try to take a connection fills the disk


@pytest.mark.parametrize(
    ("descriptors", "each", "most"), [(8192, 1, 1000), (1024, 1, 928), (1024, 3, 309), (64, 1, 16)]
)
def test_connections_leave_files_to_work_with(descriptors: int, each: int, most: int) -> None:
    assert connections.most_connections(descriptors, each=each) == most


def test_what_there_is_no_memory_for_is_kept_by_the_phone_and_sent_again(
    client: FlaskClient, ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = Browser(client)
    whole = service.add_photo

    def no_room(*values: object, **named: object) -> None:
        raise MemoryError

    def send() -> object:
        form = {"photos": (BytesIO(picture()), "pile.png"), "place": "dock"}
        action = {"X-Action": "6f1c2d2e-0000-4000-8000-000000000001"}
        return browser.post(f"{ADDRESS}/photos", form, headers=action, content_type="multipart/form-data")

    monkeypatch.setattr(service, "add_photo", no_room)
    answer = send()
    assert (answer.status_code, answer.json["state"], answer.json["why"]) == (503, "kept", "trouble")
    assert answer.json["problem"]["message"] == "The service has no memory left for this; nothing of it was stored."
    assert answer.headers["Retry-After"]
    monkeypatch.setattr(service, "add_photo", whole)
    assert send().json["state"] == "done"
    assert len(service.get_shipment(ctx, SHIPMENT).photos) == 1
