"""Questions, texts that are not understood, and a pile that is another shipment's, as the page shows and takes them."""

from io import BytesIO

from receiving import service
from receiving.model import PhotoReading, Place, Source, Symbol
from tests.planned_reader import PlannedReader
from tests.spoken import in_words
from tests.web.conftest import Browser
from tests.web.page_text import Element, read
from tests.web.scenario import SHIPMENT, box, picture, sscc
from tests.web.test_rep import ADDRESS
from web.pages.shipment import MOST_QUESTIONS


def typed(browser: Browser, text: str) -> Element:
    """The answer to a typed text."""
    fields = {"text": text, "source": "typed", "place": "dock"}
    page = read(browser.post(f"{ADDRESS}/scans", fields, follow_redirects=True).text)
    return next(e for e in page.all("div") if e.attributes.get("class", "").startswith("answer "))


def received(ctx: service.Context) -> list[str]:
    return [found.carton.carton for found in service.get_shipment(ctx, SHIPMENT).reconciliation.received]


def test_a_number_typed_for_a_carton_is_that_carton(browser: Browser, ctx: service.Context) -> None:
    assert "Here · 13" in typed(browser, "013").text
    assert "Here · 04" in typed(browser, f"SSCC {sscc(4)}").text
    assert received(ctx) == ["04", "13"]


def test_a_place_that_several_cartons_go_to_is_a_question_with_seen_before_among_its_answers(
    browser: Browser, ctx: service.Context
) -> None:
    answer = typed(browser, "1-1")
    assert "Which one?" in answer.text
    link = next(e.attributes["href"] for e in answer.inside if "/questions/" in e.attributes.get("href", ""))
    page = read(browser.get(link).text)
    assert [e.attributes["value"] for e in page.all("button", name="carton")] == ["03", "09", "12", ""]
    assert [e.text for e in page.all("button", name="again")] == ["Seen before"]
    assert browser.post(link, {"again": "yes"}).status_code == 303
    found = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert (found.questions, found.received, found.extra) == ((), (), ())
    assert in_words(found.explanations[0]).endswith("the same carton, seen again")


def test_of_many_questions_the_page_asks_some_and_counts_the_others(browser: Browser, ctx: service.Context) -> None:
    for n in range(MOST_QUESTIONS + 2):
        text = f"COLUMN {n % 2 + 1} ROW 1"
        service.add_scan(ctx, SHIPMENT, text, place=Place.DOCK, by=f"Ada {n}", source=Source.TYPED)
    asked = len(service.get_shipment(ctx, SHIPMENT).reconciliation.questions)
    page = read(browser.get(ADDRESS).text)
    assert len(page.all("article", class_="card question")) == MOST_QUESTIONS < asked
    assert f"{asked - MOST_QUESTIONS} more questions come when these are answered." in page.text


def test_an_answer_may_be_a_known_carton_seen_again(browser: Browser, ctx: service.Context) -> None:
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    typed(browser, "TRAY-H11 HEADER-H")
    question = service.get_shipment(ctx, SHIPMENT).reconciliation.questions[0]
    page = read(browser.get(ADDRESS).text)
    choices = [e.text for e in page.all("button", class_="button choice")]
    assert "03 Seen again: Tray, Harbor Lane: column 1 row 1, column 1 row 2" in [" ".join(c.split()) for c in choices]
    browser.post(f"{ADDRESS}/questions/{question.question_id}", {"carton": "03"})
    assert received(ctx) == ["03"]


def test_what_is_not_understood_is_no_extra_carton_until_a_person_notes_it_as_one(
    browser: Browser, ctx: service.Context
) -> None:
    answer = typed(browser, "helo")
    assert "Unclear" in answer.text
    found = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert (found.extra, [unclear.raw for unclear in found.unclear]) == ((), ["helo"])
    page = read(browser.get(ADDRESS).text)
    assert "1 text not understood" in page.text
    form = next(e for e in answer.inside if e.name == "form" and "Note as extra" in e.text)
    fields = {e.attributes["name"]: e.attributes["value"] for e in form.inside if e.name == "input"}
    assert browser.post(form.attributes["action"], fields).status_code == 303
    after = service.get_shipment(ctx, SHIPMENT).reconciliation
    assert ([over.raw for over in after.extra], after.unclear) == (["helo"], ())


def test_a_of_another_shipment_shipment_says_so_on_top(browser: Browser, ctx: service.Context) -> None:
    for serial in (101, 102, 103):
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    page = read(browser.get(ADDRESS).text)
    (notice,) = page.all("p", id="looks-like")
    words = " ".join(notice.text.split())
    assert words.startswith(
        "This pile looks like shipment S-2055, store 0422. 3 labels are of that shipment, 0 of this"
    )
    assert [e.attributes["href"] for e in notice.inside if e.name == "a"] == ["/s/S-2055"]
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    assert read(browser.get(ADDRESS).text).all("p", id="looks-like") == []


def photographed(browser: Browser, reader: PlannedReader, name: str, *texts: tuple[str, str]) -> None:
    """A photo of one label that carries these symbols, taken and read."""
    symbols = tuple(Symbol(raw, kind, box(120, 120), "zxing", label=1) for raw, kind in texts)
    reader.readings[name] = PhotoReading(width_px=1200, height_px=900, symbols=symbols)
    file = (BytesIO(picture(f"#{len(reader.readings)}08a5a")), name)
    form = {"photos": file, "place": "back_room"}
    assert browser.post(f"{ADDRESS}/photos", form, content_type="multipart/form-data").status_code == 303


def test_a_carton_that_a_later_photo_throws_in_doubt_says_so_on_the_page(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    """What a torn label leaves open is the one missing carton of its place, until a whole label may be its own."""
    torn, whole = ("SECTION Harbor Lane COL 1 ROW 1", "]Q1"), (f"00{sscc(12)}", "]C1")
    service.add_scan(ctx, SHIPMENT, f"]C1{whole[0]}", place=Place.BACK_ROOM, by="Ada", source=Source.SCANNER)
    photographed(browser, reader, "torn.jpg", torn)
    service.finish_photos(ctx)
    assert received(ctx) == ["03", "12"]
    assert "may be this carton waits" not in browser.get(ADDRESS).text
    photographed(browser, reader, "whole.jpg", whole, torn)
    service.finish_photos(ctx)
    assert received(ctx) == ["12"]
    question = service.get_shipment(ctx, SHIPMENT).reconciliation.questions[0].question_id
    page = read(browser.get(ADDRESS).text)
    assert f"{ADDRESS}/questions/{question}" in [e.attributes["href"] for e in page.all("a")]
    own = " ".join(read(browser.get(f"{ADDRESS}/cartons/03").text).text.split())
    assert "missing A label that may be this carton waits for an answer" in own
    assert "Nothing read or noted shows it" not in own
