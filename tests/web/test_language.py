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


def test_a_language_without_a_whole_catalogue_is_not_offered(browser: Browser) -> None:
    assert '<html lang="en">' in browser.get(ADDRESS, headers={"Accept-Language": "es"}).text
