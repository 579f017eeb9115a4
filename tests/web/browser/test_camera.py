"""The live camera, before Chromium's fake one that shows a video of labels."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from receiving import service
from receiving.reading import PhotoPool, expected_codes
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from tests.web.browser.label_video import pile_frame, write_y4m
from tests.web.browser.test_outbox import sent
from tests.web.browser.test_phone import counts, eventually
from tests.web.scenario import SHIPMENT, picture

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
ALL_ON_THE_PHONE = """async () => {
    const { assets } = await (await fetch("/shell")).json();
    const kept = (await (await caches.open("assets")).keys()).map(({ url }) => new URL(url).pathname);
    return Boolean(navigator.serviceWorker.controller) && assets.every((path) => kept.includes(path));
}"""
WAITING_CROPS = """async () => {
    const app = document.querySelector('script[src$="/app.js"]');
    const { outbox } = await import(app.src.replace(/app[.]js$/, "outbox.js"));
    return (await outbox.counts()).waiting.crop ?? 0;
}"""


@pytest.fixture
def filming(chromium: object, served: tuple[str, service.Context], tmp_path: Path) -> Iterator[Callable[..., object]]:
    """Opens the shipment's page in a browser whose camera shows these frames over and over."""
    address, _ = served
    opened: list[object] = []

    def film(frames: list[object], *, allowed: bool = True, offline: bool = False) -> object:
        video = tmp_path / "labels.y4m"
        write_y4m(video, frames)
        browser = chromium.browser_type.launch(
            executable_path=CHROMIUM,
            args=[*ARGUMENTS, "--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={video}"],
        )
        opened.append(browser)
        context = browser.new_context(viewport={"width": 360, "height": 740})
        if allowed:
            context.grant_permissions(["camera"], origin=address)
        context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(address + ADDRESS)
        page.evaluate("window.heard = []; addEventListener('sounded', (e) => heard.push(e.detail.kind))")
        with page.expect_response("**/sheet"):
            page.reload() if offline else page.goto(address + ADDRESS)
        page.evaluate("window.heard = []; addEventListener('sounded', (e) => heard.push(e.detail.kind))")
        if offline:
            eventually(page, lambda: page.evaluate(ALL_ON_THE_PHONE))
            context.set_offline(True)
        page.asked = asked
        page.click("#live-camera")
        return page

    yield film
    for browser in opened:
        browser.close()


def received(ctx: service.Context) -> list[str]:
    return sorted(found.carton.carton for found in service.get_shipment(ctx, SHIPMENT).reconciliation.received)


def test_every_label_in_view_is_counted_once_with_its_tone_and_nothing_is_asked_of_others(filming, served) -> None:
    address, ctx = served
    manifest, _ = service.get_manifest(ctx, SHIPMENT)
    cartons = ("01", "03", "04")
    page = filming([pile_frame(manifest, cartons, shift_px=shift) for shift in range(-15, 16, 3)])
    page.locator("#camera-line", has_text="3 of 16 here").wait_for()
    assert page.locator("#viewfinder").bounding_box() == {"x": 0, "y": 0, "width": 360, "height": 740}
    close = page.locator("text=Close the camera").bounding_box()
    assert close["y"] + close["height"] <= 740
    page.wait_for_timeout(1500)
    assert sorted(page.evaluate("heard")) == ["first", "here", "here"]
    page.click("text=Close the camera")
    sent(page)
    counts(page, 3)
    assert received(ctx) == ["01", "03", "04"]
    assert len(service.get_shipment(ctx, SHIPMENT).reads) == 3
    assert {url for url in page.asked if not url.startswith((address, "blob:", "data:"))} == set()


def test_a_refused_camera_is_explained(filming, served) -> None:
    _, ctx = served
    manifest, _ = service.get_manifest(ctx, SHIPMENT)
    page = filming([pile_frame(manifest, ("03",))], allowed=False)
    page.locator("#camera-line", has_text="Allow it for this page").wait_for()
    page.click("text=Close the camera")
    assert page.is_visible("#scan")


@pytest.fixture
def reading(served: tuple[str, service.Context], monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The service reads pictures itself, as it does when it is served, instead of by a plan."""
    monkeypatch.setattr("web.crops.WAIT_S", 60.0)  # a machine under load reads slowly
    _, ctx = served
    pool = PhotoPool(1, 60)
    ctx.reader = pool
    expected = service.get_manifest(ctx, SHIPMENT)[0]
    pool.read("warm.jpg", picture(), expected_codes([expected]))  # the process starts once
    yield
    pool.close()


def crops(ctx: service.Context) -> list[str]:
    return [row.name for row in service.get_shipment(ctx, SHIPMENT).photos]


def test_a_label_that_stays_unread_is_sent_once_as_a_small_picture_and_answered(filming, served, reading) -> None:
    """The blurred label is read by no decoder here; the service compares its bars with the codes that it expects."""
    _, ctx = served
    manifest, _ = service.get_manifest(ctx, SHIPMENT)
    page = filming([pile_frame(manifest, ("03", "04"), blurred=("04",))])
    page.locator("#camera-line", has_text="2 of 16 here").wait_for(timeout=90_000)
    assert sorted(page.evaluate("heard")) == ["here", "here"]
    page.wait_for_timeout(4000)  # a second picture of the same label would go by now
    page.click("text=Close the camera")
    sent(page)
    assert received(ctx) == ["03", "04"]
    assert len(crops(ctx)) == 1
    (photo,) = service.get_shipment(ctx, SHIPMENT).photos
    assert photo.name.startswith("label ")
    assert photo.width_px * photo.height_px < 400 * 200 < 1280 * 720
    assert len(ctx.photos.read(photo.photo)) < 40_000
    asked = [url for url in page.asked if url.endswith("/crops")]
    assert len(asked) == 1


def test_without_a_signal_the_small_picture_waits_and_is_answered_when_it_is_back(filming, served, reading) -> None:
    _, ctx = served
    manifest, _ = service.get_manifest(ctx, SHIPMENT)
    page = filming([pile_frame(manifest, ("03", "04"), blurred=("04",))], offline=True)
    page.locator("#camera-line", has_text="1 of 16 here").wait_for(timeout=90_000)
    eventually(page, lambda: page.evaluate(WAITING_CROPS) == 1)
    page.click("text=Close the camera")
    assert received(ctx) == []
    assert crops(ctx) == []
    page.context.set_offline(False)
    sent(page)
    counts(page, 2)
    assert received(ctx) == ["03", "04"]
    page.goto(page.url.split("/s/")[0] + "/outbox")
    page.locator("#done .queue-row", has_text="Label picture").filter(has_text="04").wait_for()


def test_what_cannot_be_read_is_answered_with_what_to_do(filming, served) -> None:
    """The service reads nothing either: here its reader has no plan for this picture."""
    _, ctx = served
    manifest, _ = service.get_manifest(ctx, SHIPMENT)
    page = filming([pile_frame(manifest, ("03", "04"), blurred=("04",))])
    eventually(page, lambda: "question" in page.evaluate("heard"))
    page.click("text=Close the camera")
    page.locator("#answer", has_text="Go closer with the camera").wait_for()
    assert received(ctx) == ["03"]
    assert len(crops(ctx)) == 1
