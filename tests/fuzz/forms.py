"""Forms, notes, tokens and cookies, through the app as it is served: whatever comes in, no page answers 500."""

import tempfile
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote, urlsplit

from flask import Flask, url_for

from receiving import service
from receiving.model import Role
from tests.fuzz.targets import Target
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_context, sscc
from web import create_app

KNOWN = {
    "shipment": SHIPMENT,
    "store": "0417",
    "carton": "05",
    "revision": 1,
    "number": 1,
    "question_id": "q",
    "ticket": "t",
    "token": "t",
    "person": "p",
    "link": "l",
    "rest": "r",
}
FIRST = ("rep.add_note", "rep.add_scan", "rep.add_scan_list", "coordinator.decide_all", "office.change_settings")
"""Which of the addresses to post to stand first: a search reaches the low numbers sooner."""

RENEW_AFTER = 400
WORDS = "four plain words here"


class _Served:
    """The app on an invented store, made anew after some hundred requests so that they stay as quick as at first."""

    def __init__(self, prepare: Callable[[service.Context], None] = lambda ctx: None) -> None:
        self._prepare = prepare
        self._asked = RENEW_AFTER

    def app(self) -> Flask:
        self._asked += 1
        if self._asked >= RENEW_AFTER:
            self._asked = 0
            self._folder = tempfile.TemporaryDirectory()
            ctx = open_context(Path(self._folder.name), PlannedReader())
            self._prepare(ctx)
            self._app = create_app(ctx)
            self._app.config["PROPAGATE_EXCEPTIONS"] = True
            self.endpoints = sorted(
                {rule.endpoint for rule in self._app.url_map.iter_rules() if "POST" in (rule.methods or ())},
                key=lambda name: (FIRST.index(name) if name in FIRST else len(FIRST), name),
            )
        return self._app


_open, _closed = _Served(), _Served(lambda ctx: service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS) and None)


def forms(data: bytes) -> None:
    """A form, sent as a page or as a phone's outbox sends it; the first byte chooses where to."""
    app = _open.app()
    first, body = (data[:1] or b"\0")[0], data[1:]
    endpoint = _open.endpoints[first % len(_open.endpoints)]
    with app.test_request_context():
        path, seen = url_for(endpoint, **_values(app, endpoint)), url_for("rep.state", shipment=SHIPMENT)
    client = app.test_client()
    client.get("/")
    token = client.get_cookie("token")
    headers = {"X-Token": token.value if token else ""}
    if len(body) % 2:
        headers["X-Action"] = (
            "3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01" if len(body) % 4 == 1 else body[:36].decode("latin-1")
        )
    headers = {name: "".join(c for c in value if c not in "\r\n") for name, value in headers.items()}
    sent = client.post(path, data=body, content_type="application/x-www-form-urlencoded", headers=headers)
    assert sent.status_code != 500, sent.text
    shown = client.get(seen)
    assert shown.status_code == 200, shown.text


def _values(app: Flask, endpoint: str) -> dict[str, object]:
    """A value for each part of an endpoint's address."""
    rule = next(rule for rule in app.url_map.iter_rules(endpoint) if "POST" in (rule.methods or ()))
    return {name: KNOWN.get(name, 1) for name in rule.arguments}


def _can_be_sent(host: str) -> bool:
    """The stand-in for a browser makes an address of the host, which none with a broken IPv6 address (``[:1]``) is."""
    try:
        urlsplit(f"http://{host}/")
    except ValueError:
        return False
    return True


def tokens(data: bytes) -> None:
    """A session, a form's token, a link and an API token, made up."""
    app = _closed.app()
    text = "".join(char for char in data.decode("latin-1") if char not in "\r\n")
    client = app.test_client()
    for path, headers in (
        ("/", {"Cookie": f"session={text}; token={text}"}),
        ("/", {"Cookie": text}),
        ("/api/v1/shipments", {"Authorization": text}),
        ("/api/v1/shipments", {"Authorization": f"Bearer {text}"}),
        ("/", {"Host": text}),
        (f"/s/{quote(data)}", {}),
    ):
        if not _can_be_sent(headers.get("Host", "")):
            continue
        answer = client.get(path, headers=headers)
        assert answer.status_code in (302, 303, 308, 400, 401, 403, 404, 421), (path, answer.status_code)
    answer = client.post(
        "/who", data={"by": text}, headers={"X-Token": text, "Cookie": f"token={text}", "Origin": text}
    )
    assert answer.status_code in (302, 303, 400, 401, 403, 421), answer.status_code
    browser = app.test_client()
    browser.get("/come")
    held = browser.get_cookie("token")
    assert held is not None
    answer = browser.post("/come", data={"token": held.value, "secret": text})
    assert answer.status_code in (400, 403), answer.status_code


FORM_TARGETS = {
    "forms": Target(
        forms,
        (
            b"\x00kind=carton_place&carton=05&place=dock",
            b"\x00kind=damage_noted&carton=05&reason=arrived_damaged&usable=yes&qty=2&section=Harbor+Lane&column=1&row=2",
            b"\x00kind=content_counted&carton=05&item=TRAY-H31&qty=1&column=3&row=1",
            b"\x00kind=visit_decided&decision=hold&visit_date=2026-03-09",
            b"\x00kind=shortage_followed&carton=05&step=sent_again&due=2026-03-09&noted_at=0001-01-01T00:00:00",
            b"\x00kind=note_withdrawn&withdrawn=00000000-0000-4000-8000-000000000001",
            b"\x01text=" + sscc(5).encode() + b"&place=dock",
            b"\x03shipment=S-2041%2FA&decision=hold&followed=on_its_way",
            b"\x04paper=a4&time_zone=Europe%2FOslo",
        ),
        512,
    ),
    "tokens": Target(tokens, (b"Bearer rcv_abc", b"session=abc.def; token=ab.cd", b"localhost:80", b"[::1]:8"), 256),
}
