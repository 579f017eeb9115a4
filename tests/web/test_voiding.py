"""The office voids a shipment that was imported by mistake, after a question, and brings it back."""

from tests.web.conftest import Browser
from tests.web.page_text import read

ADDRESS = "/s/S-2041~2FA"


def test_a_shipment_is_voided_after_a_question_and_restored_from_the_office(browser: Browser) -> None:
    assert f"{ADDRESS}/void" in browser.get(f"{ADDRESS}/manifest").text
    assert "Why" in read(browser.get(f"{ADDRESS}/void").text).text
    done = browser.post(f"{ADDRESS}/void", {"reason": "imported twice"}, follow_redirects=True)
    assert "imported twice" in read(done.text).text
    assert "S-2041/A" not in browser.get("/").text
    assert "S-2041/A" not in browser.get("/overview").text
    assert "This shipment is voided" in read(browser.get(ADDRESS).text).text
    assert "imported twice" in read(browser.get("/office").text).text
    assert browser.post(f"{ADDRESS}/void").status_code == 409
    browser.post(f"{ADDRESS}/void/undo")
    assert "S-2041/A" in browser.get("/").text
    assert "voided" not in read(browser.get(ADDRESS).text).text
