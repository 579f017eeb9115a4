"""The parts list: seen, edited row by row, refused with what was typed, and put back."""

from receiving import service
from receiving.model import CartonKind
from receiving.model.contents import Part
from tests.web.conftest import Browser
from tests.web.page_text import Page, read

PATH = "/office/parts"


def rows(*parts: tuple[str, str, str, str], follows: int = 0) -> dict[str, object]:
    kinds, names, quantities, uses = (list(column) for column in zip(*parts, strict=True))
    return {"kind": kinds, "part": names, "qty": quantities, "of_position": uses, "follows": follows, "do": "save"}


def typed(page: Page) -> list[str]:
    return [e.attributes["value"] for e in page.all("input", name="part")]


def test_the_usual_list_stands_there_with_its_origin_and_room_for_more(browser: Browser) -> None:
    page = read(browser.get(PATH).text)
    assert "The usual list is in use: common practice, no source." in page.text
    assert typed(page)[:4] == ["base", "pusher set", "price rail", "graphic"]
    assert typed(page)[-2:] == ["", ""]
    assert "Use the usual list again" not in page.text
    assert PATH in [e.attributes["href"] for e in read(browser.get("/office").text).all("a")]


def test_parts_are_saved_used_and_the_usual_ones_come_back(browser: Browser, ctx: service.Context) -> None:
    edit = rows(("tray", "base", "1", "no"), ("tray", "", "1", "no"), ("header", "lamp", "2", "yes"))
    page = read(browser.post(PATH, edit, follow_redirects=True).text)
    assert "Saved. It is in use from now on." in page.text
    assert "Your own list is in use: 2 parts of 2 kinds of carton." in page.text
    kept = service.get_parts_list(ctx)
    assert kept.parts_of(CartonKind.TRAY) == (Part("base"),)
    assert kept.parts_of(CartonKind.HEADER) == (Part("lamp", 2, of_position=True),)
    page = read(browser.post(PATH, {"do": "usual", "follows": 1}, follow_redirects=True).text)
    assert "The usual parts list is in use again." in page.text
    assert service.get_parts_table(ctx).usual


def test_a_fault_names_its_row_and_keeps_what_was_typed(browser: Browser, ctx: service.Context) -> None:
    response = browser.post(PATH, rows(("tray", "base", "1", "no"), ("tray", "hook", "none", "no")))
    assert response.status_code == 400
    page = read(response.text)
    assert "Row 2: quantity 'none' is not a whole number from 1 up" in page.text
    assert typed(page) == ["base", "hook", "", ""]
    assert service.get_parts_table(ctx).usual


def test_each_fault_leads_to_its_field_and_no_other_is_marked(browser: Browser) -> None:
    edit = rows(("tray", "base", "1", "no"), ("tray", "hook", "none", "no"), ("tray", "base", "1", "no"))
    page = read(browser.post(PATH, edit).text)
    assert "The parts list has 2 faults." in page.text
    links = [e.attributes["href"] for e in page.all("a") if e.attributes["href"].startswith("#") and "Row" in e.text]
    assert links == ["#qty-2", "#part-3"]
    marked = [e.attributes["id"] for e in page.elements if e.attributes.get("aria-invalid") == "true"]
    assert marked == ["qty-2", "part-3"]


def test_who_saves_second_is_told_and_keeps_what_was_typed(browser: Browser, ctx: service.Context) -> None:
    browser.post(PATH, rows(("tray", "base", "1", "no")))
    response = browser.post(PATH, rows(("tray", "hook", "1", "no")))
    assert response.status_code == 409
    assert typed(read(response.text)) == ["hook", "", ""]
    assert service.get_parts_list(ctx).parts_of(CartonKind.TRAY) == (Part("base"),)


def test_a_row_in_pieces_is_refused(browser: Browser) -> None:
    response = browser.post(PATH, {"kind": ["tray"], "part": ["base", "hook"], "follows": 0, "do": "save"})
    assert response.status_code == 400
    assert "A part came without kind, quantity or use." in read(response.text).text
