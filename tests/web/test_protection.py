"""Guards: forged posts, headers, limits, ids in addresses, and pages that a screen reader can follow."""

import re
from io import BytesIO

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.exceptions import HTTPException
from werkzeug.test import create_environ, run_wsgi_app

from receiving import service
from receiving.errors import BadRequest, ReceivingError
from receiving.model import NOTE_KINDS
from tests.web.conftest import Browser
from tests.web.page_text import Element, Page, read
from tests.web.test_rep import ADDRESS, ask, read_pile, scan
from web import create_app
from web.addresses import TextId
from web.problems import STATUSES


@pytest.mark.parametrize(
    "path", ["/who", "/place", f"{ADDRESS}/scans", f"{ADDRESS}/notes", f"{ADDRESS}/receipt", "/import"]
)
def test_a_post_without_our_token_is_refused(client: FlaskClient, path: str) -> None:
    client.get("/")
    for fields in ({}, {"token": "guessed"}, {"token": "gu\u00e9ssed"}):
        assert client.post(path, data=fields).status_code == 403


def test_a_browser_that_was_never_here_cannot_post(client: FlaskClient) -> None:
    assert client.post("/who", data={"token": "", "person": "Ada"}).status_code == 403


def test_the_token_cookie_is_hidden_from_scripts_and_from_other_sites(client: FlaskClient) -> None:
    cookie = client.get("/").headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_no_page_lets_inline_or_foreign_script_run(client: FlaskClient) -> None:
    for path in ("/", "/overview", "/nowhere", "/static/style.css"):
        with client.get(path) as response:
            policy, sniffing = (response.headers[n] for n in ("Content-Security-Policy", "X-Content-Type-Options"))
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy.replace("'wasm-unsafe-eval'", "")  # compiles WebAssembly, runs no text
        assert sniffing == "nosniff"


def test_an_upload_over_the_limit_names_the_limit(ctx: service.Context) -> None:
    browser = Browser(create_app(ctx, max_upload_bytes=256 * 1024).test_client())
    upload = {"photos": (BytesIO(b"\xff" * 300_000), "big.jpg")}
    response = browser.post(f"{ADDRESS}/photos", upload, content_type="multipart/form-data")
    assert response.status_code == 413
    assert "larger than 0.25 MB; nothing of it was stored" in read(response.text).text


def test_a_file_that_is_no_photo_is_an_unsupported_media_type(browser: Browser, ctx: service.Context) -> None:
    for data in (b"", b"%PDF-1.7", b"\xff\xd8\xff\xe0"):
        upload = {"photos": (BytesIO(data), "x.jpg")}
        response = browser.post(f"{ADDRESS}/photos", upload, content_type="multipart/form-data")
        assert response.status_code == 415, data
    assert service.get_shipment(ctx, "S-2041/A").photos == ()


def test_a_fault_of_ours_is_a_page_that_tells_nothing_of_the_machine(
    app: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    app.view_functions["rep.shipments"] = lambda: 1 / 0
    response = app.test_client().get("/")
    assert response.status_code == 500
    assert "what was stored before is safe" in read(response.text).text
    assert "ZeroDivisionError" not in response.text
    assert "ZeroDivisionError" in caplog.text


def test_every_error_of_the_tree_has_a_status() -> None:
    kinds = set(ReceivingError.__subclasses__())
    assert {kind for kind, _, _ in STATUSES} >= {kind for kind in kinds if kind.__module__ == "receiving.errors"}


@given(st.text(st.characters(codec="utf-8"), min_size=1))
def test_any_id_survives_in_an_address(text: str) -> None:
    app = Flask("ids")
    app.url_map.converters["id"] = TextId
    seen: list[str] = []
    app.add_url_rule("/s/<id:name>/end", "page", lambda name: seen.append(name) or "ok")
    with app.test_request_context():
        from flask import url_for

        address = url_for("page", name=text)
    try:
        app.test_client().get(address)
    except HTTPException as fault:  # pragma: no cover - shows the address that failed
        raise AssertionError(address) from fault
    assert seen == [text]


def pages_of(browser: Browser) -> dict[str, str]:
    paths = [
        "/",
        "/overview",
        "/import",
        ADDRESS,
        f"{ADDRESS}/receipt",
        f"{ADDRESS}/cartons/20",
        f"{ADDRESS}/cartons/05",
        f"{ADDRESS}/plan",
        f"{ADDRESS}/contents",
        f"{ADDRESS}/bay-sheets",
        f"{ADDRESS}/plan/change?carton=20&trip=1",
        "/stores/0417/request",
        "/office/parts",
    ]
    return {path: browser.get(path).text for path in paths}


def wrapped(page: Page, field: Element) -> bool:
    """True for a field that stands inside its label."""
    return any(field in label.inside for label in page.all("label"))


def test_every_page_can_be_followed_by_keyboard_and_screen_reader(browser: Browser, ctx, reader) -> None:
    browser.post("/who", {"person": "Ada"})
    photo = read_pile(ctx, reader)
    question = ask(browser)
    scan(ctx, 20)
    shown = pages_of(browser)
    shown |= {path: browser.get(path).text for path in (f"{ADDRESS}/photos/{photo}", question)}
    for path, html in shown.items():
        page = read(html)
        assert (page.faults, page.open_tags) == ([], []), path
        assert len(page.all("h1")) == 1, path
        assert page.all("html", lang="en"), path
        assert page.all("main"), path
        assert page.all("a", class_="skip", href="#main"), path
        ids = [e.attributes["id"] for e in page.elements if "id" in e.attributes]
        assert sorted(set(ids)) == sorted(ids), path
        labelled = {e.attributes.get("for") for e in page.all("label")}
        for field in page.all("input") + page.all("select") + page.all("textarea"):
            named = field.attributes.get("id") in labelled or "aria-label" in field.attributes or wrapped(page, field)
            assert named or field.attributes.get("type") in {"hidden", "radio"}, (path, field)
        assert all(button.text.strip() or "aria-label" in button.attributes for button in page.all("button")), path
        assert all(
            "style" not in e.attributes and not any(a.startswith("on") for a in e.attributes) for e in page.elements
        )


def test_every_form_that_posts_carries_the_token(browser: Browser, ctx, reader) -> None:
    read_pile(ctx, reader)
    for path, html in pages_of(browser).items():
        page = read(html)
        assert len(page.all("form", method="post")) == len(page.all("input", name="token")), path


def test_the_links_of_a_shipment_lead_somewhere(browser: Browser, ctx, reader) -> None:
    browser.post("/who", {"person": "Ada"})
    read_pile(ctx, reader)
    ask(browser)
    links = {e.attributes["href"].split("#")[0] for e in read(browser.get(ADDRESS).text).all("a")}
    for link in sorted(links - {""}):
        assert browser.get(link).status_code == 200, link


ODD = st.text(st.characters(codec="utf-8"), max_size=40) | st.sampled_from(
    ["", "\x00", "\x1d", "9" * 400, "true", "-1", "NaN"]
)
NOTE_FIELDS = (
    "carton",
    "read_id",
    "bay",
    "trip",
    "place",
    "reason",
    "usable",
    "item",
    "qty",
    "column",
    "row",
    "withdrawn",
    "size",
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(kind=st.sampled_from(sorted(NOTE_KINDS)), values=st.dictionaries(st.sampled_from(NOTE_FIELDS), ODD), text=ODD)
def test_whatever_is_typed_into_a_form_is_answered_and_nothing_breaks(
    browser: Browser, kind: str, values: dict[str, str], text: str
) -> None:
    posts = (
        (f"{ADDRESS}/notes", {"kind": kind, **values}),
        (f"{ADDRESS}/scans", {"text": text, "place": text, "by": text, "scan_id": text}),
        ("/who", {"person": text, "back": text}),
        (f"{ADDRESS}/receipt", {"name": text, "role": text, "digest": text}),
        ("/stores/0417/request", {"deliver_to": text, "contact": text, "needed_by": text}),
    )
    for path, fields in posts:
        assert browser.post(path, fields).status_code in {200, 303, 400, 404, 409}, (path, fields)
    for path in ("/", ADDRESS, f"{ADDRESS}/receipt", "/stores/0417/request"):
        assert browser.get(path).status_code == 200, path


@pytest.mark.parametrize(
    "host",
    ["localhost", "LOCALHOST:8417", "localhost.", "127.0.0.1:8417", "192.168.1.20", "[::1]:8417", "[fd00::20]"],
)
def test_localhost_and_addresses_open_the_page(client: FlaskClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example",
        "rebound.example:8417",
        "localhost.rebound.example",
        "127.0.0.1.rebound.example",
        "127.0.0.1:8417@rebound.example",
        "[::1].rebound.example",
        "[127.0.0.1]",
        "::1",
        "localhost:port",
        "",
        "[",
        "\u00b2\u00b2.0.0.1",
    ],
)
def test_a_name_that_is_not_ours_is_misdirected_whatever_is_asked_for(client: FlaskClient, host: str) -> None:
    """DNS rebinding: the browser sends the attacker's name as Host; RFC 9110, section 15.5.20 has 421 for that."""
    for path in ("/", f"{ADDRESS}/manifest.csv", "/static/style.css", "/nowhere"):
        response = client.get(path, headers={"Host": host})
        assert response.status_code in {400, 421}, path
        assert "0417" not in response.text


def test_a_name_that_was_allowed_opens_the_page_and_others_say_what_to_do(ctx: service.Context) -> None:
    client = create_app(ctx, allowed_hosts=["Receiving.Example."]).test_client()
    assert client.get("/", headers={"Host": "receiving.example:443"}).status_code == 200
    refused = client.get("/", headers={"Host": "other.example"})
    assert refused.status_code == 421
    assert "This service is not known as 'other.example'." in read(refused.text).text
    assert "--allow-host" in read(refused.text).text


@pytest.mark.parametrize("name", ["http://receiving.example", "receiving.example:8417", "", "a b", "*.example"])
def test_what_is_no_host_name_cannot_be_allowed(ctx: service.Context, name: str) -> None:
    with pytest.raises(BadRequest, match="is not a host name"):
        create_app(ctx, allowed_hosts=[name])


@pytest.mark.parametrize("digits", [10, 19, 20, 400, 5000])
@pytest.mark.parametrize(
    "path",
    [
        "/s/S-2041~2FA/receipts/{}",
        "/s/S-2041~2FA/receipts/{}.pdf",
        "/s/S-2041~2FA/receipts/{}.json",
        "/s/S-2041~2FA/receipts/{}.record",
        "/stores/0417/requests/{}",
        "/stores/0417/requests/{}.csv",
        "/s/S-2041~2FA/revisions/{}/restore",
        "/api/v1/shipments/S-2041~2FA/receipts/{}",
    ],
)
def test_a_number_that_no_store_can_hold_leads_nowhere(app: Flask, path: str, digits: int) -> None:
    assert app.test_client().get(path.format("9" * digits)).status_code in (401, 404)
    assert app.test_client().get(path.format("9" * 9)).status_code in (401, 404)


def test_over_https_cookies_are_bound_to_this_host_and_browsers_stay_with_it(client: FlaskClient) -> None:
    safe = client.get("/", base_url="https://localhost")
    (cookie,) = safe.headers.getlist("Set-Cookie")
    assert cookie.startswith("__Host-token=") and "Secure" in cookie and "Path=/" in cookie and "Domain" not in cookie
    assert "Strict-Transport-Security" not in safe.headers, "other programs of this machine answer there too"
    named = client.get("/", base_url="https://192.0.2.7")
    assert named.headers["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"
    plain = client.get("/")
    assert "Strict-Transport-Security" not in plain.headers
    assert plain.headers["Set-Cookie"].startswith("token=")


def test_a_choice_is_remembered_over_https_too(client: FlaskClient) -> None:
    client.get("/", base_url="https://localhost")
    held = client.get_cookie("__Host-token", domain="localhost")
    assert held is not None
    sent = client.post("/who", data={"token": held.value, "person": "Ada"}, base_url="https://localhost")
    assert sent.status_code in (302, 303)
    assert 'data-person="Ada"' in client.get("/", base_url="https://localhost").text


@pytest.mark.parametrize(
    "host", ["[:1]", "[:1]:88", "[", "[::1", "[x]:1", "a b", ".", ".:80", "a..b", ".a", "a" * 64, "\xb2", "xn--"]
)
def test_a_host_that_is_none_is_refused_in_words(app: Flask, host: str) -> None:
    environ = create_environ("/") | {"HTTP_HOST": host}
    body, status, _ = run_wsgi_app(app.wsgi_app, environ)  # the test client itself refuses some of these
    assert status.startswith("421")
    assert b"is not known as" in b"".join(body)


def test_a_text_that_would_read_other_than_it_is_is_refused_on_every_form(browser: Browser) -> None:
    for path, fields in (
        ("/who", {"person": "Ida\u202e greB"}),
        (f"{ADDRESS}/notes", {"kind": "carton_seen", "carton": "01", "reason": "it is\u202e here"}),
        ("/office/settings", {"sender": "A\0B"}),
    ):
        answer = browser.post(path, fields)
        assert answer.status_code == 400, path
        assert re.search(r"character \d+ is U\+(202E|0000), which", read(answer.text).text), path
    scanned = browser.post(
        f"{ADDRESS}/scans", {"text": "]C10195200000000015\x1d10AB", "source": "scanner", "place": "dock"}
    )
    assert scanned.status_code == 303
