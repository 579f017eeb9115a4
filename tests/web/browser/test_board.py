"""The board in a real browser: it follows what is stored, and nothing that a person does moves."""

import pytest

from receiving import service
from receiving.model import Place, Source
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
    assert service.shipment(ctx, "S-2055").row.held


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
