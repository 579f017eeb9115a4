"""A torn label that fits two cartons: one tap on how big the carton is."""

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import SizeClass, SizeStated
from receiving.store.records import from_text, to_text
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import sscc

ADDRESS = "/s/S-3001"
MANIFEST = f"""\
shipment,store,carton,sscc,kind,section,column,row,item,qty,length_cm,width_cm,height_cm
S-3001,0417,01,{sscc(301)},tray,Harbor Lane,1,1,TRAY-1,1,60,40,40
S-3001,0417,02,{sscc(302)},graphic,Harbor Lane,1,1,GRAPHIC-1,1,30,20,15
S-3001,0417,03,{sscc(303)},tray,Harbor Lane,2,1,TRAY-2,1,60,40,42
"""


@pytest.fixture(autouse=True)
def manifest(ctx: service.Context) -> None:
    service.import_manifest(ctx, "sizes.csv", MANIFEST.encode())


def type_torn_label(browser: Browser) -> str:
    sent = browser.post(f"{ADDRESS}/scans", {"text": "COL 1 ROW 1", "source": "typed"})
    return sent.headers["Location"]


def received(ctx: service.Context) -> list[str]:
    return [found.carton.carton for found in service.get_shipment(ctx, "S-3001").reconciliation.received]


def test_one_tap_on_the_size_settles_a_torn_label_and_says_why(browser: Browser, ctx: service.Context) -> None:
    page = read(browser.get(type_torn_label(browser)).text)
    assert "How big is this carton beside the others?" in page.text
    buttons = page.all("button", name="size")
    assert {button.attributes["value"] for button in buttons} == {"small", "large"}
    read_id = page.all("input", name="read_id")[0].attributes["value"]
    back = page.all("input", name="back")
    fields = {"kind": "size_said", "read_id": read_id, "size": "small", "back": f"{ADDRESS}?answer={read_id}"}
    assert f"{ADDRESS}?answer={read_id}" in {field.attributes["value"] for field in back}
    page = read(browser.get(browser.post(f"{ADDRESS}/notes", fields).headers["Location"]).text)
    assert received(ctx) == ["02"]
    assert "on a small carton: carton 02 fits best" in page.text
    assert "How big is this carton" not in page.text


def test_a_size_said_wrongly_is_undone_on_the_page_of_the_carton(browser: Browser, ctx: service.Context) -> None:
    type_torn_label(browser)
    read_id = service.get_shipment(ctx, "S-3001").reads[0].read_id
    browser.post(f"{ADDRESS}/notes", {"kind": "size_said", "read_id": read_id, "size": "large"})
    page = read(browser.get(f"{ADDRESS}/cartons/01").text)
    assert "A label's carton was said to be large." in page.text
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert received(ctx) == []
    assert len(service.get_shipment(ctx, "S-3001").reconciliation.questions) == 1


def test_undo_takes_back_the_last_tap_and_keeps_the_scan(browser: Browser, ctx: service.Context) -> None:
    address = type_torn_label(browser)
    read_id = service.get_shipment(ctx, "S-3001").reads[0].read_id
    browser.post(f"{ADDRESS}/notes", {"kind": "size_said", "read_id": read_id, "size": "large"})
    assert received(ctx) == ["01"]
    page = read(browser.get(address).text)
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert [len(service.get_shipment(ctx, "S-3001").reads), received(ctx)] == [1, []]
    asked = service.get_shipment(ctx, "S-3001").reconciliation.questions[0]
    browser.post(f"{ADDRESS}/questions/{asked.question_id}", {"carton": "02"})
    assert received(ctx) == ["02"]
    page = read(browser.get(address).text)
    note_id = page.all("input", name="withdrawn")[0].attributes["value"]
    browser.post(f"{ADDRESS}/notes", {"kind": "note_withdrawn", "withdrawn": note_id})
    assert [q.question_id for q in service.get_shipment(ctx, "S-3001").reconciliation.questions] == [asked.question_id]


def test_the_page_that_compares_photos_asks_for_the_size_too(browser: Browser, ctx: service.Context) -> None:
    type_torn_label(browser)
    asked = service.get_shipment(ctx, "S-3001").reconciliation.questions[0]
    page = read(browser.get(f"{ADDRESS}/questions/{asked.question_id}").text)
    assert {button.attributes["value"] for button in page.all("button", name="size")} == {"small", "large"}


@pytest.mark.parametrize("size", ["huge", "Small", "", "\x00", "large" * 900])
def test_a_size_that_does_not_exist_is_refused_and_nothing_is_noted(
    browser: Browser, ctx: service.Context, size: str
) -> None:
    type_torn_label(browser)
    read_id = service.get_shipment(ctx, "S-3001").reads[0].read_id
    response = browser.post(f"{ADDRESS}/notes", {"kind": "size_said", "read_id": read_id, "size": size})
    assert response.status_code == 400
    assert service.get_shipment(ctx, "S-3001").notes == ()


def test_a_size_of_a_read_that_does_not_exist_is_refused(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="There is no read"):
        service.add_note(ctx, "S-3001", "size_said", by="Ada", read_id="r1", size="small")


def test_a_label_pattern_of_the_office_may_read_the_size(browser: Browser, ctx: service.Context) -> None:
    pattern = '[[pattern]]\nname = "size"\nregex = "SIZE (?P<size>[SML])"\nanywhere = true\nexample = "SIZE L"\n'
    service.import_text(ctx, service.PATTERNS, "patterns.toml", (pattern + COLUMN_AND_ROW).encode())
    browser.post(f"{ADDRESS}/scans", {"text": "COL 1 ROW 1 SIZE L", "source": "typed"})
    assert received(ctx) == ["01"]


COLUMN_AND_ROW = """
[[pattern]]
name = "column and row"
regex = 'COL (?P<column>[0-9]+) ROW (?P<row>[0-9]+)'
anywhere = true
"""


def test_a_size_note_is_stored_as_it_was_said(ctx: service.Context) -> None:
    note = SizeStated("n1", ctx.now(), "Ada", "r1", SizeClass.LONG)
    assert from_text(to_text(note), SizeStated) == note
