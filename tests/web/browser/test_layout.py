"""Every page of all roles in all sizes: nothing wider than the screen, nothing over another, nothing cut off."""

import pytest

from receiving import service
from tests.web.browser.layout import FAULTS, SIZES
from tests.web.scenario import ADDRESS, OTHER_PAGES, REP_PAGES, SHIPMENT, fill

pytestmark = pytest.mark.browser


def test_every_page_fits_upright_lying_with_the_keyboard_up_and_on_a_desk(chromium, served) -> None:
    address, ctx = served
    photo = fill(ctx)
    shown = service.show_receipt(ctx, SHIPMENT).digest
    missing = service.MissingAnswer(reason="the van left before all was unloaded")
    service.confirm(ctx, SHIPMENT, shown, name="Grace", role="Manager", with_exceptions=True, missing=missing)
    context = chromium.new_context(viewport={"width": 360, "height": 740})
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    page.set_default_timeout(120_000)
    wrong: dict[str, object] = {}
    for path in (*REP_PAGES, *OTHER_PAGES, f"{ADDRESS}/photos/{photo}"):
        page.goto(address + path)
        page.evaluate("document.querySelectorAll('details:not(#place)').forEach((d) => { d.open = true; })")
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_timeout(50)
            if found := page.evaluate(FAULTS):
                wrong[f"{path} at {width} x {height}"] = found
        page.set_viewport_size({"width": 360, "height": 740})
    context.close()
    assert wrong == {}


OVERLAID = "<main><p style='position: absolute'>One text</p><p style='position: absolute'>Another one</p></main>"
CUT = "<main><p style='width: 90px; height: 20px; overflow: hidden'>A text that is longer than its box is</p></main>"
WIDE = "<main><p style='width: 500px; white-space: nowrap'>A text</p></main>"


@pytest.mark.parametrize(("body", "what"), [(OVERLAID, "over"), (CUT, "cut"), (WIDE, "wider")])
def test_what_does_not_fit_is_found(chromium, body: str, what: str) -> None:
    page = chromium.new_page(viewport={"width": 360, "height": 740})
    page.set_content(body)
    assert what in {fault[0] for fault in page.evaluate(FAULTS)}
    page.close()
