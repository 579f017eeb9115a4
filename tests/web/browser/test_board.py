"""The board in a real browser: it follows what is stored, and nothing that a person does moves."""

import pytest

from receiving import service
from receiving.model import Place, Source
from tests.web.scenario import sscc

pytestmark = pytest.mark.browser


def test_the_board_follows_a_scan_and_keeps_what_was_ticked(phone: object, served: tuple[str, service.Desk]) -> None:
    address, desk = served
    phone.goto(f"{address}/overview")
    phone.check('input[value="S-2055"]')
    row = phone.locator("#row-S-2055")
    assert "0 of 4" in row.inner_text()
    service.add_scan(desk, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    phone.locator("#row-S-2055 td", has_text="1 of 4").wait_for()
    assert phone.is_checked('input[value="S-2055"]')
    assert phone.locator("#notices").inner_text().count("shipment") == 2


def test_the_chosen_visits_are_held_from_the_board(phone: object, served: tuple[str, service.Desk]) -> None:
    address, desk = served
    phone.goto(f"{address}/overview")
    phone.check('input[value="S-2055"]')
    phone.fill("#until", "2026-03-20")
    phone.click("text=Hold the visits")
    phone.wait_for_selector("#row-S-2055 >> text=Fri 20 Mar")
    assert service.shipment(desk, "S-2055").row.held
