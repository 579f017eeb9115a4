"""The API: tokens with scopes, ids that make a call count once, and a description that is true."""

import json
import re
import uuid
from collections.abc import Callable
from typing import Any

import msgspec
import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.test import TestResponse

from receiving import service
from receiving.model import PhotoReading
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import picture
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import MANIFEST, SHIPMENT, sscc
from web import api_types
from web.api_description import OPERATIONS, description

Call = Callable[..., TestResponse]
ADDRESS = "/api/v1/shipments/S-2041~2FA"


@pytest.fixture
def call(client: FlaskClient, ctx: service.Context) -> Call:
    _, secret = service.make_api_token(ctx, "till", ["read", "scan", "notice"], by="Ada")

    def send(method: str, path: str, body: object = None, *, key: str = "", token: str = secret) -> TestResponse:
        headers = {"Authorization": f"Bearer {token}"} if token else {}
        headers |= {"Idempotency-Key": key} if key else {}
        data = body if isinstance(body, bytes) else json.dumps(body).encode() if body is not None else None
        return client.open(path, method=method, data=data, headers=headers)

    return send


def new() -> str:
    return str(uuid.uuid4())


def scan(raw: str, **more: object) -> dict[str, object]:
    return {"raw": raw, "scan_id": new(), "place": "dock", "by": "till", **more}


SPANISH = {"Accept-Language": "es", "Cookie": "language=es"}


@pytest.mark.parametrize("method_and_path", [(each.method, each.path) for each in OPERATIONS], ids=" ".join)
@pytest.mark.parametrize("token", ["", "none", "read"])
def test_what_a_program_is_answered_is_english_and_the_same_whatever_language_it_asks_for(
    client: FlaskClient, ctx: service.Context, method_and_path: tuple[str, str], token: str
) -> None:
    # Its words are matched and logged by machines; RFC 9457, section 3.1.3, allows a language, and does not ask for it.
    method, path = method_and_path
    _, secret = service.make_api_token(ctx, "till", ["read", "scan", "notice"] if token == "read" else ["scan"], by="A")
    address = re.sub(r"\{\w+\}", "77", path.replace("{shipment}", "S-2041~2FA"))
    address = address if address.startswith("/api/v1") else f"/api/v1{address}"
    headers = {"Authorization": f"Bearer {secret}"} if token else {}
    for body in (b"", b"{", b'{"raw": "x"}'):
        key = {"Idempotency-Key": new()} if body else {}
        answers = [
            client.open(address, method=method, data=body, headers={**headers, **key, **asked})
            for asked in ({}, SPANISH)
        ]
        assert answers[0].data == answers[1].data
        assert answers[0].status_code == answers[1].status_code
        assert "es" not in answers[1].headers.get("Content-Language", "")


@pytest.mark.parametrize("method", ["GET", "POST", "PUT"])
@pytest.mark.parametrize(
    "address", ["/api/v1/nowhere", "/api/nowhere", f"{ADDRESS}/nowhere", "/api/v1/shipments?page=x"]
)
def test_what_is_not_a_call_is_answered_in_english_too(client: FlaskClient, method: str, address: str) -> None:
    plain, asked = (client.open(address, method=method, headers=headers) for headers in ({}, SPANISH))
    assert plain.status_code == asked.status_code >= 400
    assert plain.data == asked.data
    assert asked.mimetype == "application/problem+json"


def test_state_plan_and_receipt_come_out_as_described(call: Call, ctx: service.Context) -> None:
    assert call("POST", f"{ADDRESS}/scans", scan(f"]C100{sscc(1)}"), key=new()).status_code == 200
    listed = msgspec.json.decode(call("GET", "/api/v1/shipments").data, type=api_types.ShipmentList)
    assert [(each.shipment, each.state) for each in listed.shipments] == [(SHIPMENT, "short"), ("S-2055", "unseen")]
    assert (listed.count, listed.next_page) == (2, 0)
    state = msgspec.json.decode(call("GET", ADDRESS).data, type=api_types.ShipmentState)
    assert (state.here, state.expected, len(state.missing)) == (1, 16, 15)
    plan = msgspec.json.decode(call("GET", f"{ADDRESS}/plan").data, type=api_types.Plan)
    assert [trip.cartons for trip in plan.trips] == [["01"]]
    assert plan.open_first == ["01", "02"]
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
    receipt = msgspec.json.decode(call("GET", f"{ADDRESS}/receipts/1").data, type=api_types.ReceiptOut)
    assert (receipt.name, receipt.digest) == ("Bo", service.get_receipt(ctx, SHIPMENT, 1).shown.digest)
    assert [line.declared.by for line in receipt.lines if line.declared] == ["Bo"] * len(state.missing)


def test_a_call_that_is_sent_again_is_answered_again_and_done_once(call: Call, ctx: service.Context) -> None:
    key, body = new(), scan(f"]C100{sscc(1)}")
    first, again = (call("POST", f"{ADDRESS}/scans", body, key=key) for _ in range(2))
    assert (first.status_code, first.json) == (200, again.json)
    assert (first.json["outcome"], first.json["carton"]) == ("matched", "01")
    assert call("POST", f"{ADDRESS}/scans", scan("other"), key=key).status_code == 409
    assert len(service.get_shipment(ctx, SHIPMENT).reads) == 1
    assert call("POST", f"{ADDRESS}/scans", body).json["detail"] == "The call has no Idempotency-Key."


def test_a_notice_is_stored_whole_or_not_at_all(call: Call, ctx: service.Context) -> None:
    more = MANIFEST.replace("S-2055", "S-3055")
    done = call("POST", "/api/v1/notices?name=day.csv", more.encode(), key=new())
    assert {(each["shipment"], each["status"]) for each in done.json["shipments"]} == {
        (SHIPMENT, "unchanged"),
        ("S-3055", "new"),
    }
    faulty = call("POST", "/api/v1/notices?name=day.csv", more.replace(",tray,", ",troy,").encode(), key=new())
    assert (faulty.status_code, faulty.mimetype) == (422, "application/problem+json")
    assert any("troy" in each for each in faulty.json["errors"])


def test_a_token_opens_what_its_scopes_say_until_it_is_ended(
    call: Call, browser: Browser, ctx: service.Context
) -> None:
    assert call("GET", ADDRESS, token="").status_code == 401
    assert call("GET", ADDRESS, token="rcv_wrong").headers["WWW-Authenticate"] == "Bearer"
    page = read(browser.post("/api-tokens", {"name": "board of the till", "scope": ["read"]}).text)
    (secret,) = [e.text for e in page.all("p", class_="code")]
    assert call("GET", ADDRESS, token=secret).status_code == 200
    refused = call("POST", f"{ADDRESS}/scans", scan("x"), key=new(), token=secret)
    assert (refused.status_code, refused.json["detail"]) == (403, "This token may not scan.")
    (token,) = [each for each in service.list_api_tokens(ctx) if each.name == "board of the till"]
    assert browser.post(f"/api-tokens/{token.token_id}/end").status_code == 303
    assert call("GET", ADDRESS, token=secret).status_code == 401
    assert secret not in read(browser.get("/api-tokens").text).text
    assert browser.post("/api-tokens", {"name": "", "scope": ["read"]}).status_code == 400
    assert browser.post("/api-tokens", {"name": "x", "scope": ["all"]}).status_code == 400


def test_a_photo_is_stored_read_and_told_of(call: Call, ctx: service.Context, reader: PlannedReader) -> None:
    reader.readings["dock.png"] = PhotoReading(40, 30, ())
    path, photo = f"{ADDRESS}/photos?name=dock.png&place=dock&by=till", picture("blue")
    first, again = (call("POST", path, photo, key="3f2b1c44-8d5e-4a2e-9d7a-0a6f0a1b2c3d") for _ in range(2))
    assert (first.status_code, first.json) == (200, again.json)
    assert (first.json["place"], first.json["name"]) == ("dock", "dock.png")
    ctx.wait()
    read_ = msgspec.json.decode(call("GET", f"{ADDRESS}/photos/{first.json['photo']}").data, type=api_types.PhotoResult)
    assert read_.status == "read"
    assert call("POST", f"{ADDRESS}/photos", b"no photo", key=new()).status_code == 415
    assert call("POST", f"{ADDRESS}/photos", b"", key=new()).status_code == 400
    assert call("POST", f"{ADDRESS}/photos?place=moon", photo, key=new()).status_code == 400
    assert call("GET", f"{ADDRESS}/photos/none").status_code == 404
    assert call("POST", "/api/v1/shipments/none/photos", photo, key=new()).status_code == 404


def test_a_token_of_a_store_sees_and_stores_what_is_of_that_store_alone(call: Call, ctx: service.Context) -> None:
    _, own = service.make_api_token(ctx, "till of 0422", ["read", "scan", "notice"], by="Ada", stores=["0422"])
    listed = call("GET", "/api/v1/shipments", token=own).json
    assert ([each["shipment"] for each in listed["shipments"]], listed["count"]) == (["S-2055"], 1)
    assert call("GET", "/api/v1/shipments/S-2055", token=own).status_code == 200
    others = (("GET", ""), ("GET", "/plan"), ("GET", "/receipts/1"), ("POST", "/scans"), ("POST", "/photos"))
    for method, rest in others:
        body = scan("x") if rest == "/scans" else b"x" if method == "POST" else None
        refused = call(method, f"{ADDRESS}{rest}", body, key=new(), token=own)
        assert (refused.status_code, "There is no shipment" in refused.json["detail"]) == (404, True), rest
    head = MANIFEST.partition("\n")[0]
    mine = [row for row in MANIFEST.splitlines() if row.startswith("S-2055")]
    theirs = [row for row in MANIFEST.splitlines() if row.startswith(SHIPMENT)]
    taken = [row.replace(f"{SHIPMENT},0417", f"{SHIPMENT},0422") for row in theirs]
    for rows, status in ((theirs, 403), (taken, 403), ([*mine, *theirs], 403), (mine, 200)):
        notice = "\n".join([head, *rows]).replace(",24.5,", ",25.5,")
        answer = call("POST", "/api/v1/notices?name=m.csv", notice.encode(), key=new(), token=own)
        assert answer.status_code == status, answer.json
    assert service.get_shipment(ctx, SHIPMENT).revision == 1


def test_a_notice_of_who_sees_more_is_not_answered_again_to_who_sees_a_part(call: Call, ctx: service.Context) -> None:
    _, own = service.make_api_token(ctx, "till of 0422", ["notice"], by="Ada", stores=["0422"])
    key, notice = new(), of_programme("S-4001", "", 7)
    assert call("POST", "/api/v1/notices?name=m.csv", notice, key=key).status_code == 200
    answer = call("POST", "/api/v1/notices?name=m.csv", notice, key=key, token=own)
    assert answer.status_code == 409
    assert "S-4001" not in answer.text


SPRING = "S-3001"


def of_programme(shipment: str, programme: str, carton: int) -> bytes:
    head = "shipment,store,carton,kind,sscc,references,dispatch_date\n"
    named = f"programme={programme}" if programme else ""
    return f"{head}{shipment},0417,01,tray,{sscc(carton)},{named},2026-03-09\n".encode()


def test_a_token_of_a_programme_sees_and_stores_what_is_of_that_programme_alone(
    call: Call, browser: Browser, ctx: service.Context
) -> None:
    service.import_manifest(ctx, "spring.csv", of_programme(SPRING, "Spring reset", 900))
    form = {"name": "board of spring", "scope": ["read", "scan", "notice"], "programmes": "Spring reset, Fall"}
    page = read(browser.post("/api-tokens", form).text)
    assert "of programmes Fall, Spring reset alone" in page.text
    (own,) = [e.text for e in page.all("p", class_="code")]
    listed = call("GET", "/api/v1/shipments", token=own).json
    assert ([each["shipment"] for each in listed["shipments"]], listed["count"]) == ([SPRING], 1)
    assert call("GET", f"/api/v1/shipments/{SPRING}", token=own).status_code == 200
    for method, rest in (
        ("GET", ""),
        ("GET", "/plan"),
        ("GET", "/receipts/1"),
        ("POST", "/scans"),
        ("POST", "/photos"),
    ):
        body = scan("x") if rest == "/scans" else b"x" if method == "POST" else None
        assert call(method, f"{ADDRESS}{rest}", body, key=new(), token=own).status_code == 404, rest
    for programme in ("Winter", "Fall"):
        service.import_manifest(ctx, "m.csv", of_programme("S-3005", programme, 905))
    cases = (
        (of_programme("S-3002", "Fall", 901), 200),
        (of_programme("S-3003", "Winter", 902), 403),
        (of_programme("S-3004", "", 903), 403),
        (of_programme("S-2055", "Fall", 904), 403),
        (of_programme(SPRING, "Winter", 900), 403),
        (of_programme(SPRING, "Fall", 900), 200),
        (of_programme("S-3005", "Fall", 905), 200),  # was of Winter until a coordinator changed it
    )
    for notice, status in cases:
        answer = call("POST", "/api/v1/notices?name=m.csv", notice, key=new(), token=own)
        assert answer.status_code == status, answer.json
        assert "0422" not in str(answer.json), "whose a shipment is that the token does not see"
    assert service.get_shipment(ctx, "S-2055").revision == 1


def test_the_description_says_what_a_token_may_be_limited_to() -> None:
    described = description()
    scheme = described["components"]["securitySchemes"]["token"]
    assert "stores" in scheme["description"] and "programmes" in scheme["description"]


def test_a_session_opens_nothing_of_the_api(browser: Browser) -> None:
    assert browser.get("/overview").status_code == 200
    assert browser.get(ADDRESS).status_code == 401


def test_the_description_names_every_call_and_every_type(client: FlaskClient) -> None:
    served = client.get("/api/v1/openapi.json").json
    assert served == json.loads(json.dumps(description()))
    assert {(path, method) for path, calls in served["paths"].items() for method in calls} == {
        (f"/api/v1{op.path}", op.method.lower()) for op in OPERATIONS
    }
    references = json.dumps(served).count('"$ref"')
    assert references > len(OPERATIONS)
    for name in ("ShipmentState", "NewScan", "Problem", "ReceiptOut"):
        assert name in served["components"]["schemas"]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/v1/shipments/none", 404),
        ("GET", f"{ADDRESS}/receipts/9", 404),
        ("GET", "/api/v1/shipments?page=0", 400),
        ("GET", "/api/v1/shipments?page=x", 400),
        ("GET", "/api/v1/nothing", 404),
        ("GET", "/api/v1/shipments/~j/plan", 404),
        ("GET", f"{ADDRESS}/receipts/1000000", 404),
        ("DELETE", ADDRESS, 405),
        ("OPTIONS", "/api/v1/notices", 405),
        ("POST", "/api/v1/notices", 400),
    ],
)
def test_what_cannot_be_done_is_a_problem_with_the_next_step(call: Call, method: str, path: str, status: int) -> None:
    answer = call(method, path, key=new())
    assert (answer.status_code, answer.mimetype) == (status, "application/problem+json")
    assert answer.headers.get("Allow", "") == {"DELETE": "GET, HEAD", "OPTIONS": "POST"}.get(method, "")
    problem = msgspec.json.decode(answer.data, type=api_types.Problem)
    assert (problem.status, bool(problem.next_step)) == (status, True)


def test_a_name_that_is_refused_is_not_one_by_the_description(call: Call) -> None:
    pattern = re.compile(api_types.NAME_TEXT)
    for name in ("", "Ada", "Zoë 李", "a\x04b", "a\x9fb", "a\x00"):
        answer = call("POST", f"{ADDRESS}/scans", scan(f"]C100{sscc(1)}", by=name), key=new())
        assert (answer.status_code == 200) == bool(pattern.search(name)), name


VALUES: Any = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=30)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(
    st.dictionaries(st.sampled_from(["raw", "scan_id", "place", "by", "more"]), VALUES | st.just(new())), st.booleans()
)
def test_any_body_is_a_result_or_a_problem(call: Call, body: dict[str, object], whole: bool) -> None:
    sent = {**scan("x"), **body} if whole else body
    answer = call("POST", f"{ADDRESS}/scans", sent, key=new())
    expected = api_types.ScanResult if answer.status_code == 200 else api_types.Problem
    assert answer.status_code in (200, 400, 409)
    msgspec.json.decode(answer.data, type=expected)


@pytest.mark.parametrize(
    ("kind", "media_type", "start"),
    [
        ("jsonld", "application/ld+json", "{"),
        ("x12", "application/edi-x12", "ISA*"),
        ("edi", "application/edifact", "UNA"),
    ],
)
def test_a_receipt_is_a_standard_message_by_the_api_too(
    call: Call, ctx: service.Context, browser: Browser, kind: str, media_type: str, start: str
) -> None:
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
    path = f"{ADDRESS}/receipts/1/messages/{kind}"
    found = msgspec.json.decode(call("GET", f"{path}?sender=SENDER&receiver=RECEIVER").data, type=api_types.MessageOut)
    assert (found.kind, found.media_type.lower()) == (kind, media_type) and found.text.startswith(start)
    same = browser.get(f"/s/S-2041~2FA/receipts/1/message.{kind}?sender=SENDER&receiver=RECEIVER")
    assert same.get_data().decode("latin-1" if kind == "edi" else "utf-8") == found.text
    assert call("GET", f"{ADDRESS}/receipts/1/messages/none").status_code == 400
    assert call("GET", f"{ADDRESS}/receipts/2/messages/{kind}").status_code == 404


def test_a_scan_that_comes_late_carries_the_time_it_was_made(call: Call, ctx: service.Context) -> None:
    late, early = scan(f"]C100{sscc(1)}", scanned_at="2026-03-05T08:15:00+01:00"), scan(f"]C100{sscc(2)}")
    ahead = scan(f"]C100{sscc(3)}", scanned_at="2030-01-01T00:00:00Z")
    for each in (late, early, ahead):
        assert call("POST", f"{ADDRESS}/scans", each, key=new()).status_code == 200
    made = {read.read_id: read.raw.read_at.isoformat() for read in service.get_shipment(ctx, SHIPMENT).reads}
    assert made[str(late["scan_id"])] == "2026-03-05T07:15:00+00:00"
    assert made[str(early["scan_id"])].startswith("2026-03-05T09:30")
    assert made[str(ahead["scan_id"])].startswith("2026-03-05T09:30"), "nothing is scanned later than now"
    for wrong in ("2026-03-05T08:15:00", "yesterday", "9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00+23:59"):
        answer = call("POST", f"{ADDRESS}/scans", scan("x", scanned_at=wrong), key=new())
        assert answer.status_code == 400, (wrong, answer.text)
