"""The rep's screen, measured: what fits, what a thumb can hit, what axe finds, in light and dark, upright and lying."""

from pathlib import Path

import pytest

from receiving import service
from tests.web.browser.test_phone import counts, wedge
from tests.web.scenario import ADDRESS, REP_PAGES, SHIPMENT, fill, sscc

pytestmark = pytest.mark.browser
AXE = Path(__file__).parent / "axe" / "axe.min.js"
SMALL = """() => [...document.querySelectorAll("a, button, summary, label.button, input, select, textarea")]
  .filter((e) => e.offsetParent && e.checkVisibility())
  .filter((e) => !e.matches(".skip, .unseen, [type=hidden], [type=radio], [type=checkbox]"))
  .filter((e) => !(e.localName === "a" && e.closest("p, li, dd, td") && getComputedStyle(e).display === "inline"))
  .filter((e) => getComputedStyle(e, "::after").position !== "absolute")  // spread over the row that it stands in
  .filter((e) => e.getBoundingClientRect().height < 43.5 || e.getBoundingClientRect().width < 43.5)
  .map((e) => [e.localName, e.textContent.trim().slice(0, 40) || e.id || e.name, e.offsetWidth, e.offsetHeight])"""


def violations(page: object) -> list[list[object]]:
    """What axe-core finds on a page with everything open."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    page.evaluate("document.querySelectorAll('details:not(#place)').forEach((d) => { d.open = true; })")
    return page.evaluate("axe.run().then((r) => r.violations.map((v) => [v.id, v.nodes.map((n) => n.html)]))")


def test_everything_to_tap_is_44_px_high_and_wide(phone, served) -> None:
    """WCAG 2.2, 2.5.5 (target size, enhanced); a link inside a sentence is exempt there."""
    address, ctx = served
    photo = fill(ctx)
    small = {}
    for path in (*REP_PAGES, f"{ADDRESS}/photos/{photo}"):
        phone.goto(address + path)
        phone.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        if found := phone.evaluate(SMALL):
            small[path] = found
    assert small == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_page_of_the_rep(chromium, served, scheme: str) -> None:
    """axe-core's rules of WCAG 2.2 A and AA and its best practices; https://github.com/dequelabs/axe-core."""
    address, ctx = served
    photo = fill(ctx)
    context = chromium.new_context(viewport={"width": 360, "height": 740}, color_scheme=scheme)
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    found = {}
    for path in (*REP_PAGES, f"{ADDRESS}/photos/{photo}"):
        page.goto(address + path)
        if wrong := violations(page):
            found[path] = wrong
    context.close()
    assert found == {}


@pytest.mark.parametrize(
    ("width", "height", "free"), [(360, 740, 480), (360, 440, 250), (740, 360, 170), (768, 1024, 800), (1280, 800, 560)]
)
def test_the_page_keeps_most_of_the_screen_upright_lying_and_with_the_keyboard_up(
    chromium, served, width: int, height: int, free: int
) -> None:
    """The keyboard takes some 300 px of a phone: the page is made that much lower (interactive-widget)."""
    address, ctx = served
    fill(ctx)
    context = chromium.new_context(viewport={"width": width, "height": height})
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    page.goto(address + ADDRESS)
    page.focus("#text")
    dock, head = (
        page.evaluate(f"document.querySelector('{s}').getBoundingClientRect().height") for s in (".dock", ".summary")
    )
    sticky = head if page.evaluate("getComputedStyle(document.querySelector('.summary')).position") == "sticky" else 0
    assert height - dock - sticky >= free
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    wedge(page, f"]C100{sscc(6)}")
    page.wait_for_selector(".answer.here")
    page.locator("#signal").wait_for(state="hidden")  # on a slow machine the line of what is being sent comes and goes
    answered = page.evaluate("document.querySelector('.dock').getBoundingClientRect().height")
    assert answered - dock <= 96
    context.close()


def test_a_question_is_answered_with_one_tap_inside_its_answer(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.keyboard.type("COLUMN 2 ROW 1", delay=50)
    phone.keyboard.press("Enter")
    phone.click("#answer .asked button:has-text('10')")
    phone.locator("#answer .answer.here", has_text="Here · 10").wait_for()
    counts(phone, 1)
    assert [f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.received] == ["10"]


def test_an_answer_that_asks_nothing_goes_by_itself(phone, served) -> None:
    address, _ = served
    phone.clock.install()
    phone.goto(address + ADDRESS)
    wedge(phone, f"]C100{sscc(4)}")
    phone.wait_for_selector(".answer.here")
    phone.clock.run_for(9000)
    phone.wait_for_selector(".answer", state="detached")


def test_cartons_are_searched_while_typing_and_a_long_list_opens_by_section(phone, served) -> None:
    address, ctx = served
    header = "shipment,store,carton,kind,section,column,row\n"
    rows = "".join(f"S-400,0417,{n:03d},tray,Run {n % 8},{n % 9 + 1},1\n" for n in range(400))
    service.import_manifest(ctx, "many.csv", (header + rows).encode())
    phone.goto(f"{address}/s/S-400")
    assert phone.evaluate("document.documentElement.scrollHeight") < 3500
    phone.fill("#carton-search", "137")
    assert phone.locator(".carton:visible").count() == 1
    phone.fill("#carton-search", "")
    assert phone.locator(".carton:visible").count() == 0


def test_silent_mode_is_remembered(phone, served) -> None:
    address, _ = served
    phone.goto(address + ADDRESS)
    phone.evaluate("window.heard = []; addEventListener('sounded', (e) => heard.push(e.detail.silent))")
    phone.click("#place summary")
    phone.click("#silent")
    phone.click("#place summary")
    wedge(phone, f"]C100{sscc(3)}")
    phone.wait_for_function("() => heard.length === 1")
    assert phone.evaluate("heard") == [True]
    phone.reload()
    phone.click("#place summary")
    assert phone.get_attribute("#silent", "aria-pressed") == "true"
