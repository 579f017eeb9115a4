"""TLS by the service's own authority: what Python's ssl, and so OpenSSL, verifies, and what plain HTTP gets."""

import http.client
import socket
import ssl
import stat
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_pem_private_key

from receiving import service
from receiving.commands.serve import _say_where
from receiving.errors import BadRequest, StoreError
from web import certificates, tls
from web.serve import Server, make_server

PATIENCE_S = 60
NOW = datetime(2026, 12, 1, 9, tzinfo=UTC)
HOSTS = ("127.0.0.1", "localhost")


@contextmanager
def running(ctx: service.Context, **options: object) -> Iterator[Server]:
    server = make_server(ctx, host="127.0.0.1", port=0, tls=True, **options)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.close()
        thread.join(PATIENCE_S)


def trusting(ctx: service.Context) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(ctx.data / "tls" / "authority.crt"))


def handshake(server: Server, context: ssl.SSLContext) -> tuple[str, bytes]:
    """The protocol that was agreed on, and the server's certificate."""
    where = ("127.0.0.1", server.effective_port)
    with (
        socket.create_connection(where, timeout=PATIENCE_S) as plain,
        context.wrap_socket(plain, server_hostname=where[0]) as wrapped,
    ):
        return wrapped.version() or "", wrapped.getpeercert(True) or b""


def ask(server: Server, ctx: service.Context, path: str, host: str = "127.0.0.1", **headers: str) -> object:
    connection = http.client.HTTPSConnection(host, server.effective_port, timeout=PATIENCE_S, context=trusting(ctx))
    with closing(connection):
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        answer.body = answer.read()
        return answer


@pytest.fixture
def ctx(ctx: service.Context) -> service.Context:
    """Its clock is right: Python's ssl holds certificates against the machine's own."""
    ctx.now = lambda: datetime.now(UTC)
    return ctx


@pytest.mark.parametrize("host", HOSTS)
def test_a_browser_that_has_the_authority_opens_the_page_by_name_and_address(ctx: service.Context, host: str) -> None:
    with running(ctx) as server:
        answer = ask(server, ctx, "/", host)
        assert answer.status == 200
        assert b"Store 0417" in answer.body
        assert "Secure" in answer.getheader("Set-Cookie", "")


def test_a_browser_without_the_authority_does_not(ctx: service.Context) -> None:
    with running(ctx) as server, pytest.raises(ssl.SSLCertVerificationError):
        handshake(server, ssl.create_default_context())


def test_old_protocols_are_refused(ctx: service.Context) -> None:
    with running(ctx) as server:
        context = trusting(ctx)
        context.minimum_version = context.maximum_version = ssl.TLSVersion.TLSv1_2
        assert handshake(server, context)[0] == "TLSv1.2"
        with pytest.warns(DeprecationWarning):
            context.minimum_version = ssl.TLSVersion.TLSv1_1
            context.maximum_version = ssl.TLSVersion.TLSv1_1
        with pytest.raises(OSError):  # ssl.SSLError is one
            handshake(server, context)


def test_plain_http_gets_the_page_that_installs_the_authority_and_nothing_else(ctx: service.Context) -> None:
    with running(ctx) as server:

        def plain(path: str) -> http.client.HTTPResponse:
            connection = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=PATIENCE_S)
            with closing(connection):
                connection.request("GET", path)
                answer = connection.getresponse()
                answer.body = answer.read()
                return answer

        for path in ("/", "/s/S-2041~2FA", "/metrics", "/signal"):
            answer = plain(path)
            assert (answer.status, answer.getheader("Location"), answer.body) == (303, "/trust", b"")
        page = plain("/trust")
        assert page.status == 200
        assert page.getheader("Set-Cookie") is None
        shown = server.where("127.0.0.1").fingerprint
        assert all(" ".join(shown.split(":")[n : n + 8]).encode() in page.body for n in range(0, 32, 8))
        certificate = plain("/trust/authority.crt")
        assert certificate.getheader("Content-Type") == "application/x-x509-ca-cert"
        read = x509.load_der_x509_certificate(certificate.body)
        assert read.fingerprint(hashes.SHA256()).hex(":").upper() == shown


def test_forwarded_headers_change_nothing_and_the_log_has_the_clients_address(ctx: service.Context) -> None:
    seen: list[tuple[str, str, str]] = []

    def app(environ: dict[str, str], start_response: object) -> list[bytes]:
        seen.append((environ["REMOTE_ADDR"], environ["wsgi.url_scheme"], environ.get("HTTP_X_FORWARDED_FOR", "")))
        start_response("200 OK", [])
        return [b""]

    behind = tls.BehindTls(app, {4000: tls.Client("192.168.1.9", tls=True)})
    began: list[str] = []
    environ = {"REMOTE_ADDR": "127.0.0.1", "REMOTE_PORT": "4000", "wsgi.url_scheme": "http", "PATH_INFO": "/"}
    behind(dict(environ), lambda status, headers: began.append(status))
    behind({**environ, "REMOTE_PORT": "4001"}, lambda status, headers: began.append(status))
    assert seen == [("192.168.1.9", "https", "")]
    assert began[1] == "421 Misdirected Request"
    with running(ctx) as server:
        answer = ask(server, ctx, "/metrics", **{"X-Forwarded-Proto": "http", "X-Forwarded-For": "203.0.113.9"})
        assert answer.status == 200  # this machine alone may ask for it, and is not taken for another


def test_the_port_behind_takes_nobody_but_the_front(ctx: service.Context) -> None:
    with running(ctx) as server:
        connection = http.client.HTTPConnection("127.0.0.1", server._inner_port, timeout=PATIENCE_S)
        connection.request("GET", "/")
        assert connection.getresponse().status == 421
        connection.close()


def test_hundred_and_fifty_connections_are_answered_while_slow_ones_hang(ctx: service.Context) -> None:
    with running(ctx) as server:
        context, where = trusting(ctx), ("127.0.0.1", server.effective_port)
        hanging = [socket.create_connection(where) for _ in range(40)]  # connected, and silent
        for each in hanging[:20]:
            each.sendall(b"\x16\x03\x01")  # the beginning of a handshake
        opened = []
        for _ in range(150):
            plain = socket.create_connection(where, timeout=PATIENCE_S)
            opened.append(context.wrap_socket(plain, server_hostname="127.0.0.1"))
        for each in opened:
            each.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert [each.recv(12) for each in opened] == [b"HTTP/1.1 200"] * 150
        for each in (*opened, *hanging):
            each.close()


def test_a_front_that_ends_meanwhile_has_nothing_left_to_stop(
    ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    with running(ctx) as server:
        handshake(server, trusting(ctx))
        front = server._front
    front._thread.join(PATIENCE_S)
    assert front._loop.is_closed()
    monkeypatch.setattr(front._thread, "is_alive", lambda: True)  # as between the loop's end and the thread's
    front.listen_no_more()
    front.close()


def test_a_front_that_was_closed_before_it_began_does_not_begin(ctx: service.Context) -> None:
    server = make_server(ctx, host="127.0.0.1", port=0, tls=True)
    server.close()
    server.run()
    assert not server._front._thread.is_alive()


def test_a_silent_connection_is_given_up(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tls, "HANDSHAKE_S", 0.3)
    with running(ctx) as server:
        for first in (b"", b"\x16\x03\x01"):
            with socket.create_connection(("127.0.0.1", server.effective_port), timeout=PATIENCE_S) as silent:
                silent.sendall(first)
                with suppress(ConnectionResetError):
                    assert silent.recv(100) == b""


def test_large_bodies_go_through_both_ways(ctx: service.Context) -> None:
    with running(ctx) as server:
        connection = http.client.HTTPSConnection(
            "127.0.0.1", server.effective_port, timeout=PATIENCE_S, context=trusting(ctx)
        )
        with closing(connection):
            connection.request("POST", "/who", body=b"x" * 5_000_000, headers={"Content-Type": "text/plain"})
            assert connection.getresponse().read().count(b"did not come from a page") == 1
        assert len(ask(server, ctx, "/assets/x/vendor/zxing-wasm-3.1.4/zxing_reader.wasm").body) > 500_000


def test_a_stop_lets_what_is_in_work_end(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    began, go_on = threading.Event(), threading.Event()
    whole = service.get_office_view

    def get_office_view(*asked: object) -> object:
        began.set()
        go_on.wait(PATIENCE_S)
        return whole(*asked)

    monkeypatch.setattr(service, "get_office_view", get_office_view)
    server = make_server(ctx, host="127.0.0.1", port=0, tls=True)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    connection = http.client.HTTPSConnection(
        "127.0.0.1", server.effective_port, timeout=PATIENCE_S, context=trusting(ctx)
    )
    connection.request("GET", "/office")
    assert began.wait(PATIENCE_S)
    server.stop()
    for _ in range(200):
        try:
            socket.create_connection(("127.0.0.1", server.effective_port), timeout=5).close()
            time.sleep(0.02)
        except OSError:
            break
    else:
        pytest.fail("it still listens")
    go_on.set()
    assert b"Store 0417" in connection.getresponse().read()
    connection.close()
    thread.join(PATIENCE_S)
    assert not thread.is_alive()
    server.close()


def test_the_servers_certificate_is_what_phones_ask_for(tmp_path: Path) -> None:
    found, made = certificates.ensure(tmp_path, HOSTS, NOW)
    assert made
    server = x509.load_pem_x509_certificate(found.server.read_bytes())
    assert server.not_valid_after_utc - server.not_valid_before_utc <= timedelta(days=397)
    names = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert sorted(str(each.value) for each in names) == ["127.0.0.1", "localhost"]
    purpose = server.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(purpose) == [x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]
    for path in (found.authority_key, found.server_key, found.authority, found.server):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(found.folder.stat().st_mode) == 0o700


def test_it_is_renewed_near_its_end_and_for_a_new_address_and_the_authority_is_kept(tmp_path: Path) -> None:
    found, _ = certificates.ensure(tmp_path, HOSTS, NOW)
    authority = found.fingerprint()
    assert not certificates.ensure(tmp_path, HOSTS, NOW + timedelta(days=365))[1]
    assert certificates.ensure(tmp_path, HOSTS, NOW + timedelta(days=367))[1]
    assert certificates.ensure(tmp_path, (*HOSTS, "192.168.1.20"), NOW + timedelta(days=367))[1]
    assert not certificates.ensure(tmp_path, HOSTS, NOW + timedelta(days=367))[1]
    assert found.fingerprint() == authority


def test_a_lost_or_foreign_key_of_the_server_is_made_anew(tmp_path: Path) -> None:
    found, _ = certificates.ensure(tmp_path, HOSTS, NOW)
    found.server_key.write_bytes(found.authority_key.read_bytes())
    assert certificates.ensure(tmp_path, HOSTS, NOW)[1]
    found.server.write_text("no certificate")
    assert certificates.ensure(tmp_path, HOSTS, NOW)[1]


def test_a_damaged_authority_is_named_and_not_replaced(tmp_path: Path) -> None:
    found, _ = certificates.ensure(tmp_path, HOSTS, NOW)
    found.authority.write_text("no certificate")
    with pytest.raises(StoreError, match="cannot be used") as fault:
        certificates.ensure(tmp_path, HOSTS, NOW)
    assert "every phone installs it again" in str(fault.value.next_step)
    assert found.authority.read_text() == "no certificate"


def test_a_stolen_authority_can_pass_for_no_other_site(tmp_path: Path) -> None:
    """OpenSSL refuses what the authority signs outside its own names (RFC 5280, section 4.2.1.10)."""
    now = datetime.now(UTC)
    found, _ = certificates.ensure(tmp_path, HOSTS, now)
    with pytest.raises(BadRequest, match=r"was not made for 'bank\.example'"):
        certificates.ensure(tmp_path, ("bank.example",), now)
    authority = x509.load_pem_x509_certificate(found.authority.read_bytes())
    signer = load_pem_private_key(found.authority_key.read_bytes(), password=None)
    key = ec.generate_private_key(ec.SECP256R1())
    for name, refused in (("bank.example", True), ("localhost", False)):
        forged = (
            x509.CertificateBuilder()
            .subject_name(x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, "forged")]))
            .issuer_name(authority.subject)
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(hours=1))
            .not_valid_after(now + timedelta(days=10))
            .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
            .sign(signer, hashes.SHA256())
        )
        certificates._write(tmp_path / "forged.crt", certificates._pem(forged))
        certificates._write(tmp_path / "forged.key", certificates._key_pem(key))
        assert _refused(tmp_path, found, name) is refused


def _refused(folder: Path, found: certificates.Certificates, name: str) -> bool:
    """Whether OpenSSL ends a handshake in memory with this certificate."""
    ours = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    ours.load_cert_chain(folder / "forged.crt", folder / "forged.key")
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    server = ours.wrap_bio(to_server, to_client, server_side=True)
    trusted = ssl.create_default_context(cafile=str(found.authority))
    client = trusted.wrap_bio(to_client, to_server, server_hostname=name)
    for _ in range(4):
        for side in (client, server):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
            except ssl.SSLCertVerificationError:
                return True
    return False


def test_it_says_where_phones_begin_with_a_code_and_the_fingerprint(
    ctx: service.Context, capsys: pytest.CaptureFixture[str]
) -> None:
    with running(ctx) as server:
        where = server.where("127.0.0.1")
        _say_where(where)
    output = capsys.readouterr().out
    assert f"https://127.0.0.1:{server.effective_port}/ " in output
    assert where.install_address == f"http://127.0.0.1:{server.effective_port}/trust"
    assert where.install_address in output
    assert "".join(output.split()).count(where.fingerprint.replace(":", "")) == 1
    assert _read_code(output) == where.install_address


def _read_code(output: str) -> str:
    """What zxing-cpp reads in the half blocks of a terminal that is dark."""
    import numpy as np
    import zxingcpp

    rows = [line for line in output.splitlines() if line and set(line) <= set("█▀▄ ")]
    width = max(map(len, rows))
    light = np.zeros((2 * len(rows), width), np.uint8)
    for y, line in enumerate(rows):
        for x, sign in enumerate(line.ljust(width)):
            light[2 * y, x], light[2 * y + 1, x] = sign in "█▀", sign in "█▄"
    picture = np.kron(light * 255, np.ones((6, 6), np.uint8))
    (found,) = zxingcpp.read_barcodes(np.ascontiguousarray(picture))
    return str(found.text)


def test_the_new_certificate_is_shown_without_a_restart(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    with running(ctx) as server:
        front = server._front

        def shown() -> int:
            return x509.load_der_x509_certificate(handshake(server, trusting(ctx))[1]).serial_number

        before = shown()
        monkeypatch.setattr(certificates, "RENEW_DAYS", 397)
        import asyncio

        asyncio.run_coroutine_threadsafe(front.renew_now(), front._loop).result(PATIENCE_S)
        assert shown() != before


def test_without_tls_there_is_no_authority_to_install(ctx: service.Context) -> None:
    from web import create_app

    answer = create_app(ctx).test_client().get("/trust")
    assert answer.status_code == 404
    assert "Nothing has to be installed" in answer.text
