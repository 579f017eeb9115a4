"""The examples in docs/deploy do what they say, run with stand-ins for what is outside of the project."""

import http.client
import os
import shutil
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.model import Role
from tests.commands.test_commands import MANIFEST, label_photo
from tests.web.page_text import read
from web.serve import make_server

PROJECT = Path(__file__).resolve().parent.parent
DEPLOY = PROJECT / "docs" / "deploy"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with one shipment that nobody has looked at."""
    (tmp_path / "manifest.csv").write_text(MANIFEST)
    assert run(["import", str(tmp_path / "manifest.csv"), "--data", str(tmp_path / "data")]) == 0
    return tmp_path / "data"


def program(path: Path, text: str) -> None:
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(0o755)


@pytest.fixture
def nightly(tmp_path: Path, data: Path) -> Callable[[], tuple[int, str]]:
    """Run the nightly example with a ``mail`` that writes down what it is given; gives the status and the mails."""
    mails = tmp_path / "mails"
    (tmp_path / "copy").mkdir()
    program(tmp_path / "bin" / "mail", f'echo "$3: $2" >> "{mails}"; cat >> "{mails}"')
    program(tmp_path / "bin" / "receiving", f'exec "{sys.executable}" -m receiving "$@"')
    given = {"DATA": str(data), "COPY": str(tmp_path / "copy"), "PATH": f"{tmp_path / 'bin'}:{os.defpath}"}
    given |= {"PYTHONPATH": str(PROJECT)}

    def night() -> tuple[int, str]:
        mails.write_text("")
        done = subprocess.run([DEPLOY / "nightly.sh"], env=os.environ | given, cwd=tmp_path, check=False)
        return done.returncode, mails.read_text()

    return night


def test_the_nightly_example_mails_what_presses_and_makes_a_copy_that_can_be_restored(
    nightly: Callable[[], tuple[int, str]], data: Path, tmp_path: Path
) -> None:
    for _ in range(2):  # the second night brings the same folder up to date
        status, mails = nightly()
        assert status == 0
        assert mails.splitlines()[0] == "coordinator@example.com: Shipments to act on"
        assert "S-1: 0 of 2 here" in mails
        assert "it@example.com" not in mails
    assert run(["restore", str(tmp_path / "copy"), "--data", str(tmp_path / "again")]) == 0

    photo = label_photo(tmp_path / "a.png", "395200000000000012", "395200000000000029")
    assert run(["add", "S-1", "--photos", str(photo), "--by", "Ada", "--data", str(data)]) == 0
    assert nightly() == (0, "")
    assert photo.read_bytes() in [path.read_bytes() for path in (tmp_path / "copy").rglob("*") if path.is_file()]


def test_the_nightly_example_tells_of_whatever_fails_and_keeps_the_last_good_copy(
    nightly: Callable[[], tuple[int, str]], data: Path, tmp_path: Path
) -> None:
    assert nightly()[0] == 0
    before = {path: path.read_bytes() for path in (tmp_path / "copy").rglob("*") if path.is_file()}
    with (data / "receiving.sqlite").open("r+b") as database:
        database.seek(4096)
        database.write(os.urandom(8192))
    status, mails = nightly()
    assert status == 1
    assert "it@example.com: Backup failed" in mails
    assert {path: path.read_bytes() for path in (tmp_path / "copy").rglob("*") if path.is_file()} == before

    (tmp_path / "copy").rename(tmp_path / "not mounted")
    status, mails = nightly()
    assert status == 1
    assert "There is no folder" in mails
    assert not (tmp_path / "copy").exists()

    shutil.rmtree(data)
    status, mails = nightly()
    assert status == 1
    assert "it@example.com: Overview failed" in mails
    assert not data.exists()


NAME = "receiving.example.com"


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def caddy() -> str:
    found = shutil.which("caddy")
    if found is None:
        pytest.skip("caddy is not installed")
    return found


@pytest.fixture
def behind_caddy(caddy: str, data: Path, tmp_path: Path) -> Iterator[Callable[..., http.client.HTTPResponse]]:
    """Ask the service behind Caddy as the example has it, on loopback and with a certificate of Caddy's own making."""
    ctx = service.Context.at(data)
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, "four plain words here")
    server = make_server(ctx, host="127.0.0.1", port=0, allowed_hosts=[NAME], proxy="127.0.0.1")
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    port, files = free_port(), tmp_path / "caddy"
    text = (DEPLOY / "Caddyfile").read_text().replace("127.0.0.1:8417", f"127.0.0.1:{server.effective_port}")
    text = text.replace(f"{NAME} {{", f"{NAME}:{port} {{\n\tbind 127.0.0.1\n\ttls internal")
    options = f"admin off\n\tauto_https disable_redirects\n\tskip_install_trust\n\tstorage file_system {files}"
    (tmp_path / "Caddyfile").write_text(f"{{\n\t{options}\n}}\n{text}")
    command = [caddy, "run", "--config", tmp_path / "Caddyfile"]
    home = {"HOME": str(files), "XDG_DATA_HOME": str(files), "XDG_CONFIG_HOME": str(files)}
    with (tmp_path / "log").open("w") as log:
        process = subprocess.Popen(command, env=os.environ | home, stderr=log)
    asked: list[http.client.HTTPConnection] = []

    def ask(path: str, **headers: str) -> http.client.HTTPResponse:
        trust = ssl.create_default_context(cafile=str(files / "pki/authorities/local/root.crt"))
        asked.append(connection := http.client.HTTPSConnection("127.0.0.1", port, timeout=60, context=trust))
        plain = socket.create_connection(("127.0.0.1", port), timeout=60)
        connection.sock = trust.wrap_socket(plain, server_hostname=NAME)
        connection.request("GET", path, headers={"Host": NAME} | headers)
        return connection.getresponse()

    try:
        wait_for(lambda: (files / "certificates/local" / NAME / f"{NAME}.crt").exists() and is_open(port), tmp_path)
        yield ask
    finally:
        for connection in asked:
            connection.close()
        process.terminate()
        process.wait(60)
        server.close()
        thread.join(60)
        ctx.close()


def is_open(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def wait_for(ready: Callable[[], bool], folder: Path) -> None:
    for _ in range(600):
        if ready():
            return
        time.sleep(0.1)
    pytest.fail((folder / "log").read_text())


def test_the_caddy_example_serves_the_page_over_https(
    behind_caddy: Callable[..., http.client.HTTPResponse],
) -> None:
    answer = behind_caddy("/sign-in")
    assert answer.status == 200
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-token=") and "Secure" in cookie
    assert "max-age=31536000" in answer.headers["Strict-Transport-Security"]
    assert "Password" in read(answer.read().decode()).text
    assert behind_caddy("/").status == 302
    assert behind_caddy("/metrics").status == 404


def test_a_caddy_example_with_an_error_would_be_told(caddy: str, tmp_path: Path) -> None:
    def check(text: str) -> int:
        (tmp_path / "Caddyfile").write_text(text)
        words = [caddy, "adapt", "--config", str(tmp_path / "Caddyfile"), "--adapter", "caddyfile"]
        return subprocess.run(words, check=False, capture_output=True).returncode

    text = (DEPLOY / "Caddyfile").read_text()
    assert check(text) == 0
    assert check(text.replace("max_size", "max_sise")) != 0


def test_the_systemd_unit_has_no_fault(tmp_path: Path) -> None:
    verify = shutil.which("systemd-analyze")
    if verify is None:
        pytest.skip("systemd-analyze is not installed")
    program(tmp_path / "bin" / "receiving", "exit 0")
    text = (DEPLOY / "receiving.service").read_text()
    unit = tmp_path / "receiving.service"

    def faults(text: str) -> str:
        unit.write_text(text.replace("/opt/receiving/bin/receiving", str(tmp_path / "bin" / "receiving")))
        done = subprocess.run([verify, "verify", unit], capture_output=True, text=True, check=False)
        return "\n".join(line for line in done.stderr.splitlines() if "receiving" in line)

    assert faults(text) == ""
    assert "ProtectSistem" in faults(text.replace("ProtectSystem", "ProtectSistem"))


def test_the_systemd_unit_gives_the_service_little(tmp_path: Path) -> None:
    """The exposure as systemd works it out: 3.4 before calls were filtered; 9.6 where a unit asks for nothing."""
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip("systemd-analyze is not installed")
    words = [analyze, "security", "--offline=true", "--threshold=25", str(DEPLOY / "receiving.service")]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout.splitlines()[-1:]
    bare = tmp_path / "receiving.service"
    bare.write_text("[Service]\nExecStart=/bin/true\n")
    assert subprocess.run([*words[:-1], str(bare)], capture_output=True, check=False).returncode != 0
