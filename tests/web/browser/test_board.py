"""The board in a real browser: it follows what is stored, and nothing that a person does moves."""

import pytest

from receiving import service
from receiving.model import Place, Role, Source
from tests.web.scenario import sscc

pytestmark = pytest.mark.browser


def test_the_board_follows_a_scan_and_keeps_what_was_ticked(phone: object, served: tuple[str, service.Context]) -> None:
    address, ctx = served
    phone.goto(f"{address}/overview")
    phone.check('input[value="S-2055"]')
    row = phone.locator("#row-S-2055")
    assert "0 of 4" in row.inner_text()
    service.add_scan(ctx, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    phone.locator("#row-S-2055 td", has_text="1 of 4").wait_for()
    assert phone.is_checked('input[value="S-2055"]')
    assert phone.locator("#notices").inner_text().count("shipment") == 2


def test_the_chosen_visits_are_held_from_the_board(phone: object, served: tuple[str, service.Context]) -> None:
    address, ctx = served
    phone.goto(f"{address}/overview")
    phone.check('input[value="S-2055"]')
    phone.fill("#until", "2026-03-20")
    phone.click("text=Hold the visits")
    phone.wait_for_selector("#row-S-2055 .visit .brief >> text=Fri 20 Mar")
    assert service.get_shipment(ctx, "S-2055").row.held


def test_a_row_takes_three_lines_of_a_phone_and_all_of_it_can_be_hit(
    phone: object, served: tuple[str, service.Context]
) -> None:
    address, ctx = served
    service.add_scan(ctx, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    phone.set_viewport_size({"width": 390, "height": 844})
    phone.goto(f"{address}/overview")
    rows = phone.evaluate("() => [...document.querySelectorAll('#board tbody tr')].map((r) => r.offsetHeight)")
    assert len(rows) == 2
    assert all(72 <= height <= 96 for height in rows), rows
    assert phone.evaluate("() => document.documentElement.scrollWidth") == 390
    hit = """([selector, x, y]) => {
      const box = document.querySelector("#row-S-2055").getBoundingClientRect();
      const found = document.elementFromPoint(box.left + x * box.width, box.top + y * box.height);
      return Boolean(found?.closest(selector)); }"""
    for selector, x, y in (("th a", 0.4, 0.2), ("th a", 0.4, 0.85), ("label", 0.06, 0.2), ("label", 0.06, 0.8)):
        assert phone.evaluate(hit, [selector, x, y]), (selector, x, y)
    assert phone.locator("#row-S-2055 .follow a").bounding_box()["height"] >= 40


def test_what_is_done_with_the_chosen_ones_comes_up_with_the_first(
    phone: object, served: tuple[str, service.Context]
) -> None:
    phone.set_viewport_size({"width": 1280, "height": 900})
    phone.goto(f"{served[0]}/overview")
    assert phone.locator("#bulk").is_hidden()
    phone.check("#all")
    assert phone.locator("#chosen").inner_text() == "2 shipments chosen"
    phone.uncheck('input[value="S-2055"]')
    assert phone.locator("#chosen").inner_text() == "1 shipment chosen"
    assert phone.evaluate("() => document.getElementById('all').indeterminate")


def test_names_of_stores_keep_to_their_line_and_counts_are_whole_on_a_phone(
    phone: object, served: tuple[str, service.Context]
) -> None:
    address, ctx = served
    service.add_scan(ctx, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    service.import_stores(ctx, "s.csv", b"store,name\n0417,Harbor Lane by the Old Quay\n0422,Far Down West End\n")
    phone.set_viewport_size({"width": 390, "height": 844})
    phone.goto(f"{address}/overview")
    phone.locator("text=Far Down").first.wait_for()
    cut = """() => [...document.querySelectorAll("#board tbody tr")].flatMap((row) => {
      const box = row.getBoundingClientRect();
      const inside = (part) => { const own = part.getBoundingClientRect();
        return own.right <= box.right + 1 && own.top >= box.top - 1 && own.bottom <= box.bottom + 1; };
      const parts = [...row.querySelectorAll("th, .badge, td.visit, td.here, td.gone, td.order")];
      const shown = parts.filter((part) => part.checkVisibility({ checkVisibilityCSS: true }));
      const cells = shown.filter((part) => part.matches("td"));
      const whole = cells.every((part) => part.scrollWidth <= part.clientWidth + 1);
      return shown.every(inside) && whole ? [] : [row.id]; })"""
    assert phone.evaluate(cut) == []


def test_a_board_that_cannot_be_kept_in_step_says_since_when(held_phone: object, served) -> None:
    phone = held_phone
    phone.goto(f"{served[0]}/overview")
    phone.check('input[value="S-2055"]')
    phone.route("**/overview", lambda route: route.abort())
    phone.locator("#old", has_text="No connection: the list is as it was at").wait_for()
    phone.unroute("**/overview")
    phone.locator("#old").wait_for(state="detached")
    assert phone.is_checked('input[value="S-2055"]')


def test_what_was_ticked_and_typed_stays_where_the_service_does_not_answer(held_phone: object, served) -> None:
    address, ctx = served
    phone = held_phone
    phone.goto(f"{address}/overview")
    phone.check('input[value="S-2055"]')
    phone.fill("#until", "2026-03-20")
    phone.fill("#why", "the truck is late")
    phone.route("**/signal", lambda route: route.abort())
    phone.click("text=Hold the visits")
    phone.locator("#bulk [role=alert]", has_text="Not sent: the service does not answer").wait_for()
    assert phone.is_checked('input[value="S-2055"]')
    assert phone.input_value("#why") == "the truck is late"
    phone.unroute("**/signal")
    phone.click("text=Hold the visits")
    # The page that answers is waited for: Chromium may never close one that is still being loaded.
    phone.wait_for_selector("#row-S-2055 .visit .brief >> text=Fri 20 Mar")
    assert service.get_shipment(ctx, "S-2055").row.held
    assert service.get_shipment(ctx, "S-2055").notes[-1].remark == "the truck is late"


@pytest.fixture
def coordinator(chromium: object, served: tuple[str, service.Context]):
    """Ada, who is signed in as a coordinator of all stores."""
    address, ctx = served
    service.add_person(ctx, "Ada", Role.COORDINATOR, "four plain words")
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.goto(f"{address}/sign-in")
    sign_in(page)
    yield page
    context.close()


def sign_in(page: object) -> None:
    page.fill("#name", "Ada")
    page.fill("#password", "four plain words")
    page.click("button:has-text('Sign in')")


def test_a_session_that_ended_costs_no_tick(coordinator: object, served: tuple[str, service.Context]) -> None:
    address, ctx = served
    page = coordinator
    page.goto(f"{address}/overview")
    page.check('input[value="S-2055"]')
    page.fill("#why", "the truck is late")
    page.context.clear_cookies()
    page.click("text=Hold the visits")
    page.locator("#bulk [role=alert]", has_text="Not sent: you are signed out").wait_for()
    page.locator("#old", has_text="You are signed out").wait_for()
    with page.context.expect_page() as opened:
        page.click("#bulk [role=alert] a")
    sign_in(opened.value)
    opened.value.locator("h1", has_text="Shipments").wait_for()
    opened.value.close()
    assert page.is_checked('input[value="S-2055"]')
    page.locator("#old").wait_for(state="detached")
    page.click("text=Hold the visits")
    page.locator("#row-S-2055", has_text="held").wait_for()
    assert service.get_shipment(ctx, "S-2055").notes[-1].remark == "the truck is late"


def test_ticks_come_back_behind_the_sign_in_where_the_page_was_left(coordinator: object, served) -> None:
    """The session ended between the question and the sending: the answer is a page of its own."""
    address, _ = served
    page = coordinator
    page.goto(f"{address}/overview")
    page.check('input[value="S-2055"]')
    page.fill("#why", "the truck is late")
    answer = '{"service": "receiving", "token": "x", "now_ms": 0, "signed_in": true}'
    page.route("**/signal", lambda route: route.fulfill(status=200, content_type="application/json", body=answer))
    page.context.clear_cookies()
    page.locator("#bulk button").first.click()
    page.wait_for_url("**/sign-in**")
    page.unroute("**/signal")
    sign_in(page)
    page.wait_for_url("**/overview**")
    page.locator("#fault", has_text="You are no longer signed in").wait_for()
    assert page.is_checked('input[value="S-2055"]')
    assert page.input_value("#why") == "the truck is late"
    assert page.locator("#chosen").inner_text() == "1 shipment chosen"
