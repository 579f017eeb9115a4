"""Store staff follow a link in Chromium: one tap, and its secret is gone from the address."""

import re

import pytest

from receiving import service
from receiving.model import Role
from tests.web.scenario import SHIPMENT
from tests.web.test_access import WORDS

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [390, 1280])
def test_a_link_opens_its_shipment_and_is_over_when_it_is_ended(
    chromium: object, served: tuple[str, service.Context], width: int
) -> None:
    address, ctx = served
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    link, secret = service.make_link(ctx, SHIPMENT, "Dock team", days=3, by="Ada Lund")
    context = chromium.new_context(viewport={"width": width, "height": 844}, service_workers="block")
    asked: list[str] = []
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.set_default_timeout(120_000)
    page.goto(f"{address}/come#{secret}")
    page.wait_for_url(re.compile(r"/s/S-2041"))
    assert "Dock team" in page.inner_text("body")
    assert not [url for url in asked if secret in url.partition("#")[0]]
    page.goto(f"{address}/s/S-2055")
    assert "There is no shipment" in page.inner_text("main")
    service.revoke_link(ctx, SHIPMENT, link.link_id)
    page.goto(f"{address}/s/S-2041~2FA")
    page.wait_for_url(re.compile(r"/sign-in"))
    page.goto(f"{address}/come#{secret}")
    page.wait_for_selector("text=This link does not open a shipment any more.")
    context.close()
