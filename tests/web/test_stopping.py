"""A stop loses nothing: what runs is finished within a limit, nothing new is begun, photos in work wait again."""

import http.client
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import PhotoReaderFailed
from receiving.model import ExpectedCode, PhotoReading, Place, Role
from receiving.store import PhotoStatus
from tests.planned_reader import PlannedReader
from tests.web.scenario import DATABASE, SHIPMENT, open_context, picture
from tests.web.test_access import WORDS
from web.serve import Server, make_server

PATIENCE_S = 60


@contextmanager
def slow(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[threading.Event, threading.Event]]:
    """Make the office's page wait: it says that it began, and goes on when it is told."""
    began, go_on = threading.Event(), threading.Event()
    whole = service.get_office_view

    def get_office_view(*asked: object) -> object:
        began.set()
        go_on.wait(PATIENCE_S)
        return whole(*asked)

    monkeypatch.setattr(service, "get_office_view", get_office_view)
    try:
        yield began, go_on
    finally:
        go_on.set()


def started(ctx: service.Context) -> tuple[Server, threading.Thread]:
    server = make_server(ctx, host="127.0.0.1", port=0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    return server, thread


def test_a_request_in_work_is_answered_and_no_other_is_taken(
    ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    with slow(monkeypatch) as (began, go_on):
        server, thread = started(ctx)
        connection = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=PATIENCE_S)
        connection.request("GET", "/office")
        assert began.wait(PATIENCE_S)
        server.stop()
        refused = False
        for _ in range(100):
            try:
                socket.create_connection(("127.0.0.1", server.effective_port), timeout=5).close()
                time.sleep(0.05)
            except OSError:
                refused = True
                break
        go_on.set()
        answer = connection.getresponse()
        assert (refused, answer.status) == (True, 200)
        assert b"Store 0417" in answer.read()
        connection.close()
        thread.join(PATIENCE_S)
        assert not thread.is_alive()
        server.close()


def test_a_connection_that_only_waits_does_not_hold_the_stop_up(ctx: service.Context) -> None:
    server, thread = started(ctx)
    connection = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=PATIENCE_S)
    connection.request("GET", "/static/icon.svg")
    connection.getresponse().read()
    began = time.monotonic()
    server.stop()
    thread.join(PATIENCE_S)
    assert not thread.is_alive()
    assert time.monotonic() - began < server.FINISH_S
    server.close()
    connection.close()


def test_what_takes_too_long_is_given_up(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    with slow(monkeypatch) as (began, _):
        server, thread = started(ctx)
        connection = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=PATIENCE_S)
        connection.request("GET", "/office")
        assert began.wait(PATIENCE_S)
        server.stop(within_s=0.2)
        thread.join(PATIENCE_S)
        assert not thread.is_alive()
        connection.close()
    server.close()


class Interrupted(PlannedReader):
    """A reader that is at work until it is closed, and then fails as one whose process was ended."""

    def __init__(self) -> None:
        super().__init__()
        self.began, self.closed = threading.Event(), threading.Event()

    def read(self, name: str, data: bytes, expected: tuple[ExpectedCode, ...] = ()) -> PhotoReading:  # type: ignore[override]
        self.began.set()
        self.closed.wait(PATIENCE_S)
        raise PhotoReaderFailed("It was given up: the workers were closed.")

    def close(self) -> None:
        self.closed.set()


def test_a_photo_in_work_when_the_service_stops_waits_for_the_next_start(tmp_path: Path) -> None:
    reader = Interrupted()
    with open_context(tmp_path, reader) as ctx:
        row = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada")
        assert reader.began.wait(PATIENCE_S)
    with open_context(tmp_path, PlannedReader()) as ctx:
        assert service.get_photo(ctx, SHIPMENT, row.photo).row.status is PhotoStatus.WAITING


SERVE = "import sys; from receiving.cli import run; sys.exit(run(sys.argv[1:]))"


@contextmanager
def serving(data: Path, *before: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """`receiving serve` in a process of its own, and its address."""
    command = [*before, sys.executable, "-c", SERVE, "serve", "--data", str(data), "--port", "0"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        assert process.stdout
        lines = iter(process.stdout.readline, "")
        address = next(line for line in lines if "http://" in line).split("http://")[1].split("/")[0]
        yield process, address
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_the_service_in_order(tmp_path: Path, number: signal.Signals) -> None:
    with serving(tmp_path / "data") as (process, address):
        connection = http.client.HTTPConnection(address, timeout=PATIENCE_S)
        connection.request("GET", "/")
        assert connection.getresponse().status == 200
        process.send_signal(number)
        output, _ = process.communicate(timeout=PATIENCE_S)
        connection.close()
        assert process.returncode == 0
        assert "Stopped." in output
        assert "Traceback" not in output


def test_it_stops_as_the_first_process_of_a_container_too(tmp_path: Path) -> None:
    """The system gives process 1 no signal that it has not asked for (signal(7), pid_namespaces(7))."""
    if (
        not shutil.which("unshare")
        or subprocess.run(["unshare", "-fp", "--mount-proc", "true"], check=False).returncode
    ):
        pytest.skip("no process namespaces here: util-linux and the right to make one are needed")
    with serving(tmp_path / "data", "unshare", "-fp", "--kill-child", "--mount-proc") as (process, _):
        (first,) = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        os.kill(int(first), signal.SIGTERM)
        output, _ = process.communicate(timeout=PATIENCE_S)
        assert "Stopped." in output


def test_it_stops_before_it_listens_too(tmp_path: Path) -> None:
    asks_itself = (
        "import os, signal, sys; from receiving import service; from receiving.cli import run;"
        "service.Context.at = lambda *a, **k: os.kill(os.getpid(), signal.SIGTERM);"
        "sys.exit(run(sys.argv[1:]))"
    )

    done = subprocess.run(
        [sys.executable, "-c", asks_itself, "serve", "--data", str(tmp_path / "data"), "--port", "0"],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )

    assert (done.returncode, done.stderr.strip()) == (1, "Stopped.")


def test_what_was_seen_is_in_the_log_though_nobody_asks_again_and_the_service_is_killed(tmp_path: Path) -> None:
    (folder := tmp_path / "data").mkdir()
    with open_context(folder, PlannedReader()) as ctx:
        service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    with serving(folder) as (process, address):
        cookies = urllib.request.HTTPCookieProcessor()
        browser = urllib.request.build_opener(cookies)
        browser.open(f"http://{address}/sign-in").close()
        token = next(each.value for each in cookies.cookiejar if each.name == "token")
        form = urllib.parse.urlencode({"token": token, "name": "Ada Lund", "password": WORDS, "back": "/office"})
        browser.open(f"http://{address}/sign-in", form.encode()).close()
        until, lines = time.monotonic() + PATIENCE_S, []
        with closing(sqlite3.connect(folder / DATABASE)) as file:
            while not lines and time.monotonic() < until:
                time.sleep(0.1)
                lines = file.execute("SELECT name FROM audit WHERE action = 'GET office.home'").fetchall()
        process.kill()
    assert lines == [("Ada Lund",)]
