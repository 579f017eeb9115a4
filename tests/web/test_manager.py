"""The store manager's pages: what was shown is what is confirmed."""

from flask import Flask

from receiving import service
from receiving.model import Delivery, Place, Role, Source
from tests.checks.test_receipt_messages import faults
from tests.web.conftest import Browser
from tests.web.page_text import Page, read
from tests.web.scenario import SHIPMENT, sscc
from tests.web.test_access import WORDS, Person
from web import create_app

ADDRESS = "/s/S-2041~2FA/receipt"
PERSON = {"name": "Bo Lind", "role": "Store manager", "remarks": "Pallet was wet."}


def scan(ctx: service.Context, *serials: int) -> None:
    for serial in serials:
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.BACK_ROOM, by="Ada", source=Source.SCANNER)


def digest(page: Page) -> str:
    return page.all("input", name="digest")[0].attributes["value"]


def test_counts_and_every_exception_are_shown_in_plain_words(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 102)
    text = read(browser.get(ADDRESS).text).text
    assert "1 of 16 cartons received" in text
    assert "15 not seen and 1 extra carton." in text
    assert "Carton 12, header, for Harbor Lane, column 1, row 1: missing." in text
    assert "another store's carton" in text
    assert "Confirm with 16 exceptions" in text


def test_what_is_handed_over_stands_beside_what_is_signed(browser: Browser, ctx: service.Context) -> None:
    """Where cartons stand and what was asked for: on the page to sign and on the receipt, as it is now."""
    scan(ctx, 3, 4)
    service.add_note(ctx, SHIPMENT, "carton_moved", by="Ada", carton="03", bay="B1", trip=1)
    page = read(browser.get(ADDRESS).text)
    assert "At bay B1: carton 03" in page.text and "Back room: carton 04" in page.text
    assert "No replacement is asked for." in page.text
    given = browser.post(ADDRESS, {**PERSON, "digest": digest(page), "how": "exceptions", "short": "searched"})
    receipt = read(browser.get(given.headers["Location"]).text).text
    assert "At bay B1: carton 03" in receipt
    scan(ctx, 5)
    asked = service.issue_request(ctx, "0417", Delivery("Dock 2", "Bo"), by="Ada")
    later = read(browser.get(given.headers["Location"]).text)
    assert "Back room: cartons 04 and 05" in later.text and asked.reference in later.text
    assert later.all("a", href=f"/stores/0417/requests/{asked.number}")


def test_a_confirmation_becomes_a_receipt_that_later_reads_do_not_alter(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3)
    page = read(browser.get(ADDRESS).text)
    response = browser.post(ADDRESS, {**PERSON, "digest": digest(page), "how": "exceptions", "short": "searched"})
    assert response.headers["Location"] == "/s/S-2041~2FA/receipts/1"
    before = browser.get(response.headers["Location"]).text
    scan(ctx, 4, 5, 6)
    assert _given(browser.get(response.headers["Location"]).text) == _given(before)
    text = read(before).text
    for words in ("Bo Lind", "Store manager", "Pallet was wet.", "1 of 16 cartons received"):
        assert words in text


def _given(html: str) -> str:
    """A receipt's page without what is told of now: what is handed over with it, and the form's token."""
    start, _, rest = html.partition('<section class="card" id="handed-over">')
    assert rest
    return (start + rest.partition("</section>")[2]).replace(_token(html), "")


def _token(html: str) -> str:
    fields = read(html).all("input", name="token")
    return fields[0].attributes["value"] if fields else "no token on this page"


def test_what_changed_since_it_was_shown_must_be_looked_at_again(browser: Browser, ctx: service.Context) -> None:
    shown = digest(read(browser.get(ADDRESS).text))
    scan(ctx, 3)
    response = browser.post(ADDRESS, {**PERSON, "digest": shown, "how": "exceptions", "short": "searched"})
    page = read(response.text)
    assert response.status_code == 409
    assert "What was received has changed since these counts were shown." in page.text
    assert page.all("input", name="name")[0].attributes["value"] == "Bo Lind"
    assert digest(page) != shown
    assert "No longer so Carton 03" in page.text
    assert [e.text for e in page.all("b", class_="new")] == ["New"]
    assert service.get_shipment(ctx, SHIPMENT).receipts == ()
    again = browser.post(ADDRESS, {**PERSON, "digest": digest(page), "how": "exceptions", "short": "searched"})
    assert again.status_code == 303


def test_a_confirmation_without_a_name_says_so_and_keeps_what_was_typed(browser: Browser) -> None:
    shown = digest(read(browser.get(ADDRESS).text))
    response = browser.post(
        ADDRESS, {"role": "Manager", "remarks": "x", "digest": shown, "how": "exceptions", "short": "searched"}
    )
    page = read(response.text)
    assert response.status_code == 400
    assert "The name is empty." in page.text
    assert page.all("input", name="role")[0].attributes["value"] == "Manager"


def test_exceptions_cannot_be_confirmed_as_complete(browser: Browser) -> None:
    shown = digest(read(browser.get(ADDRESS).text))
    response = browser.post(ADDRESS, {**PERSON, "digest": shown, "how": "complete"})
    assert response.status_code == 400
    assert "There are exceptions on this receipt." in read(response.text).text


def test_missing_cartons_are_declared_short_with_the_confirmation(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, *range(1, 12), 20, 21, 22)
    page = read(browser.get(ADDRESS).text)
    assert "Nobody noted a search of dock, back room, overhead and sales floor." in page.text
    fields = {**PERSON, "digest": digest(page), "how": "exceptions"}
    refused = read((response := browser.post(ADDRESS, fields)).text)
    assert response.status_code == 400
    assert "missing and not declared short." in refused.text
    left = [
        e.attributes["name"] for e in refused.all("input") if e.attributes.get("name", "").startswith("short_reason:")
    ]
    no_reason = read(browser.post(ADDRESS, {**fields, "short": "reason", "short_reason": " "}).text)
    assert "were not looked for everywhere is empty." in no_reason.text
    one = read(browser.post(ADDRESS, {**fields, "short": "reason", "short_reason": "", left[1]: "torn"}).text)
    assert one.all("input", name=left[1])[0].attributes["value"] == "torn"
    browser.post(ADDRESS, {**fields, "short": "reason", "short_reason": "not on the van", left[1]: "left at the dock"})
    receipt = read(browser.get("/s/S-2041~2FA/receipts/1").text).text
    assert receipt.count("Declared short by Bo Lind") == len(left) == 2
    assert receipt.count(": not on the van. Not looked for.") == 1
    assert receipt.count(": left at the dock. Not looked for.") == 1
    lines = browser.get("/s/S-2041~2FA/receipts/1.json").json["shown"]["lines"]
    assert [line["declared"]["by"] for line in lines if line["declared"]] == ["Bo Lind"] * 2


def test_what_one_confirmation_declares_of_several_cartons_stands_once_on_the_receipt(
    browser: Browser, ctx: service.Context
) -> None:
    scan(ctx, *range(1, 8))
    fields = {**PERSON, "digest": digest(read(browser.get(ADDRESS).text)), "how": "exceptions", "short": "searched"}
    assert browser.post(ADDRESS, fields).status_code == 303
    page = read(browser.get("/s/S-2041~2FA/receipts/1").text)
    lines = browser.get("/s/S-2041~2FA/receipts/1.json").json["shown"]["lines"]
    named = [line["carton"] for line in lines if line["declared"]]
    assert len(named) > 4 and page.text.count("Declared short by Bo Lind") == 1
    assert f"Cartons {', '.join(named[:-1])} and {named[-1]}: Declared short by Bo Lind" in page.text


def test_a_complete_shipment_is_confirmed_as_complete(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, *range(1, 14), 20, 21, 22)
    page = read(browser.get(ADDRESS).text)
    assert "Everything on the manifest was received." in page.text
    response = browser.post(ADDRESS, {**PERSON, "digest": digest(page), "how": "complete"}, follow_redirects=True)
    assert "16 of 16 cartons received" in read(response.text).text
    assert "Complete" in read(browser.get("/s/S-2041~2FA").text).text


def test_a_receipt_is_a_pdf_too(browser: Browser) -> None:
    shown = digest(read(browser.get(ADDRESS).text))
    browser.post(ADDRESS, {**PERSON, "digest": shown, "how": "exceptions", "short": "searched"})
    response = browser.get("/s/S-2041~2FA/receipts/1.pdf")
    assert (response.mimetype, response.data[:5]) == ("application/pdf", b"%PDF-")
    assert browser.get("/s/S-2041~2FA/receipts/2.pdf").status_code == 404


def test_a_receipt_is_a_standard_message_too(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 102)
    shown = digest(read(browser.get(ADDRESS).text))
    browser.post(ADDRESS, {**PERSON, "digest": shown, "how": "exceptions", "short": "searched"})
    message = "/s/S-2041~2FA/receipts/1/message."
    assert browser.get(f"{message}x12").text.startswith("ISA*00*")
    assert browser.get(f"{message}edi").text.startswith("UNA:+.? '")
    assert browser.get(f"{message}fax").status_code == 404
    assert faults(browser.get(f"{message}jsonld").json) == []


def test_names_stand_under_the_address_of_the_service_in_any_language(browser: Browser, ctx: service.Context) -> None:
    shown = digest(read(browser.get(ADDRESS).text))
    browser.post(ADDRESS, {**PERSON, "digest": shown, "how": "exceptions", "short": "searched"})
    host = "xn--bcher-kva.example"
    client = create_app(ctx, allowed_hosts=[host]).test_client()
    message = client.get("/s/S-2041~2FA/receipts/1/message.jsonld", base_url=f"http://{host}/lager ü").json
    assert message["@context"][1] == {"receiving": f"http://{host}/lager%20%C3%BC/terms#"}
    assert faults(message) == []


def test_where_there_are_accounts_a_name_alone_confirms_nothing(ctx: service.Context, app: Flask) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Rui Paz", Role.REP, WORDS)
    rep = Person(app)
    rep.sign_in("Rui Paz")
    digest = service.show_receipt(ctx, SHIPMENT).digest
    form = {"digest": digest, "how": "exceptions", "short": "searched", "name": "Grace Hill", "role": "Manager"}
    refused = rep.send("POST", ADDRESS, **form)
    assert refused.status_code == 400 and "Nobody has signed." in read(refused.text).text
    assert "Grace Hill" in refused.text, "what was typed stays"
    assert service.get_shipment(ctx, SHIPMENT).receipts == ()
    drawn = '{"height": 300, "strokes": [[[10, 20], [400, 250]]]}'
    assert rep.send("POST", ADDRESS, **form, signature=drawn).status_code == 303
    assert service.get_receipt(ctx, SHIPMENT, 1).signature
