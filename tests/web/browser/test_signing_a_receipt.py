"""A store manager signs with a finger what the page shows, with a signal and without one."""

import pytest

from receiving import service
from receiving.model import Place, Role, Source
from tests.web.browser.test_outbox import eventually, sent, waiting
from tests.web.browser.test_without_signal import prepared
from tests.web.scenario import SHIPMENT, sscc
from web.access import SESSION_COOKIE

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"


def sign(phone, name: str = "Grace Ito") -> None:
    """Name, role, a finger's stroke, what became of the missing cartons; then the button."""
    phone.fill("#name", name)
    phone.fill("#role", "Store manager")
    box = phone.locator("canvas.pad").bounding_box()
    phone.locator("canvas.pad").scroll_into_view_if_needed()
    box = phone.locator("canvas.pad").bounding_box()
    phone.mouse.move(box["x"] + 20, box["y"] + 20)
    phone.mouse.down()
    for step in range(1, 12):
        phone.mouse.move(box["x"] + 20 + step * 15, box["y"] + 20 + (step % 3) * 20)
    phone.mouse.up()
    phone.check("#short")
    phone.fill("#remarks", "One box is wet.")
    phone.click("button[name=how]")


def receipts(ctx: service.Context) -> list[tuple[str, str, bool]]:
    return [(r.name, r.remarks, r.signature is not None) for r in service.get_shipment(ctx, SHIPMENT).receipts]


def test_nothing_is_shown_that_is_marked_as_hidden(phone, served) -> None:
    address, _ = served
    prepared(phone, address)
    phone.goto(f"{address}/s/S-2041~2FA/receipt")
    seen = "() => [...document.querySelectorAll('[hidden]')].filter((e) => e.checkVisibility()).map((e) => e.outerHTML)"
    assert phone.locator("#since").count() == 1
    assert phone.evaluate(seen) == []


def test_a_finger_signs_what_the_page_shows(phone, served) -> None:
    address, ctx = served
    phone.goto(f"{address}{ADDRESS}/receipt")
    sign(phone)
    phone.locator("h1", has_text="Receipt 1").wait_for()
    assert receipts(ctx) == [("Grace Ito", "One box is wet.", True)]
    assert phone.locator("svg.signature, .signature svg").count() or "Signature" in phone.inner_text("main")


def test_where_there_are_accounts_the_page_asks_for_a_finger_or_a_pin_before_it_sends(phone, served) -> None:
    address, ctx = served
    words = "correct horse battery staple"
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, words)
    service.add_person(ctx, "Rui Paz", Role.REP, words)
    given = service.sign_in(ctx, "Rui Paz", words, address="127.0.0.1")
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])
    phone.goto(f"{address}{ADDRESS}/receipt")
    phone.locator("canvas.pad").wait_for()
    phone.fill("#name", "Grace Ito")
    phone.fill("#role", "Store manager")
    phone.check("#short")
    phone.click("button[name=how]")
    assert "Nobody has signed" in phone.evaluate("document.getElementById('name').validationMessage")
    assert receipts(ctx) == []
    sign(phone)
    phone.locator("h1", has_text="Receipt 1").wait_for()
    assert receipts(ctx) == [("Grace Ito", "One box is wet.", True)]


def test_a_receipt_that_is_signed_without_a_signal_is_given_when_it_is_back(phone, served) -> None:
    address, ctx = served
    prepared(phone, address)
    phone.goto(f"{address}{ADDRESS}/receipt")
    phone.context.set_offline(True)
    sign(phone)
    eventually(phone, lambda: waiting(phone) == 1)
    assert receipts(ctx) == []
    phone.goto(f"{address}/outbox")
    eventually(phone, lambda: "Confirmation" in phone.inner_text("main"))
    phone.context.set_offline(False)
    sent(phone)
    assert receipts(ctx) == [("Grace Ito", "One box is wet.", True)]


def test_what_changed_while_the_phone_was_without_a_signal_is_not_confirmed(phone, served) -> None:
    address, ctx = served
    phone.goto(f"{address}{ADDRESS}/receipt")
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.context.set_offline(True)
    sign(phone)
    eventually(phone, lambda: waiting(phone) == 1)
    scan = f"]C100{sscc(3)}"
    service.add_scan(ctx, SHIPMENT, scan, place=Place.DOCK, by="Bo", source=Source.SCANNER)
    phone.context.set_offline(False)
    phone.goto(f"{address}/outbox")
    phone.locator("main", has_text="changed").wait_for()
    assert receipts(ctx) == []


def test_what_changed_is_shown_with_the_changes_marked_and_what_was_typed_stays(phone, served) -> None:
    address, ctx = served
    phone.goto(f"{address}{ADDRESS}/receipt")
    scan = f"]C100{sscc(3)}"
    service.add_scan(ctx, SHIPMENT, scan, place=Place.DOCK, by="Bo", source=Source.SCANNER)
    sign(phone)
    phone.wait_for_url("**/receipt?before=*")
    phone.locator("#fault", has_text="has changed").wait_for()
    eventually(phone, lambda: "No longer so" in phone.inner_text("main"))
    assert "New Carton 03" in " ".join(phone.locator("#received").text_content().split())
    assert phone.input_value("#remarks") == "One box is wet." and phone.is_checked("#short")
    assert phone.input_value("[name=signature]") == ""
    sign(phone)
    phone.locator("h1", has_text="Receipt 1").wait_for()
    assert receipts(ctx) == [("Grace Ito", "One box is wet.", True)]
