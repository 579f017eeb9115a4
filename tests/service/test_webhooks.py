"""Webhooks: signed, sent beside the requests, again until they arrive, to no private address unless allowed."""

import base64
import hashlib
import hmac
import json
import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ipaddress import ip_address
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest, NotFound
from receiving.model import Place, Source
from receiving.service.webhook_sending import (
    OLD_SECRET_FOR,
    WAITS_S,
    check_url,
    may_reach,
    read_networks,
    send,
    signature,
)
from receiving.wording import stored_words
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.web.scenario import MANIFEST, SHIPMENT, sscc

HERE = read_networks(["127.0.0.0/8"])
ALL = list(service.EventKind)


class Program(ThreadingHTTPServer):
    """Another program on loopback that keeps what it is told, and answers what it is set to answer."""

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Ear)
        self.heard: list[tuple[dict[str, str], bytes]] = []
        self.answer = 204
        self.url = f"http://127.0.0.1:{self.server_address[1]}/told?by=us"


class Ear(BaseHTTPRequestHandler):
    server: Program

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.heard.append(({name.lower(): value for name, value in self.headers.items()}, body))
        self.send_response(self.server.answer)
        self.send_header("Location", "http://127.0.0.1:1/elsewhere")
        self.end_headers()

    def log_message(self, *values: object) -> None: ...


@pytest.fixture
def program() -> Iterator[Program]:
    with Program() as made:
        thread = threading.Thread(target=made.serve_forever, daemon=True)
        thread.start()
        yield made
        made.shutdown()
        thread.join()


class Clock:
    def __init__(self) -> None:
        self.now = datetime(2026, 3, 5, 9, 30, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def context_at(folder: Path, clock: Clock) -> service.Context:
    ctx = service.Context(folder, PlannedReader(), now=clock)
    ctx.webhook_networks = HERE
    return ctx


@pytest.fixture
def ctx(tmp_path: Path, clock: Clock) -> Iterator[service.Context]:
    with context_at(tmp_path / "data", clock) as made:
        service.import_manifest(made, "m.csv", MANIFEST.encode())
        yield made


def scan(ctx: service.Context, shipment: str, serial: int) -> None:
    service.add_scan(ctx, shipment, f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    service.get_list_version(ctx)


def confirm(ctx: service.Context, shipment: str = SHIPMENT) -> None:
    confirm_with_shorts(ctx, shipment, name="Bo")


def posted(program: Program) -> list[tuple[str, str]]:
    return [(body["event"], body["shipment"]) for body in (json.loads(sent) for _, sent in program.heard)]


def test_the_published_vector_is_signed_as_published() -> None:
    """From the tests of the reference libraries (github.com/standard-webhooks/standard-webhooks)."""
    made = signature(
        "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
        "msg_p5jXN8AQM9LWM0D4loKWxJek",
        1614265330,
        b'{"test": 2432232314}',
    )
    assert made == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_a_program_is_told_what_happens_and_can_check_that_it_is_from_here(
    ctx: service.Context, program: Program, clock: Clock
) -> None:
    service.get_list_version(ctx)
    webhook = service.make_webhook(ctx, program.url, ALL, by="Ada")
    scan(ctx, "S-2055", 101)
    scan(ctx, "S-2055", 101)  # nothing changes
    confirm(ctx)
    assert program.heard == []  # nothing is sent on the path of a request
    assert service.send_due(ctx) == 4
    assert sorted(posted(program)) == sorted(
        [
            ("shipment_short", "S-2055"),
            ("advice_changed", "S-2055"),
            ("shipment_confirmed", SHIPMENT),
            ("receipt_sealed", SHIPMENT),
        ]
    )
    for headers, body in program.heard:
        signed = f"{headers['webhook-id']}.{headers['webhook-timestamp']}.".encode() + body
        key = base64.b64decode(webhook.secret.removeprefix("whsec_"))
        made = "v1," + base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
        assert hmac.compare_digest(made, headers["webhook-signature"])
        assert int(headers["webhook-timestamp"]) == int(clock.now.timestamp())
    assert service.send_due(ctx) == 0
    assert {each.answer for each in service.list_webhook_deliveries(ctx)} == {204}


def test_a_webhook_of_a_programme_is_told_of_its_shipments_alone(ctx: service.Context, program: Program) -> None:
    head = "shipment,store,carton,kind,sscc,references,dispatch_date\n"
    for shipment, programme, n in (("S-3001", "Spring reset", 900), ("S-3002", "Fall", 901)):
        rows = "".join(
            f"{shipment},0417,{k:02d},tray,{sscc(n + 10 * k)},programme={programme},2026-03-09\n" for k in (1, 2)
        )
        service.import_manifest(ctx, "m.csv", (head + rows).encode())
    service.get_list_version(ctx)
    service.make_webhook(ctx, program.url, ALL, by="Ada", programmes=["Spring reset"])
    service.make_webhook(ctx, program.url, ALL, by="Ada", stores=["0422"], programmes=["Spring reset"])
    for shipment, n in (("S-3001", 910), ("S-3002", 911), ("S-2055", 101)):
        scan(ctx, shipment, n)
        confirm(ctx, shipment)
    service.send_due(ctx)
    assert {shipment for _, shipment in posted(program)} == {"S-3001"}
    assert sorted({kind for kind, _ in posted(program)}) == sorted(ALL)


def test_what_does_not_arrive_is_sent_again_with_growing_waits_and_given_up_at_last(
    ctx: service.Context, program: Program, clock: Clock
) -> None:
    service.make_webhook(ctx, program.url, ALL, by="Ada")
    program.answer = 500
    confirm(ctx)
    waits = []
    for wait in WAITS_S:
        assert service.send_due(ctx) == 2
        assert service.send_due(ctx) == 0
        waits.append(wait)
        clock.now += timedelta(seconds=wait)
    assert list(WAITS_S) == sorted(WAITS_S)
    service.send_due(ctx)
    assert len(program.heard) == len(WAITS_S) + 1  # the second message waited for the first each time
    one, two = service.list_webhook_deliveries(ctx)
    assert (one.next_at, two.next_at) == (None, None)
    assert {str(stored_words(each.fault)) for each in (one, two)} == {
        "The program answered 500.",
        "Waits for an earlier message.",
    }
    assert len({headers["webhook-id"] for headers, _ in program.heard}) == 1
    program.answer = 200
    service.send_delivery_again(ctx, two.delivery_id)
    assert service.send_due(ctx) == 1
    assert service.list_webhook_deliveries(ctx)[1].delivered_at == clock.now


def test_what_waits_is_sent_after_a_restart(tmp_path: Path, clock: Clock, program: Program) -> None:
    with context_at(tmp_path / "again", clock) as before:
        service.import_manifest(before, "m.csv", MANIFEST.encode())
        service.make_webhook(before, program.url, ["shipment_confirmed"], by="Ada")
        confirm(before)
    with context_at(tmp_path / "again", clock) as after:
        assert service.send_due(after) == 1
    assert posted(program) == [("shipment_confirmed", SHIPMENT)]


def test_the_running_service_sends_by_itself(ctx: service.Context, program: Program) -> None:
    webhook = service.make_webhook(ctx, program.url, ALL, by="Ada")
    service.try_webhook(ctx, webhook.webhook_id)
    service.keep_sending(ctx)
    for _ in range(200):
        if program.heard:
            break
        threading.Event().wait(0.05)
    assert posted(program) == [("trial", "")]


def test_a_program_that_does_not_answer_holds_up_no_other(ctx: service.Context, program: Program) -> None:
    silent = socket.create_server(("127.0.0.1", 0))
    address = f"http://127.0.0.1:{silent.getsockname()[1]}/"
    with silent:
        stuck = service.make_webhook(ctx, address, ["receipt_sealed"], by="Ada")
        service.make_webhook(ctx, program.url, ["shipment_confirmed"], by="Ada")
        service.try_webhook(ctx, stuck.webhook_id)
        service.keep_sending(ctx)
        taken, _ = silent.accept()
        with taken:
            confirm(ctx)
            for _ in range(100):
                if program.heard:
                    break
                threading.Event().wait(0.05)
            assert posted(program) == [("shipment_confirmed", SHIPMENT)]


def test_for_a_day_after_a_change_both_secrets_sign(ctx: service.Context, program: Program, clock: Clock) -> None:
    webhook = service.make_webhook(ctx, program.url, ALL, by="Ada")
    new = service.rotate_webhook_secret(ctx, webhook.webhook_id)
    assert new != webhook.secret
    for wait, signers in ((timedelta(), [new, webhook.secret]), (OLD_SECRET_FOR, [new])):
        clock.now += wait
        service.try_webhook(ctx, webhook.webhook_id)
        service.send_due(ctx)
        headers, body = program.heard[-1]
        sent_at = int(headers["webhook-timestamp"])
        expected = [signature(each, headers["webhook-id"], sent_at, body) for each in signers]
        assert headers["webhook-signature"].split() == expected


def test_a_program_is_told_of_its_events_and_its_stores_alone_until_it_is_ended(
    ctx: service.Context, program: Program
) -> None:
    service.make_webhook(ctx, program.url, ["receipt_sealed"], by="Ada", stores=["0422"])
    webhook = service.make_webhook(ctx, program.url, ["shipment_confirmed"], by="Ada")
    confirm(ctx)
    confirm(ctx, "S-2055")
    service.send_due(ctx)
    assert sorted(posted(program)) == [
        ("receipt_sealed", "S-2055"),
        ("shipment_confirmed", SHIPMENT),
        ("shipment_confirmed", "S-2055"),
    ]
    service.try_webhook(ctx, webhook.webhook_id)
    service.end_webhook(ctx, webhook.webhook_id)
    assert service.send_due(ctx) == 0
    for deed in (service.end_webhook, service.try_webhook, service.rotate_webhook_secret):
        with pytest.raises(NotFound):
            deed(ctx, webhook.webhook_id)


def test_no_redirect_is_followed(program: Program) -> None:
    program.answer = 307
    sent = send(program.url, b"{}", message_id="m", signed_with=[], now=datetime.now(UTC), allowed=HERE)
    assert (sent.answer, str(sent.fault)) == (307, "The program answered 307: redirects are not followed.")
    assert len(program.heard) == 1


@pytest.mark.parametrize(
    "address",
    [
        "127.0.0.1",
        "10.0.0.5",
        "172.16.0.1",
        "192.168.1.1",
        "169.254.169.254",
        "100.64.0.1",
        "0.0.0.0",
        "224.0.0.1",
        "255.255.255.255",
        "::1",
        "fe80::1",
        "fd00::1",
        "::ffff:10.0.0.5",
        "64:ff9b::a00:5",
        "2002:a00:5::1",
        "ff02::1",
    ],
)
def test_no_address_of_a_private_network_is_reached(address: str) -> None:
    assert not may_reach(ip_address(address), ())
    with pytest.raises(BadRequest, match="private network"):
        check_url(f"https://{f'[{address}]' if ':' in address else address}/told")


def test_a_name_that_leads_to_a_private_address_is_not_reached(
    ctx: service.Context, program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    named_url = program.url.replace("127.0.0.1", "localhost").replace("http:", "https:")
    sent = send(named_url, b"{}", message_id="m", signed_with=[], now=datetime.now(UTC))
    assert (sent.answer, "private network" in str(sent.fault), program.heard) == (0, True, [])
    both = [(2, 1, 6, "", ("192.0.43.8", 443)), (2, 1, 6, "", ("127.0.0.1", 443))]
    monkeypatch.setattr("socket.getaddrinfo", lambda *values, **named: both)
    sent = send("https://two.example/", b"{}", message_id="m", signed_with=[], now=datetime.now(UTC))
    assert "private network" in str(sent.fault)


def test_a_public_address_may_be_reached() -> None:
    for address in ("192.0.43.8", "2606:2800:21f:cb07:6820:80da:af6b:8b2c", "64:ff9b::c000:2b08"):
        assert may_reach(ip_address(address), ())


@pytest.mark.parametrize(
    "url",
    [
        "",
        "ftp://a.example/",
        "https://",
        "https://a.example:0/",
        "https://a.example:x/",
        "https://u:p@a.example/",
        "http://a.example/",
        "https://a.example/#x",
        "https://" + "a" * 600,
    ],
)
def test_an_address_that_cannot_be_one_is_refused(ctx: service.Context, url: str) -> None:
    with pytest.raises(BadRequest):
        check_url(url)


def test_events_that_are_not_there_and_no_store_are_refused(ctx: service.Context, program: Program) -> None:
    for events, stores in ((["noon"], None), ([], None), (ALL, [" "])):
        with pytest.raises(BadRequest):
            service.make_webhook(ctx, program.url, events, by="Ada", stores=stores)
    with pytest.raises(BadRequest, match="not a network"):
        read_networks(["10.0.0.1/8"])


def test_what_is_long_over_is_forgotten(ctx: service.Context, program: Program, clock: Clock) -> None:
    webhook = service.make_webhook(ctx, program.url, ALL, by="Ada")
    service.try_webhook(ctx, webhook.webhook_id)
    service.send_due(ctx)
    clock.now += timedelta(days=31)
    service.try_webhook(ctx, webhook.webhook_id)
    with ctx.store() as store:
        store.forget_deliveries(clock.now)
    assert [each.next_at is None for each in service.list_webhook_deliveries(ctx)] == [False]
