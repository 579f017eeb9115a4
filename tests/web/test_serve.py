"""The app as it is served: a free port, a port in use, photos that waited, and an upload over the limit."""

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

import web
from receiving import service
from receiving.commands.serve import _say_where
from receiving.errors import BadRequest
from receiving.model import Place, Role
from receiving.store import PhotoStatus
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_context, picture, pile_reading
from tests.web.test_rep import wait_until_read
from web.serve import ANSWERED_BEYOND_BYTES, Where, make_server, serve, shown_host


@contextmanager
def running(ctx: service.Context, **more: str) -> Iterator[int]:
    server = make_server(ctx, **{"host": "127.0.0.1", "port": 0, **more})  # type: ignore[arg-type]
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield server.effective_port
    finally:
        server.close()
        thread.join(timeout=60)


def test_pages_are_served_without_a_word_on_the_server(ctx: service.Context) -> None:
    with running(ctx) as port:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        connection.request("GET", "/")
        response = connection.getresponse()
        assert response.status == 200
        assert b"Store 0417" in response.read()
        assert response.getheader("Server") is None
        connection.close()


def test_a_port_in_use_is_named_with_what_to_do(ctx: service.Context) -> None:
    with running(ctx) as port, pytest.raises(BadRequest, match=f"Port {port} of '127.0.0.1' cannot be used") as fault:
        make_server(ctx, host="127.0.0.1", port=port)
    assert "choose another port" in str(fault.value.next_step)


def test_photos_that_waited_when_the_service_stopped_are_read_when_it_starts(tmp_path: Path) -> None:
    class Stuck(PlannedReader):
        def read(self, *_: object, **__: object) -> None:
            raise SystemExit  # the process ends while it reads

    with open_context(tmp_path, Stuck()) as ctx:
        service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada")
    reader = PlannedReader()
    reader.readings["pile.jpg"] = pile_reading()
    with open_context(tmp_path, reader) as ctx:
        assert service.get_shipment(ctx, SHIPMENT).photos[0].status is PhotoStatus.WAITING
        with running(ctx):
            wait_until_read(ctx)
        assert service.get_shipment(ctx, SHIPMENT).photos[0].status is PhotoStatus.READ


def test_a_body_over_the_limit_is_refused_before_it_is_read(ctx: service.Context) -> None:
    with running(ctx) as port:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        connection.putrequest("POST", "/who")
        connection.putheader("Content-Length", str(web.MAX_UPLOAD_BYTES + ANSWERED_BEYOND_BYTES + 1024))
        connection.endheaders()
        assert connection.getresponse().status == 413
        connection.close()


def test_the_address_shown_is_one_that_a_browser_opens() -> None:
    assert [shown_host(h) for h in ("0.0.0.0", "::", "::1", "box.lan")] == [
        "localhost",
        "localhost",
        "[::1]",
        "box.lan",
    ]


def test_the_name_that_is_listened_on_opens_the_page_and_foreign_names_do_not(ctx: service.Context) -> None:
    server = make_server(ctx, host="localhost", port=0, allowed_hosts=["box.lan"])
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    statuses = []
    for host in ("localhost", "box.lan", "127.0.0.1", "rebound.example"):
        connection = http.client.HTTPConnection("localhost", server.effective_port, timeout=120)
        connection.request("GET", "/static/icon.svg", headers={"Host": host})
        statuses.append(connection.getresponse().status)
        connection.close()
    server.close()
    thread.join(timeout=60)
    assert statuses == [200, 200, 200, 421]


@pytest.mark.parametrize(
    "open_to", [{"host": "0.0.0.0"}, {"host": "192.0.2.1"}, {"host": "127.0.0.1", "proxy": "127.0.0.1"}]
)
def test_without_an_account_no_other_machine_is_served(ctx: service.Context, open_to: dict[str, str]) -> None:
    with pytest.raises(BadRequest, match=r"no account yet, and .* from other machines") as refused:
        make_server(ctx, port=0, **{"host": "127.0.0.1", **open_to})
    assert "receiving user add NAME --role coordinator" in str(refused.value.next_step)
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, "four plain words here")
    if open_to.get("host") != "192.0.2.1":  # kept for documentation (RFC 5737): no machine has it
        make_server(ctx, port=0, **{"host": "127.0.0.1", **open_to}).close()


def printed(ctx: service.Context, capsys: pytest.CaptureFixture[str], **open_to: object) -> str:
    """What the command that serves says once the pages are open; it is stopped there."""

    def ready(where: Where) -> None:
        _say_where(where)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        serve(ctx, port=0, ready=ready, **open_to)
    return capsys.readouterr().out


def test_who_serves_without_an_account_is_told_what_to_set_before_it_is_opened(
    ctx: service.Context, capsys: pytest.CaptureFixture[str]
) -> None:
    alone = printed(ctx, capsys)
    assert "There is no account yet" in alone and "receiving user add NAME --role coordinator" in alone
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, "four plain words here")
    assert "account" not in printed(ctx, capsys)


@pytest.mark.parametrize(
    ("open_to", "shown"),
    [
        ({}, False),
        ({"host": "0.0.0.0"}, True),
        ({"host": "0.0.0.0", "tls": True}, False),
        ({"host": "0.0.0.0", "proxy": "127.0.0.1"}, False),
    ],
)
def test_who_opens_the_service_unencrypted_is_told(
    ctx: service.Context, capsys: pytest.CaptureFixture[str], open_to: dict[str, object], shown: bool
) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, "four plain words here")
    assert ("unencrypted" in printed(ctx, capsys, **open_to)) is shown
