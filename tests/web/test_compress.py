"""Responses compressed where it pays, and the same to everybody but for the form's token."""

import gzip

import pytest
from flask import Flask
from flask.testing import FlaskClient

from receiving import service
from tests.web.conftest import Browser
from web import compress, frame

PATH = "S-2041~2FA"
"""The address of the scenario's shipment."""

GZIP = {"Accept-Encoding": "gzip, deflate, br"}


def test_a_page_is_compressed_and_says_that_it_depends_on_the_browser(client: FlaskClient) -> None:
    plain = client.get(f"/s/{PATH}/live")
    small = client.get(f"/s/{PATH}/live", headers=GZIP)
    assert small.headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in plain.headers["Vary"] and "Accept-Encoding" in small.headers["Vary"]
    assert gzip.decompress(small.data) == plain.data
    assert int(small.headers["Content-Length"]) == len(small.data) < len(plain.data) / 2


def test_scripts_and_styles_are_compressed_and_pictures_are_not(client: FlaskClient) -> None:
    with client.application.test_request_context():
        style = client.application.jinja_env.globals["asset"]("style.css")
    assert client.get(style, headers=GZIP).headers["Content-Encoding"] == "gzip"
    icon = client.get(f"/s/{PATH}/cartons/01/label.png", headers=GZIP)
    assert "Content-Encoding" not in icon.headers


def test_what_was_compressed_lately_is_not_compressed_again_and_room_is_bounded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bodies = [str(n).encode() * 1000 for n in range(40)]
    monkeypatch.setattr(compress, "MOST_CACHED_BYTES", 16_000)
    packed, done = compress._Packed(), []
    squeeze = gzip.compress
    monkeypatch.setattr(gzip, "compress", lambda *given, **named: (done.append(1), squeeze(*given, **named))[1])
    assert [gzip.decompress(packed.of(body)) for body in (*bodies, bodies[-1])] == [*bodies, bodies[-1]]
    assert len(done) == 40
    assert packed._bytes == sum(len(a) + len(b) for a, b in packed._kept.items()) <= 16_000


@pytest.mark.parametrize("accepted", ["", "identity", "gzip;q=0", "br"])
def test_a_browser_that_does_not_take_gzip_gets_none(client: FlaskClient, accepted: str) -> None:
    assert "Content-Encoding" not in client.get("/overview", headers={"Accept-Encoding": accepted}).headers


def test_an_unchanged_state_has_no_body_and_keeps_its_tag(client: FlaskClient) -> None:
    first = client.get(f"/s/{PATH}/state", headers=GZIP)
    again = client.get(f"/s/{PATH}/state", headers={**GZIP, "If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


def test_the_live_part_is_worked_out_once_for_all_who_watch(
    app: Flask, ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    rendered: list[str] = []
    render = frame.render_template

    def counted(template: str, **values: object) -> str:
        rendered.append(template)
        return render(template, **values)

    monkeypatch.setattr(frame, "render_template", counted)
    phones = [Browser(app.test_client()) for _ in range(3)]
    phones[0].post(f"/s/{PATH}/scans", {"text": "something else"})
    rendered.clear()
    pages = [phone.get(f"/s/{PATH}/live").get_data(as_text=True) for phone in phones]
    assert rendered == ["_shipment_live.html"]
    for phone, page in zip(phones, pages, strict=True):
        assert f'name="token" value="{phone.token}"' in page
        assert "token-of-this-browser" not in page
    phones[0].post(f"/s/{PATH}/scans", {"text": "something new"})
    assert phones[1].get(f"/s/{PATH}/live").get_data(as_text=True) != pages[1]
    assert rendered == ["_shipment_live.html", "_shipment_live.html"]


def test_what_is_sent_as_it_is_made_is_compressed_as_it_is_made(client: FlaskClient) -> None:
    plain = client.get("/overview.csv")
    small = client.get("/overview.csv", headers=GZIP)
    assert (plain.is_streamed, small.is_streamed, small.headers["Content-Encoding"]) == (True, True, "gzip")
    assert gzip.decompress(small.data) == plain.data != b""
    assert "Accept-Encoding" in plain.headers["Vary"] and "Accept-Encoding" in small.headers["Vary"]
