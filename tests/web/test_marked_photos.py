"""What a camera wrote beside a picture, where it was taken above all, comes out at no address and in no file."""

import io
import re
import shutil
import subprocess
import threading
import uuid
import zipfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pypdfium2 as pdfium
import pytest
from flask import Flask
from flask.testing import FlaskClient

from receiving import service
from receiving.cli import run
from receiving.model import ExpectedCode
from receiving.reading.video import Still, poster, video_stills
from receiving.service.records import MessageFolder, write_messages
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.test_webhooks import HERE, Program
from tests.web.conftest import Browser
from tests.web.marked_photos import MARKS, marked_photos, unpacked, video
from tests.web.scenario import SHIPMENT, open_context, pile_reading
from tests.web.test_access import path_of, rules
from web import create_app

ADDRESS = "/s/S-2041~2FA"
LINKED = re.compile(rb"""(?:href|src|data-src|poster)="(/[^"#]*)""")
MESSAGES = [f"/receipts/1/messages/{kind}" for kind in ("x12", "edi", "jsonld")]
ENOUGH = 600
"""Addresses that are asked for; more than there are."""


class Reader(PlannedReader):
    """Finds the same labels on every photo; takes pictures from videos as the service does."""

    def __init__(self) -> None:
        super().__init__()
        names = (*marked_photos(), "crop.jpg", "damage.jpg", "called.jpg")
        self.readings = dict.fromkeys(names, pile_reading())

    def video_stills(self, name: str, data: bytes, expected: tuple[ExpectedCode, ...] = ()) -> tuple[Still, ...]:
        return video_stills(name, data, expected=expected)

    def poster(self, name: str, data: bytes) -> bytes:
        return poster(name, data)


def reveals_place(data: bytes) -> bool:
    """The mark stands somewhere in an answer or a file: in its bytes, or in what is packed inside."""
    if data.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return any(reveals_place(archive.read(each)) for each in archive.namelist()) or reveals_place(
                archive.comment
            )
    found = unpacked(data)
    if data.startswith(b"%PDF-"):
        document = pdfium.PdfDocument(data)
        found += b"".join(bytes(document.get_attachment(n).get_data()) for n in range(document.count_attachments()))
    return any(mark in found for mark in MARKS)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[service.Context, Flask]]:
    """The shipment with marked photos that came by every way, and a receipt that shows some of them."""
    folder = tmp_path_factory.mktemp("marked")
    with open_context(folder, Reader()) as ctx:
        app = create_app(ctx)
        send_all(ctx, app.test_client(), folder)
        yield ctx, app


def send_all(ctx: service.Context, client: FlaskClient, folder: Path) -> None:
    browser, photos = Browser(client), marked_photos()
    form = {"content_type": "multipart/form-data"}
    files = [(io.BytesIO(data), name) for name, data in photos.items()]
    files.append((io.BytesIO(video(folder)), "walk.mp4"))
    assert browser.post(f"{ADDRESS}/photos", {"photos": files, "place": "dock"}, **form).status_code == 303
    crop = (io.BytesIO(photos["phone.jpg"] + b"of the camera"), "crop.jpg")
    action = {"X-Action": str(uuid.uuid4())}
    assert (
        browser.post(f"{ADDRESS}/crops", {"photos": crop, "place": "dock"}, headers=action, **form).status_code == 200
    )
    damage = {
        "kind": "damage_noted",
        "carton": "03",
        "reason": "arrived_damaged",
        "usable": "false",
        "remark": "A corner",
    }
    for name in ("phone.jpg", "screen.png", "phone.heic"):
        file = (io.BytesIO(photos[name] + b"of the damage"), "damage.jpg")
        sent = browser.post(f"{ADDRESS}/notes", {**damage, "photo_file": file, "action_id": str(uuid.uuid4())}, **form)
        assert sent.status_code == 303, sent.get_data(as_text=True)
    _, secret = service.make_api_token(ctx, "till", ["read", "scan"], by="Ada")
    headers = {"Authorization": f"Bearer {secret}", "Idempotency-Key": str(uuid.uuid4())}
    call = "/api/v1/shipments/S-2041~2FA/photos?name=called.jpg"
    assert client.post(call, data=photos["shared.webp"] + b"called", headers=headers).status_code == 200
    (folder / "named.jpg").write_bytes(photos["phone.jpg"] + b"of the command")
    assert run(["add", SHIPMENT, "--photos", str(folder / "named.jpg"), "--by", "Bo", "--data", str(ctx.data)]) == 0
    service.finish_photos(ctx)
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")


def photos_of(ctx: service.Context) -> list[service.PhotoRow]:
    return list(service.get_shipment(ctx, SHIPMENT).photos)


def addresses(app: Flask, client: FlaskClient, photos: list[str]) -> Iterator[tuple[str, bytes]]:
    """Every route, with each of the photos where it is of one, and whatever pages lead to; with what it answers."""
    due = ["/"]
    for rule, method in rules(app):
        if method == "GET":
            path = path_of(app, rule)
            due += [path.replace("0" * 64, photo) for photo in (photos if "0" * 64 in path else [""])]
    seen: set[str] = set()
    while due:
        path = due.pop()
        if path in seen or len(seen) > ENOUGH:
            continue
        seen.add(path)
        answer = client.get(path)
        data = answer.get_data()
        answer.close()
        yield path, data
        if "html" in answer.headers.get("Content-Type", ""):
            found = (urlsplit(each.decode().replace("&amp;", "&")) for each in LINKED.findall(data))
            due += [f"{each.path}?{each.query}" if each.query else each.path for each in found]


def test_no_address_tells_what_stood_beside_a_picture(filled: tuple[service.Context, Flask]) -> None:
    ctx, app = filled
    rows = photos_of(ctx)
    assert len(rows) == len(marked_photos()) + 2 + 1 + 3 + 1 + 1, "a video and its still, a crop, damage, call, command"
    revealed_at, pictures, kinds = [], 0, set()
    asked = 0
    for path, data in addresses(app, app.test_client(), [each.photo for each in rows]):
        asked += 1
        kinds.add(data[:4])
        pictures += path.endswith(("/480.jpg", "/2000.jpg")) and data.startswith(b"\xff\xd8")
        if reveals_place(data):
            revealed_at.append(path)
    assert not revealed_at
    assert asked < ENOUGH and pictures >= 2 * len(rows) and {b"%PDF", b"PK\x03\x04"} <= kinds


def test_no_call_file_or_message_tells_it(filled: tuple[service.Context, Flask], tmp_path: Path) -> None:
    ctx, app = filled
    client = app.test_client()
    _, secret = service.make_api_token(ctx, "reader", ["read"], by="Ada")
    headers = {"Authorization": f"Bearer {secret}"}
    calls = [f"/photos/{each.photo}" for each in photos_of(ctx)] + ["", "/plan", "/receipts/1", *MESSAGES]
    answers = [client.get(f"/api/v1/shipments/S-2041~2FA{each}", headers=headers) for each in calls]
    assert sum(each.status_code == 200 for each in answers) > len(photos_of(ctx))
    assert not any(reveals_place(each.get_data()) for each in answers)
    for kind in ("csv", "xlsx", "json"):
        out = tmp_path / f"result.{kind}"
        assert run(["export", SHIPMENT, "--out", str(out), "--data", str(ctx.data)]) in (0, 3)
        assert not reveals_place(out.read_bytes())
    (tmp_path / "out").mkdir()
    written = write_messages(ctx, MessageFolder(tmp_path / "out", sender="S", receiver="R", base="https://r.example"))
    assert len(written.files) == 3 and not written.faults
    assert not any(reveals_place(each.read_bytes()) for each in written.files)


def test_no_webhook_tells_it(tmp_path: Path) -> None:
    with Program() as program, open_context(tmp_path, Reader()) as ctx:
        thread = threading.Thread(target=program.serve_forever, daemon=True)
        thread.start()
        ctx.webhook_networks = HERE
        service.make_webhook(ctx, program.url, list(service.EventKind), by="Ada")
        send_all(ctx, create_app(ctx).test_client(), tmp_path)
        service.send_due(ctx)
        program.shutdown()
        thread.join()
        assert program.heard and not any(reveals_place(body) for _, body in program.heard)


@pytest.mark.skipif(not shutil.which("pdfimages"), reason="poppler is not installed")
def test_pictures_inside_a_receipt_hold_pixels_alone(filled: tuple[service.Context, Flask], tmp_path: Path) -> None:
    ctx, _ = filled
    (tmp_path / "r.pdf").write_bytes(service.make_receipt_pdf(ctx, SHIPMENT, 1))
    subprocess.run(["pdfimages", "-all", tmp_path / "r.pdf", tmp_path / "picture"], check=True)
    assert not any(reveals_place(each.read_bytes()) for each in tmp_path.glob("picture*"))


def test_a_picture_of_the_camera_without_an_action_is_refused_and_not_kept(browser: Browser) -> None:
    crop = (io.BytesIO(marked_photos()["phone.jpg"]), "crop.jpg")
    sent = browser.post(f"{ADDRESS}/crops", {"photos": crop, "place": "dock"}, content_type="multipart/form-data")
    assert sent.status_code == 400
    assert "without the id of an action" in sent.get_data(as_text=True)
    assert "crop.jpg" not in browser.get(ADDRESS).get_data(as_text=True)
