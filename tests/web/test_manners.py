"""Alive, ready, counted and logged; and what a server in front may say."""

import errno
import http.client
import io
import json
import logging
import re
import shutil
import socket
import sqlite3
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest
from flask import Flask
from werkzeug.test import Client, TestResponse

from receiving import service
from receiving.errors import BadRequest, StoreError
from receiving.model import Role
from tests.web.page_text import read
from tests.web.test_rep import ADDRESS
from web import MAX_UPLOAD_BYTES, create_app
from web.manners import log_requests
from web.proxy import wrap_app
from web.serve import ANSWERED_BEYOND_BYTES, make_server

WORDS = "four plain words here"
PROXY = "192.0.2.10"
DEPLOY = Path(__file__).resolve().parents[2] / "docs" / "deploy"


def test_it_is_alive_and_ready(app: Flask) -> None:
    client = app.test_client()
    assert client.get("/healthz").text == "ok\n"
    assert client.get("/readyz").json == {"ready": True, "photos_waiting": 0}


def test_it_is_not_ready_without_its_data_and_says_no_path(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(ctx: service.Context) -> int:
        raise StoreError(f"The database {ctx.data} cannot be used.")

    monkeypatch.setattr(service, "check_ready", broken)
    response = app.test_client().get("/readyz")
    assert response.status_code == 503
    assert "receiving.sqlite" not in response.text and "/tmp" not in response.text


def test_while_another_program_holds_the_database_it_says_soon_that_it_is_not_ready(
    app: Flask, ctx: service.Context
) -> None:
    client = app.test_client()
    with closing(sqlite3.connect(ctx.data / "receiving.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        began = time.monotonic()
        assert client.get("/readyz").status_code == 503
        assert time.monotonic() - began < 10, "others write with more patience: 20 s"
        other.execute("ROLLBACK")
    assert client.get("/readyz").status_code == 200


def test_metrics_count_by_rule_and_are_for_this_machine(app: Flask) -> None:
    client = app.test_client()
    client.get(ADDRESS)
    text = client.get("/metrics").text
    assert 'receiving_requests_total{endpoint="rep.shipment",method="GET",status="200"} 1.0' in text
    assert "S-2041" not in text
    assert client.get("/metrics", environ_base={"REMOTE_ADDR": PROXY}).status_code == 404


def test_a_log_line_tells_what_and_when_and_names_nobody(app: Flask, tmp_path: Path) -> None:
    log = logging.getLogger("receiving.requests")
    try:
        log_requests(str(tmp_path / "log"))
        client = app.test_client()
        client.get("/healthz")
        answered = client.get(f"{ADDRESS}/cartons/05?answer=secret", headers={"User-Agent": "Ada's phone"})
    finally:
        for handler in list(log.handlers):
            handler.close()
            log.removeHandler(handler)
    (line,) = (tmp_path / "log").read_text().splitlines()
    logged = json.loads(line)
    assert (logged["endpoint"], logged["status"], logged["method"]) == ("rep.carton", 200, "GET")
    assert logged["request"] == answered.headers["X-Request-Id"]
    assert "S-2041" not in line and "secret" not in line and "Ada" not in line


def test_a_fault_is_one_line_with_the_requests_id_and_without_the_values_in_its_words(
    app: Flask, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def broken(*_: object) -> None:
        raise ValueError("invalid literal for int(): 'Wilhelmina Sundqvist'")

    monkeypatch.setattr(service, "get_shipment", broken)
    app.config["PROPAGATE_EXCEPTIONS"] = False
    logs = [logging.getLogger(name) for name in ("receiving.requests", "receiving", "web")]
    before = [list(log.handlers) for log in logs]
    try:
        log_requests(str(tmp_path / "log"))
        answered = app.test_client().get(ADDRESS)
    finally:
        for log, handlers in zip(logs, before, strict=True):
            for handler in set(log.handlers) - set(handlers):
                handler.close()
                log.removeHandler(handler)
    assert answered.status_code == 500
    text = (tmp_path / "log").read_text()
    fault, request = map(json.loads, text.splitlines())
    assert (fault["level"], fault["fault"], fault["request"]) == ("error", "ValueError", request["request"])
    assert any("rep.py" in each for each in fault["where"]) and "Sundqvist" not in text


@pytest.mark.parametrize("written", [0, OSError(errno.ENOSPC, "No space left on device")])
def test_it_is_not_ready_on_a_full_disk_and_the_log_says_why(
    app: Flask, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, written: int | OSError
) -> None:
    class Full(io.BytesIO):
        def write(self, _: object) -> int:
            if isinstance(written, OSError):
                raise written
            return written

    monkeypatch.setattr("receiving.service.upkeep.tempfile.TemporaryFile", lambda **_: Full())
    assert app.test_client().get("/readyz").status_code == 503
    assert "full" in caplog.text or "No space left" in caplog.text


def asked(app: Flask, address: str, headers: dict[str, str], proxy: str = PROXY, user: str = "X-User") -> TestResponse:
    client = Client(wrap_app(app.wsgi_app, proxy, user))
    return client.get("/", headers=headers, environ_base={"REMOTE_ADDR": address})


def test_the_named_proxy_alone_may_say_that_it_was_https(app: Flask) -> None:
    forwarded = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.7"}
    for address, secure in ((PROXY, True), ("192.0.2.11", False)):
        cookie = asked(app, address, forwarded).headers["Set-Cookie"]
        assert ("Secure" in cookie) is secure


def test_the_named_proxy_alone_may_say_who_is_signed_on(ctx: service.Context) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    app = create_app(ctx)
    assert asked(app, PROXY, {"X-User": "ada lund"}).status_code == 200
    for address, headers in ((PROXY, {"X-User": "Nobody"}), (PROXY, {}), ("192.0.2.11", {"X-User": "Ada Lund"})):
        assert "/sign-in" in asked(app, address, headers).headers["Location"]


def test_a_user_header_without_a_named_proxy_is_refused(app: Flask) -> None:
    with pytest.raises(BadRequest, match="believed from anybody"):
        wrap_app(app, "", "X-User")
    with pytest.raises(BadRequest, match="is not an IP address"):
        wrap_app(app, "proxy.example", "")


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@dataclass(frozen=True)
class Front:
    """Where nginx answers, and the port behind it."""

    address: str
    behind: int


@pytest.fixture
def signed_on() -> str:
    """Whom nginx says it signed on; nobody where it signs nobody on."""
    return ""


@pytest.fixture
def behind_nginx(ctx: service.Context, tmp_path: Path, signed_on: str) -> Iterator[Front]:
    """The service behind nginx as the example configures it, but for TLS and ports."""
    nginx = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if nginx is None:
        pytest.skip("nginx is not installed")
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Bo Reyes", Role.REP, WORDS)
    server = make_server(
        ctx,
        host="127.0.0.1",
        port=0,
        allowed_hosts=["receiving.example.com"],
        proxy="127.0.0.1",
        proxy_user_header="X-User" if signed_on else "",
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    port = free_port()
    text = (DEPLOY / "nginx.conf").read_text()
    text = text.replace("127.0.0.1:8417", f"127.0.0.1:{server.effective_port}").replace(
        "listen 443 ssl http2;", f"listen 127.0.0.1:{port};"
    )
    text = "\n".join(line for line in text.splitlines() if "ssl_" not in line)
    named = f'; proxy_set_header X-User "{signed_on}"' if signed_on else ""
    text = text.replace("X-Forwarded-Proto $scheme", f"X-Forwarded-Proto https{named}")
    folders = "".join(
        f"{name} {tmp_path / name};\n"
        for name in (
            "client_body_temp_path",
            "proxy_temp_path",
            "fastcgi_temp_path",
            "uwsgi_temp_path",
            "scgi_temp_path",
        )
    )
    configuration = tmp_path / "nginx.conf"
    configuration.write_text(
        f"pid {tmp_path / 'pid'};\nerror_log stderr;\ndaemon off;\nevents {{}}\n"
        f"http {{\naccess_log off;\n{folders}{text}\n}}\n"
    )
    process = subprocess.Popen([nginx, "-c", str(configuration), "-p", str(tmp_path)])
    try:
        for _ in range(100):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield Front(f"http://127.0.0.1:{port}", server.effective_port)
    finally:
        process.terminate()
        process.wait(20)
        server.close()
        thread.join(20)


def ask(address: str, path: str, form: dict[str, str] | None = None, **headers: str) -> http.client.HTTPResponse:
    """One request, no redirect followed; ``source``: the address that it is sent from."""
    source = headers.pop("source", "127.0.0.1")
    line = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60, source_address=(source, 0))
    sent = {"Host": "receiving.example.com", **{name.replace("_", "-"): value for name, value in headers.items()}}
    body = urlencode(form) if form else None
    if body:
        sent["Content-Type"] = "application/x-www-form-urlencoded"
    line.request("POST" if body else "GET", path, body, sent)
    answer = line.getresponse()
    answer.text = answer.read().decode()
    line.close()
    return answer


def cookie_of(answer: http.client.HTTPResponse, name: str) -> str:
    """The cookie that an answer sets, as a browser sends it back; every one is bound to this host over https."""
    (found,) = (each for each in answer.msg.get_all("Set-Cookie") if each.startswith(f"__Host-{name}="))
    assert {"Secure", "HttpOnly", "Path=/"} <= {part.strip() for part in found.split(";")}
    return str(found.partition(";")[0])


def test_the_nginx_example_serves_the_page_over_https(behind_nginx: Front) -> None:
    asked = ask(behind_nginx.address, "/sign-in")
    token = cookie_of(asked, "token")
    form = {"token": token.partition("=")[2], "name": "Ada Lund", "password": WORDS}
    session = cookie_of(ask(behind_nginx.address, "/sign-in", form, Cookie=token), "session")
    assert "Shipments" in read(ask(behind_nginx.address, "/", Cookie=session).text).text
    assert ask(behind_nginx.address, "/").status == 302
    assert ask(behind_nginx.address, "/metrics", Cookie=session).status == 404


def test_nginx_holds_off_many_tries_to_sign_in_and_nobody_who_looks_at_the_page(behind_nginx: Front) -> None:
    assert {ask(behind_nginx.address, "/sign-in").status for _ in range(20)} == {200}
    form = {"token": "none", "name": "Ada Lund", "password": "a guess that is wrong"}
    tried = [ask(behind_nginx.address, "/sign-in", form).status for _ in range(16)]
    assert tried[:10] == [403] * 10 and 429 in tried[11:]
    assert ask(behind_nginx.address, "/sign-in").status == 200


def test_what_a_server_in_front_takes_is_answered_in_words() -> None:
    """An upload that is a little too large would be cut off without a word between the two."""
    (nginx,) = re.findall(r"client_max_body_size (\d+)m;", (DEPLOY / "nginx.conf").read_text())
    (caddy,) = re.findall(r"max_size (\d+)MB", (DEPLOY / "Caddyfile").read_text())
    for taken in (int(nginx) * 2**20, int(caddy) * 10**6):
        assert MAX_UPLOAD_BYTES <= taken <= MAX_UPLOAD_BYTES + ANSWERED_BEYOND_BYTES


@pytest.mark.parametrize("signed_on", ["Bo Reyes"])
def test_whom_nginx_signed_on_is_believed_and_nobody_who_says_so_himself(behind_nginx: Front) -> None:
    page = ask(behind_nginx.address, "/account", X_User="Ada Lund")
    assert page.status == 200 and "Bo Reyes" in page.text and "Ada Lund" not in page.text
    assert ask(behind_nginx.address, "/people", X_User="Ada Lund").status == 403
    behind = f"http://127.0.0.1:{behind_nginx.behind}"
    for header in ("X-User", "x_user"):
        elsewhere = ask(behind, "/people", source="127.0.0.2", Host="127.0.0.1", **{header: "Ada Lund"})
        assert elsewhere.status == 302 and "/sign-in" in elsewhere.getheader("Location"), header


def test_what_is_written_of_watching_the_service_is_so(app: Flask) -> None:
    from receiving.service.upkeep import READY_WITHIN_S
    from receiving.store.connection import BUSY_TIMEOUT_S
    from web.serve import Server

    papers = (DEPLOY.parent / "operations.md").read_text().split("## Watching it", 1)[1].split("\n## ")[0]
    text = " ".join(papers.split())
    addresses = re.findall(r"^\| `(/\w+)` \|", papers, re.MULTILINE)
    assert addresses == ["/healthz", "/readyz", "/metrics"]
    for address in addresses:
        answer = app.test_client().get(address)
        assert answer.status_code == 200 and answer.headers["X-Request-Id"]
    assert f"has held the database for {READY_WITHIN_S:.0f} s" in text
    assert f"refused within {BUSY_TIMEOUT_S:.0f} s" in text
    assert f"requests in progress have {Server.FINISH_S:.0f} s to finish" in text
