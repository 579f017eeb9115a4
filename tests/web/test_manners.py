"""Alive, ready, counted and logged; and what a server in front may say."""

import json
import logging
import shutil
import socket
import subprocess
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from werkzeug.test import Client, TestResponse

from receiving import service
from receiving.errors import BadRequest, StoreError
from receiving.model import Role
from tests.web.page_text import read
from tests.web.test_rep import ADDRESS
from web import create_app
from web.manners import log_requests
from web.proxy import wrapped
from web.serve import make_server

WORDS = "four plain words here"
PROXY = "192.0.2.10"
DEPLOY = Path(__file__).resolve().parents[2] / "docs" / "deploy"


def test_it_is_alive_and_ready(app: Flask) -> None:
    client = app.test_client()
    assert client.get("/healthz").text == "ok\n"
    assert client.get("/readyz").json == {"ready": True, "photos_waiting": 0}


def test_it_is_not_ready_without_its_data_and_says_no_path(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(desk: service.Desk) -> int:
        raise StoreError(f"The database {desk.data} cannot be used.")

    monkeypatch.setattr(service, "ready", broken)
    response = app.test_client().get("/readyz")
    assert response.status_code == 503
    assert "receiving.sqlite" not in response.text and "/tmp" not in response.text


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
    told = json.loads(line)
    assert (told["endpoint"], told["status"], told["method"]) == ("rep.carton", 200, "GET")
    assert told["request"] == answered.headers["X-Request-Id"]
    assert "S-2041" not in line and "secret" not in line and "Ada" not in line


def asked(app: Flask, address: str, headers: dict[str, str], proxy: str = PROXY, user: str = "X-User") -> TestResponse:
    client = Client(wrapped(app.wsgi_app, proxy, user))
    return client.get("/", headers=headers, environ_base={"REMOTE_ADDR": address})


def test_the_named_proxy_alone_may_say_that_it_was_https(app: Flask) -> None:
    told = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.7"}
    for address, secure in ((PROXY, True), ("192.0.2.11", False)):
        cookie = asked(app, address, told).headers["Set-Cookie"]
        assert ("Secure" in cookie) is secure


def test_the_named_proxy_alone_may_say_who_is_signed_on(desk: service.Desk) -> None:
    service.add_person(desk, "Ada Lund", Role.COORDINATOR, WORDS)
    app = create_app(desk)
    assert asked(app, PROXY, {"X-User": "ada lund"}).status_code == 200
    for address, headers in ((PROXY, {"X-User": "Nobody"}), (PROXY, {}), ("192.0.2.11", {"X-User": "Ada Lund"})):
        assert "/sign-in" in asked(app, address, headers).headers["Location"]


def test_a_user_header_without_a_named_proxy_is_refused(app: Flask) -> None:
    with pytest.raises(BadRequest, match="believed from anybody"):
        wrapped(app, "", "X-User")
    with pytest.raises(BadRequest, match="is not an IP address"):
        wrapped(app, "proxy.example", "")


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def behind_nginx(desk: service.Desk, tmp_path: Path) -> Iterator[str]:
    """The service behind nginx as the example configures it, but for TLS and ports."""
    nginx = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if nginx is None:
        pytest.skip("nginx is not installed")
    server = make_server(desk, host="127.0.0.1", port=0, allowed_hosts=["receiving.example.com"], proxy="127.0.0.1")
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    port = free_port()
    text = (DEPLOY / "nginx.conf").read_text()
    text = text.replace("127.0.0.1:8417", f"127.0.0.1:{server.effective_port}").replace(
        "listen 443 ssl;", f"listen 127.0.0.1:{port};"
    )
    text = "\n".join(line for line in text.splitlines() if "ssl_" not in line)
    text = text.replace("X-Forwarded-Proto $scheme", "X-Forwarded-Proto https")
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
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(20)
        server.close()
        thread.join(20)


def test_the_nginx_example_serves_the_page_over_https(behind_nginx: str) -> None:
    request = urllib.request.Request(behind_nginx, headers={"Host": "receiving.example.com"})
    with urllib.request.urlopen(request, timeout=30) as response:
        assert response.status == 200
        assert "Secure" in response.headers["Set-Cookie"]
        assert "Shipments" in read(response.read().decode()).text
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(f"{behind_nginx}/metrics", timeout=30)
