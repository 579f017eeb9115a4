"""Every page that a person opens, of all roles: what axe-core finds, and what a thumb can hit, narrow and wide."""

import pytest

from receiving import service
from receiving.model import Place, Source
from tests.expected.edi_messages import x12
from tests.receipts import confirm_with_shorts
from tests.web.browser.test_screen import SMALL, violations
from tests.web.scenario import ADDRESS, OTHER_PAGES, REP_PAGES, SHIPMENT, fill, sscc

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(
    ("width", "height", "scheme"),
    [(360, 740, "light"), (360, 440, "dark"), (740, 360, "light"), (768, 1024, "dark"), (1280, 800, "light")],
)
def test_axe_finds_nothing_and_everything_to_tap_is_44_px_on_every_page(
    chromium, served, width: int, height: int, scheme: str
) -> None:
    """axe-core 4 (WCAG 2.2 A and AA, best practices); target size as WCAG 2.2, 2.5.5."""
    address, ctx = served
    photo = fill(ctx)
    confirm_with_shorts(ctx, SHIPMENT)
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


HOVERED = """(e) => { const seen = [];
  for (let n = e, up = 0; n && up < 5; n = n.parentElement, up++) {
    const s = getComputedStyle(n);
    seen.push([s.boxShadow, s.backgroundImage, s.borderColor, s.textDecorationThickness, s.textDecorationLine].join());
  }
  return seen.join(";"); }"""
KIND = """(e) => [e, e.parentElement].map((n) => `${n.localName}.${n.className}`).join(" in ") + (e.type ?? "")"""
UNDER_THE_MOUSE = "main a, main button, main summary, main input, main select, main textarea, header a"


def test_what_the_mouse_is_over_is_shown_on_every_page(chromium, served) -> None:
    address, ctx = served
    fill(ctx)
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    page.set_default_timeout(120_000)
    known: set[str] = set()
    same: dict[str, str] = {}
    for path in (*REP_PAGES, *OTHER_PAGES):
        page.goto(address + path)
        for each in page.query_selector_all(UNDER_THE_MOUSE):
            kind = each.evaluate(KIND)
            if kind in known or not each.is_visible() or not each.is_enabled():
                continue
            known.add(kind)
            page.mouse.move(1, 1)
            before = each.evaluate(HOVERED)
            each.hover(force=True)
            if each.evaluate(HOVERED) == before:
                same[kind] = path
    context.close()
    assert len(known) > 80
    assert same == {}


NOTICE = tuple(
    part
    for n, number in enumerate((f"GM*00{sscc(301)}", f"GM*{sscc(302)[:-1]}0", f"CP*{'PARCEL-NUMBER-' * 3}0001"), 3)
    for part in (
        *(f"HL*{2 * n}*2*P", f"MAN*{number}", "PO4*1*****40*KG***60*40*30*CM"),
        *(f"HL*{2 * n + 1}*{2 * n}*I", f"LIN**VN*{'TRAY-' * 8}{n}", "SN1**4*EA", "PID*F****Sample tray"),
    )
)
HEAD = ("BSN*00*NOTICE-2026-0000417*20260301*0800", "HL*1**S", "N1*ST*Shop*92*0417", "HL*2*1*T", f"MAN*GM*{sscc(300)}")
LONG = x12((*HEAD, *NOTICE))
NARROW = """() => [...document.querySelectorAll(".what, .place, h1, h2, h3, b, td, dd, .number")]
  .filter((e) => e.offsetParent && e.checkVisibility() && e.textContent.trim().length > 8)
  .filter((e) => e.getBoundingClientRect().width < 60 && e.getBoundingClientRect().height > 120)
  .map((e) => [e.className || e.localName, e.textContent.trim().slice(0, 40)])"""
"""Texts that stand letter below letter, because something beside them took the width."""


@pytest.mark.parametrize("width", [360, 1280])
def test_cartons_that_are_called_by_their_long_numbers_can_be_read(chromium, served, width: int) -> None:
    """A ship notice gives its cartons no name but the SSCC or a carrier's number."""
    address, ctx = served
    (stored,) = service.import_manifest(ctx, "notice.edi", LONG)
    shipment, cartons = (
        stored.shipment,
        [carton.carton for carton in service.get_shipment(ctx, stored.shipment).manifest],
    )
    service.add_scan(ctx, shipment, cartons[0], place=Place.DOCK, by="Bo", source=Source.TYPED)
    service.add_scan(ctx, shipment, cartons[2], place=Place.DOCK, by="Bo", source=Source.TYPED)
    context = chromium.new_context(viewport={"width": width, "height": 740})
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    page.set_default_timeout(120_000)
    parts = ("", "/stage", "/hand-over", "/plan", "/contents", "/receipt", "/bay-sheets", "/manifest", "/labels")
    paths = [*(f"/s/{shipment}{part}" for part in parts), *(f"/s/{shipment}/cartons/{name}" for name in cartons)]
    wrong: dict[str, object] = {}
    for path in (*paths, f"/s/{shipment}/before-the-visit", "/", "/overview"):
        page.goto(address + path)
        page.evaluate("document.querySelectorAll('details:not(#place)').forEach((d) => { d.open = true; })")
        found = page.evaluate(NARROW)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            found.append(f"wider than the screen: {page.evaluate('document.documentElement.scrollWidth')}")
        if found:
            wrong[path] = found
    context.close()
    assert wrong == {}
