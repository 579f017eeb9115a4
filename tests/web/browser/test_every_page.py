"""Every page that a person opens, of all roles: what axe-core finds, and what a thumb can hit, narrow and wide."""

import pytest

from receiving import service
from tests.web.browser.test_screen import ADDRESS, REP_PAGES, SMALL, fill, violations
from tests.web.scenario import SHIPMENT

pytestmark = pytest.mark.browser

OTHER_PAGES = (
    "/scanner",
    f"{ADDRESS}/cartons/04",
    f"{ADDRESS}/bay-sheets",
    f"{ADDRESS}/before-the-visit",
    f"{ADDRESS}/links",
    f"{ADDRESS}/manifest",
    f"{ADDRESS}/planogram",
    f"{ADDRESS}/planogram/03",
    f"{ADDRESS}/labels?carton=12",
    f"{ADDRESS}/void",
    f"{ADDRESS}/receipts/1",
    "/overview",
    "/import",
    "/programme",
    "/call-list",
    "/swaps",
    "/stores/0417/request",
    "/office",
    "/office/settings",
    "/office/patterns",
    "/office/layouts/0417",
    "/office/kit",
    "/office/kit/moves",
    "/office/parts",
    "/people",
    "/api-tokens",
    "/webhooks",
    "/sign-in",
    "/nowhere",
)


@pytest.mark.parametrize(
    ("width", "height", "scheme"), [(360, 740, "light"), (768, 1024, "dark"), (1280, 800, "light")]
)
def test_axe_finds_nothing_and_everything_to_tap_is_44_px_on_every_page(
    chromium, served, width: int, height: int, scheme: str
) -> None:
    """axe-core 4 (WCAG 2.2 A and AA, best practices); target size as WCAG 2.2, 2.5.5."""
    address, desk = served
    photo = fill(desk)
    shown = service.show_receipt(desk, SHIPMENT)
    service.confirm(desk, SHIPMENT, shown.digest, name="Grace", role="Manager", with_exceptions=True)
    context = chromium.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    page.set_default_timeout(120_000)
    wrong: dict[str, object] = {}
    for path in (*REP_PAGES, *OTHER_PAGES, f"{ADDRESS}/photos/{photo}"):
        page.goto(address + path)
        found = [*violations(page), *page.evaluate(SMALL)]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            found.append("wider than the screen")
        if found:
            wrong[path] = found
    context.close()
    assert wrong == {}
