"""The live camera, before Chromium's fake one that shows a video of labels."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from receiving import service
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from tests.web.browser.label_video import pile_frame, write_y4m
from tests.web.browser.test_outbox import sent
from tests.web.browser.test_phone import counts
from tests.web.scenario import SHIPMENT

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"


@pytest.fixture
def filming(chromium: object, served: tuple[str, service.Desk], tmp_path: Path) -> Iterator[Callable[..., object]]:
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
            context.set_offline(True)
        page.asked = asked
        page.click("#live-camera")
        return page

    yield film
    for browser in opened:
        browser.close()


def received(desk: service.Desk) -> list[str]:
    return sorted(found.carton.carton for found in service.shipment(desk, SHIPMENT).reconciliation.received)


def test_every_label_in_view_is_counted_once_with_its_tone_and_nothing_is_asked_of_others(filming, served) -> None:
    address, desk = served
    manifest, _ = service.manifest_of(desk, SHIPMENT)
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
    assert received(desk) == ["01", "03", "04"]
    assert len(service.shipment(desk, SHIPMENT).reads) == 3
    assert {url for url in page.asked if not url.startswith((address, "blob:", "data:"))} == set()


def test_a_refused_camera_is_explained(filming, served) -> None:
    _, desk = served
    manifest, _ = service.manifest_of(desk, SHIPMENT)
    page = filming([pile_frame(manifest, ("03",))], allowed=False)
    page.locator("#camera-line", has_text="Allow it for this page").wait_for()
    page.click("text=Close the camera")
    assert page.is_visible("#scan")


def test_a_label_that_stays_unread_is_sent_as_a_small_picture(filming, served) -> None:
    _, desk = served
    manifest, _ = service.manifest_of(desk, SHIPMENT)
    page = filming([pile_frame(manifest, ("03", "04"), blurred="04")])
    page.locator("#camera-line", has_text="1 of 16 here").wait_for()
    page.wait_for_timeout(3000)
    page.click("text=Close the camera")
    sent(page)
    assert "03" in received(desk)
    for row in service.shipment(desk, SHIPMENT).photos:
        assert row.name.startswith("label ")
