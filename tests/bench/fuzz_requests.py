"""Requests of every kind on every route, by every role: none may be answered with 500.

    python tests/bench/fuzz_requests.py --requests 20000 --seed 1

Each route of the app is asked for by its own and by other methods, with right and wrong values in its address, in the
question and in the form (every name that the pages read), in files and in headers: as the one user of a machine, as
coordinator, rep and store manager, by a link, by a token of the API, and by nobody. After every 500 requests the store
is made anew. Told are the answers by status, and each fault once, with the first request that led to it.
"""

import argparse
import io
import json
import logging
import random
import re
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from flask import Flask
from werkzeug.routing import BuildError, Rule

from receiving import service
from receiving.model import Place, Role, Source
from tests.planned_reader import PlannedReader
from tests.web.scenario import LAYOUT, MANIFEST, SHIPMENT, open_context, picture, pile_reading, sscc
from web import create_app

ROOT = Path(__file__).resolve().parents[2]
WORDS = "four plain words here"
RENEW_AFTER = 500
ACTION = "3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01"
NAMES = sorted(
    {
        name
        for path in (ROOT / "web").rglob("*.py")
        for name in re.findall(r'(?:form|args|files|values)(?:\.get(?:list)?\(|\[)"(\w+)"', path.read_text())
    }
    | set(re.findall(r'name="(\w+)"', " ".join(p.read_text() for p in (ROOT / "web" / "templates").rglob("*.html"))))
)
"""Every name of a field that a page reads or shows."""

RIGHT = (
    SHIPMENT, "S-2055", "0417", "0422", "05", "12", "20", "1", "2", "yes", "no", "true", "false", "dock", "back_room",
    "damage_noted", "carton_seen", "content_counted", "visit_decided", "shortage_followed", "note_withdrawn",
    "read_assigned", "staging_changed", "outer_opened", "region_settled", "shipment_voided", "carton_place",
    "carton_moved", "size_said", "arrived_damaged", "hold", "send", "on_its_way", "sent_again", "B1", "Harbor Lane",
    "2026-03-09", "2026-03-05T09:00:00Z", "A4", "Letter", "all", "missing", "4x6in", "a4-4up", "300", "us", "metric",
    "Europe/Oslo", "America/Chicago", "Ada Lund", "Store manager", "rep", "coordinator", "read", "scan", "notice",
    sscc(5), f"]C100{sscc(6)}", "TRAY-H31", "save", "try", LAYOUT, "https://id.gs1.org",
    '{"height":300,"strokes":[[[1,2]]]}',
)  # fmt: skip
WRONG = (
    "", " ", "0", "-1", "1e999", "nan", "99999999999999999999999", "9" * 400, "٣", "\x00", "\ud800", "\u202e",
    "é" * 300,
    "' OR 1=1 --", "<script>", "{{7*7}}", "../../etc/passwd", "%00", "[]", "{}", "null", "[" * 5000, "a" * 20_000,
    "0001-01-01", "9999-12-31T23:59:59-23:59", "2026-02-30", "2026-13-01T00:00", "1,5", "=1+1", "\r\nSet-Cookie: a=b",
    "𝟙", "🚚", "a\tb", "[[pattern]]\nregex='('", "x" * 129,
)  # fmt: skip
FILES = (
    b"", b"x", MANIFEST.encode(), MANIFEST.encode()[:300], b"ISA*00*", b"UNA:+.? '", b"PK\x03\x04", b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n", b"shipment,store\n", b"\x00" * 1000, b"[" * 3000, LAYOUT.encode(), picture(),
    b'{"scan_id":"3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01","scanned_at":"2026-03-02T08:15:00Z","raw":"A"}',
)  # fmt: skip


class FaultLog(logging.Handler):
    """Notes the exceptions that the app logs, each by its last line in our code."""

    def __init__(self, faults: list[tuple[str, str]]) -> None:
        super().__init__(logging.ERROR)
        self.faults = faults

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[1] is not None:
            frames = traceback.extract_tb(record.exc_info[2])
            ours = [frame for frame in frames if str(ROOT) in frame.filename] or frames
            where = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}"
            kind = type(record.exc_info[1]).__name__
            self.faults.append((f"{kind} at {where}", str(record.exc_info[1])[:200]))


class World:
    """An invented store with all that an address can name, and a browser for each role."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory()
        self.faults: list[tuple[str, str]] = []
        self.clients = {}
        log = logging.getLogger()
        for handler in list(log.handlers):
            log.removeHandler(handler)
        self._handler = FaultLog(self.faults)
        log.addHandler(self._handler)
        for name, guarded in (("open", False), ("guarded", True)):
            folder = Path(self._folder.name, name)
            folder.mkdir()
            reader = PlannedReader()
            reader.readings["pile.jpg"] = pile_reading()
            ctx = open_context(folder, reader)
            app = create_app(ctx)
            known = self._known(ctx)
            if not guarded:
                self.clients["one user"] = (app, app.test_client(), known, {})
                continue
            sessions = {}
            for role in (
                Role.COORDINATOR,
                *(each for each in Role if each not in (Role.COORDINATOR, Role.STORE_STAFF)),
            ):
                service.add_person(ctx, f"{role.value} one", role, WORDS)
                sessions[role.value] = service.sign_in(ctx, f"{role.value} one", WORDS, address="::1").token
            _, link = service.make_link(ctx, SHIPMENT, "back door", days=3, by="Ada")
            sessions["link"] = service.come_by_link(ctx, link).token
            sessions["nobody"] = "made.up"
            for role, token in sessions.items():
                client = app.test_client()
                client.set_cookie("session", token)
                self.clients[role] = (app, client, {**known, "token": link}, {})
            _, secret = service.make_api_token(ctx, "programme", tuple(service.Scope), by="Ada")
            self.clients["token"] = (app, app.test_client(), known, {"Authorization": f"Bearer {secret}"})
        for _, client, _, _ in self.clients.values():
            client.get("/")

    def _known(self, ctx: service.Context) -> dict[str, object]:
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(1)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)
        torn = service.add_scan(ctx, SHIPMENT, "Harbor Lane", place=Place.DOCK, by="Ada", source=Source.TYPED)
        photo = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada").photo
        service.finish_photos(ctx)
        shown = service.show_receipt(ctx, SHIPMENT)
        service.confirm(
            ctx,
            SHIPMENT,
            shown.digest,
            name="Ida",
            role="Manager",
            with_exceptions=True,
            missing=service.MissingAnswer(searched=True),
        )
        questions = service.get_shipment(ctx, SHIPMENT).reconciliation.questions
        return {
            "shipment": SHIPMENT, "store": "0417", "carton": "05", "photo": photo, "number": 1, "revision": 1,
            "size_px": 480, "read_id": torn.read_id, "digits": sscc(5), "kind": "csv", "filename": "site.css",
            "question_id": questions[0].question_id if questions else "q", "ticket": ACTION, "token": "t",
            "person": "p", "link": "l", "path": "site.css", "name": "site.css", "mark": "m", "rest": "shipments",
        }  # fmt: skip


def value(dice: random.Random, right: float = 0.7) -> str:
    return dice.choice(RIGHT if dice.random() < right else WRONG)


def address(dice: random.Random, app: Flask, rule: Rule, known: dict[str, object]) -> str:
    """The path of a rule, each part right or wrong."""
    parts = {name: known.get(name, "x") if dice.random() < 0.85 else value(dice, 0.4) for name in rule.arguments}
    try:
        with app.test_request_context():
            return str(app.url_map.bind("localhost").build(rule.endpoint, parts, method=None))
    except (BuildError, ValueError, UnicodeError):
        return re.sub(r"<[^>]*>", lambda _: dice.choice(("1", "x", "~2F", "%ff", "9" * 30, "~ZZ")), rule.rule)


def request(dice: random.Random, world: World, role: str) -> tuple[str, str, int]:
    """Send one; gives its method, path and status."""
    app, client, known, more = world.clients[role]
    rule = dice.choice(list(app.url_map.iter_rules()))
    methods = sorted((rule.methods or set()) - {"OPTIONS"}) or ["GET"]
    method = (
        dice.choice(methods) if dice.random() < 0.95 else dice.choice(("PUT", "DELETE", "PATCH", "OPTIONS", "HEAD"))
    )
    path = address(dice, app, rule, known)
    headers = dict(more)
    token = client.get_cookie("token")
    if token and dice.random() < 0.97:
        headers["X-Token"] = token.value
    for name, given in (
        ("X-Action", ACTION[:-4] + f"{dice.randrange(10_000):04d}"), ("X-Made-At", "2026-03-05T09:00:00Z"),
        ("Idempotency-Key", ACTION), ("If-None-Match", '"x"'), ("Range", "bytes=5-"), ("Accept-Encoding", "gzip"),
        ("Content-Length", "7"), ("Referer", "http://localhost/"), ("Origin", "http://localhost"),
    ):  # fmt: skip
        if dice.random() < 0.06:
            headers[name] = given if dice.random() < 0.7 else re.sub(r"[^\x20-\x7e]", "?", value(dice, 0.0))[:200]
    question = {dice.choice(NAMES): value(dice) for _ in range(dice.randrange(3))}
    sent: dict[str, object] = {"headers": headers, "query_string": {k: clean(v) for k, v in question.items()}}
    if method in ("POST", "PUT", "PATCH"):
        fields: dict[str, object] = {dice.choice(NAMES): clean(value(dice)) for _ in range(dice.randrange(12))}
        if "notes" in path and dice.random() < 0.8:
            fields["kind"] = dice.choice(RIGHT[15:27])
        if dice.random() < 0.25:
            fields[dice.choice(("file", "photos", "photo", "scans", "list"))] = (
                io.BytesIO(dice.choice(FILES)),
                "a.bin",
            )
        if "/api/" in path or dice.random() < 0.05:
            sent |= {"data": json.dumps(fields, default=str), "content_type": "application/json"}
            if dice.random() < 0.4:
                sent["data"] = dice.choice(FILES)
        else:
            sent["data"] = fields
    try:
        answer = client.open(path, method=method, **sent)
    except (ValueError, UnicodeError) as fault:  # what the test client itself cannot send
        return method, f"{path} not sent: {fault}", 0
    answer.get_data()
    return method, f"{path} {question}", answer.status_code


def clean(text: str) -> str:
    """What a client can send: a lone surrogate has no bytes."""
    return text.encode("utf-8", "replace").decode()


def main() -> int:
    """Send them and tell."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--requests", type=int, default=20_000)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    dice, world = random.Random(options.seed), None
    statuses: Counter[int] = Counter()
    roles: Counter[str] = Counter()
    routes: Counter[str] = Counter()
    faults: dict[str, tuple[str, int]] = {}
    slow, began = 0.0, time.process_time()
    for number in range(options.requests):
        if world is None or number % RENEW_AFTER == 0:
            world = World()
        role = dice.choice(sorted(world.clients))
        world.faults.clear()
        before = time.process_time()
        method, path, status = request(dice, world, role)
        slow = max(slow, time.process_time() - before)
        statuses[status] += 1
        roles[role] += 1
        routes[path.split()[0]] += 1
        if status == 500 or (status > 500 and status != 503):
            what, detail = world.faults[-1] if world.faults else (f"status {status}", "")
            first, count = faults.get(what, (f"{role}: {method} {path[:300]}: {detail}", 0))
            faults[what] = (first, count + 1)
            if not count:
                print(f"request {number}: {what}: {first}", flush=True)
    print(f"{sum(statuses.values())} requests in {time.process_time() - began:.0f} s of CPU, the longest {slow:.1f} s")
    print("by status:", dict(sorted(statuses.items())))
    print("by role:", dict(sorted(roles.items())))
    print(f"{len(faults)} faults:", {what: count for what, (_, count) in faults.items()})
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
