"""A page speaks the language of whoever reads it; what is rendered once for all is rendered once for each language."""

import pytest

import web.speech
from receiving.language import speaking
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.test_questions import typed
from tests.web.test_rep import ADDRESS


@pytest.fixture
def spanish_too(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (web.speech, speaking):
        monkeypatch.setattr(module, "LANGUAGES", ("en", "es"))


@pytest.mark.usefixtures("spanish_too")
def test_a_question_is_asked_in_the_language_that_the_browser_wants(browser: Browser) -> None:
    typed(browser, "1-1")
    in_spanish = browser.get(ADDRESS, headers={"Accept-Language": "es-MX, en;q=0.5"})
    asked = "¿Es la caja 03, 09 o 12 o ninguna de este envío?"
    assert asked in read(in_spanish.text).text
    assert '<html lang="es">' in in_spanish.text
    in_english = read(browser.get(ADDRESS, headers={"Accept-Language": "de, en"}).text).text
    assert asked not in in_english
    assert "Is it carton 03, 09 or 12, or none of this shipment?" in in_english


@pytest.mark.usefixtures("spanish_too")
def test_a_language_that_was_chosen_goes_before_the_browsers(browser: Browser) -> None:
    browser.client.set_cookie("language", "es")
    assert '<html lang="es">' in browser.get(ADDRESS, headers={"Accept-Language": "en"}).text


@pytest.fixture
def english_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (web.speech, speaking):
        monkeypatch.setattr(module, "LANGUAGES", ("en",))


@pytest.mark.usefixtures("english_alone")
def test_a_language_without_a_whole_catalogue_is_not_offered(browser: Browser) -> None:
    assert '<html lang="en">' in browser.get(ADDRESS, headers={"Accept-Language": "es"}).text


@pytest.mark.usefixtures("spanish_too")
def test_a_person_chooses_a_language_by_its_own_name_and_keeps_it(browser: Browser) -> None:
    page = read(browser.get(ADDRESS).text)
    offered = {each.attributes["lang"]: each for each in page.all("button", name="language")}
    assert {code: each.text.strip() for code, each in offered.items()} == {"en": "English", "es": "Español"}
    assert [code for code, each in offered.items() if each.attributes["aria-pressed"] == "true"] == ["en"]
    answer = browser.post("/language", {"language": "es", "back": f"{ADDRESS}?answer=1"})
    assert (answer.status_code, answer.headers["Location"]) == (303, f"{ADDRESS}?answer=1")
    in_spanish = browser.get(ADDRESS)
    assert '<html lang="es">' in in_spanish.text
    assert in_spanish.headers["Content-Language"] == "es"
    assert {"Accept-Language", "Cookie"} <= {name.strip() for name in in_spanish.headers["Vary"].split(",")}


@pytest.mark.usefixtures("spanish_too")
def test_a_language_that_there_is_none_of_is_refused_and_the_form_leads_to_no_other_site(browser: Browser) -> None:
    refused = browser.post("/language", {"language": "tlh"})
    assert refused.status_code == 400
    assert "There is no language &#39;tlh&#39; here." in refused.text
    assert browser.post("/language", {"language": "es", "back": "//evil.example/"}).headers["Location"] == "/"


@pytest.mark.usefixtures("english_alone")
def test_where_there_is_one_language_nobody_is_asked(browser: Browser) -> None:
    assert not read(browser.get(ADDRESS).text).all("button", name="language")


@pytest.mark.usefixtures("spanish_too")
def test_the_words_of_the_scripts_come_with_the_page_and_stay_on_the_phone(browser: Browser) -> None:
    assert "/words/" not in browser.get(ADDRESS).text
    page = read(browser.get(ADDRESS, headers={"Accept-Language": "es"}).text)
    (words,) = [each.attributes["src"] for each in page.all("script") if "/words/" in each.attributes.get("src", "")]
    assert words in browser.get("/shell").json["assets"]
    script = browser.get(words)
    assert script.text.startswith('globalThis.catalogue = {"language": "es", "plurals": {')
    assert "immutable" in script.headers["Cache-Control"]
    assert browser.get(words.replace("/es.js", "/tlh.js")).status_code == 404


@pytest.mark.usefixtures("spanish_too")
def test_the_sheet_of_a_phone_names_its_language_so_that_pages_are_kept_anew(browser: Browser) -> None:
    sheet = browser.get(f"{ADDRESS}/sheet", headers={"Accept-Language": "es"}).json
    assert (sheet["language"], sheet["cartons"]["03"]["kind"]) == ("es", "bandeja")


@pytest.mark.usefixtures("spanish_too")
def test_the_page_without_a_signal_is_in_the_readers_language(browser: Browser) -> None:
    assert '<html lang="es">' in browser.get("/no-signal", headers={"Accept-Language": "es"}).text
    assert "/no-signal" in browser.get("/shell").json["pages"]


PATTERN = "[[pattern]]\nname = 'x'\nregex = '(?P<foo>.)'"


@pytest.mark.usefixtures("spanish_too")
@pytest.mark.parametrize(
    ("address", "fields", "expected"),
    [
        (f"{ADDRESS}/scans", {"text": "952000000000000000", "place": "dock"}, "sus 17 primeras cifras dan 2"),
        (
            f"{ADDRESS}/notes",
            {"kind": "damage_noted", "carton": "03", "reason": "arrived_damaged", "usable": "true", "qty": "0"},
            "la cantidad 0 no está entre 1 y 100.000",
        ),
        ("/office/patterns", {"do": "check", "text": PATTERN, "example": ""}, "grupo 'foo' no se conoce"),
    ],
    ids=["label", "note", "pattern"],
)
def test_what_is_wrong_with_a_label_a_note_or_a_pattern_is_said_in_the_language_of_the_reader(
    browser: Browser, address: str, fields: dict[str, str], expected: str
) -> None:
    browser.client.set_cookie("language", "es")
    assert expected in read(browser.post(address, fields, follow_redirects=True).text).text
