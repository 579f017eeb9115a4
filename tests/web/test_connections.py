"""Connections under load: slow ones are given up, idle ones make room, and who waited too long comes again."""

import http.client
import socket
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from receiving import service
from tests.web.test_serve import running
from web import connections
from web.serve import make_server

PATH = "S-2041~2FA"
"""The address of the scenario's shipment."""


@pytest.fixture
def port(ctx: service.Context) -> Iterator[int]:
    with running(ctx) as port:
        yield port


def connected(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=10)


def is_closed(end: socket.socket) -> bool:
    try:
        return end.recv(1) == b""
    except (ConnectionResetError, TimeoutError):
        return False


def status(port: int, path: str = "/signal") -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("GET", path)
    answer = connection.getresponse().status
    connection.close()
    return answer


def test_a_request_that_trickles_in_is_given_up(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEADERS_WITHIN_S", 0.5)
    slow = connected(port)
    slow.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-")
    assert is_closed(slow)
    slow.close()


def test_a_body_slower_than_any_phone_is_given_up(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "BODY_GRACE_S", 0.5)
    slow = connected(port)
    slow.sendall(b"POST /who HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 100000\r\n\r\nabc")
    assert is_closed(slow)
    slow.close()


def test_a_body_at_the_pace_of_a_phone_is_waited_for(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "BODY_GRACE_S", 0.2)
    monkeypatch.setattr(connections, "HEADERS_WITHIN_S", 0.2)
    body = b"token=x&person=Ana" + b"&pad=" + b"a" * 9000
    phone = connected(port)
    phone.sendall(
        b"POST /who HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/x-www-form-urlencoded\r\n"
        b"Content-Length: %d\r\n\r\n" % len(body)
    )
    for at in range(0, len(body), 3000):
        phone.sendall(body[at : at + 3000])
        time.sleep(0.5)
    assert phone.recv(12) == b"HTTP/1.1 403"
    phone.close()


def test_idle_connections_make_room_for_new_ones(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "MOST_CONNECTIONS", 20)
    with running(ctx) as port:
        kept = [connected(port) for _ in range(40)]
        assert status(port) == 200
        for end in kept:
            end.close()


def test_who_waited_too_long_is_told_to_come_again_and_watchers_first(client: FlaskClient) -> None:
    def answer(path: str, waited_s: float, method: str = "GET") -> tuple[int, str | None]:
        response = client.open(path, method=method, environ_overrides={connections.WAITED: waited_s})
        return response.status_code, response.headers.get("Retry-After")

    watching = f"/s/{PATH}/state"
    assert answer(watching, 2.5) == (200, None)
    assert answer(watching, 3.5) == (503, "2")
    assert answer("/", 3.5) == (200, None)
    assert answer("/", 6) == (503, "2")
    assert answer(f"/s/{PATH}/scans", 6, "POST")[0] == 403
    assert answer(f"/s/{PATH}/scans", 16, "POST") == (503, "2")


def test_a_busy_service_says_what_to_do(client: FlaskClient) -> None:
    page = client.get("/", environ_overrides={connections.WAITED: 7.0}).get_data(as_text=True)
    assert "this request waited 7 s for its turn, and nothing was done for it" in page
    assert "Try again in a moment." in page


def test_a_phones_action_that_waited_too_long_stays_on_the_phone(client: FlaskClient) -> None:
    action = "0f8fad5b-d9cb-469f-a165-70867728950e"
    response = client.post(
        f"/s/{PATH}/scans", headers={"X-Action": action}, environ_overrides={connections.WAITED: 20.0}
    )
    assert response.status_code == 503
    assert response.json is not None
    assert (response.json["action"], response.json["state"], response.json["why"]) == (action, "kept", "trouble")


def test_the_wait_of_a_served_request_is_measured(port: int) -> None:
    assert status(port, f"/s/{PATH}/state") == 200


def test_connections_that_nothing_happens_to_are_not_looked_at(
    ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "LOOK_AT_ALL_S", 60)
    asked: list[tuple[str, int]] = []
    usual = connections.Channel.readable

    def readable(channel: connections.Channel) -> bool:
        asked.append(channel.addr)
        return bool(usual(channel))

    with running(ctx) as port:
        kept = [connected(port) for _ in range(40)]
        assert status(port) == 200
        monkeypatch.setattr(connections.Channel, "readable", readable, raising=False)
        working = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        for _ in range(20):
            working.request("GET", "/signal")
            working.getresponse().read()
        mine = working.sock.getsockname()
        assert {each.getsockname() for each in kept} & set(asked) == set()
        assert asked.count(mine) >= 20
        kept[7].sendall(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert kept[7].recv(12) == b"HTTP/1.1 200"  # one that was quiet is answered all the same
        working.close()
        for each in kept:
            each.close()


def test_the_loop_does_not_turn_and_turn_while_a_thread_sends(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    turns: list[float] = []
    usual_turn, usual_send = connections.Sockets.turn, connections.Channel.send
    slow = connected(port)

    def turn(sockets: connections.Sockets, timeout_s: float) -> None:
        turns.append(time.monotonic())
        usual_turn(sockets, timeout_s)

    def send(channel: connections.Channel, data: bytes, do_close: bool = True) -> int:
        if channel.addr == slow.getsockname():
            time.sleep(0.5)  # as a thread that waits for the interpreter after what it sent
        return int(usual_send(channel, data, do_close))

    monkeypatch.setattr(connections.Sockets, "turn", turn)
    monkeypatch.setattr(connections.Channel, "send", send, raising=False)
    start = time.monotonic()
    slow.sendall(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    time.sleep(0.2)
    assert status(port, "/healthz") == 200  # the loop is woken
    assert slow.recv(12) == b"HTTP/1.1 200"
    assert time.monotonic() - start > 0.4
    assert len([each for each in turns if each > start]) < 30
    slow.close()


def test_an_answer_larger_than_what_the_system_takes_is_sent_whole_and_the_next_request_after_it(
    ctx: service.Context,
) -> None:
    size = 16 * 1024 * 1024

    def large(environ: dict[str, Any], start_response: Any) -> Iterator[bytes]:
        start_response("200 OK", [("Content-Length", str(size))])
        for _ in range(size // 65536):
            yield b"a" * 65536

    server = make_server(ctx, host="127.0.0.1", port=0)
    server._waitress.application = large
    server._waitress.adj.outbuf_high_watermark = 200_000
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    phone = connected(server.effective_port)
    try:
        for _ in range(2):
            phone.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            got = 0
            time.sleep(0.3)  # the buffers fill, and the thread waits for room
            while got < size:
                got += len(phone.recv(1 << 20))
            assert size < got < size + 500
    finally:
        phone.close()
        server.close()
        thread.join(timeout=60)


def test_requests_sent_together_on_one_connection_are_answered_in_order(port: int) -> None:
    phone = connected(port)
    asked = [b"/healthz", b"/signal", b"/nowhere", b"/healthz"]
    phone.sendall(b"".join(b"GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" % each for each in asked))
    got = b""
    while got.count(b"HTTP/1.1 ") < len(asked) or not got.endswith(b"ok\n"):
        got += phone.recv(65536)
    statuses = [part[:3] for part in got.split(b"HTTP/1.1 ")[1:]]
    assert statuses == [b"200", b"200", b"404", b"200"]
    phone.close()


def test_a_connection_that_two_threads_close_at_once_is_closed_once() -> None:
    ours, theirs = socket.socketpair()
    sockets = connections.Sockets()
    with ours, theirs:
        sockets[ours.fileno()] = ours
        del sockets[ours.fileno()]
        del sockets[ours.fileno()]
    assert sockets == {}
