"""Another language on a phone: chosen at the foot of a page, in the words of the scripts, on what the phone keeps."""

import pytest

import web.phone
import web.speech
from receiving.language import speaking
from tests.web.browser.test_without_signal import ADDRESS, prepared

pytestmark = pytest.mark.browser
SPANISH = {
    "language": "es",
    "plurals": {"one": 0, "many": 1, "other": 1},
    "messages": {
        "No signal.": "Sin señal.",
        "{things} waits on this phone.": ["{things} espera en este teléfono.", "{things} esperan en este teléfono."],
        "{number} scan": ["{number} lectura", "{number} lecturas"],
        "{number} note": ["{number} nota", "{number} notas"],
        "{number} place": ["{number} lugar", "{number} lugares"],
        "No signal: the language can be changed when it is back.": "Sin señal: el idioma se cambia cuando vuelva.",
    },
}


@pytest.fixture
def spanish_too(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (web.speech, speaking):
        monkeypatch.setattr(module, "LANGUAGES", ("en", "es"))
    monkeypatch.setattr(web.phone, "script_catalogue", {"es": SPANISH}.get)


@pytest.mark.usefixtures("spanish_too")
def test_a_language_is_chosen_on_the_phone_and_what_it_keeps_follows(phone, served) -> None:
    address, _ = served
    prepared(phone, address)
    assert phone.evaluate("document.documentElement.lang") == "en"
    phone.locator("footer.foot button[lang=es]").click()
    phone.locator("html[lang=es]").wait_for()
    assert phone.locator("footer.foot button[aria-pressed=true]").inner_text() == "Español"
    while phone.evaluate("localStorage.getItem('kept-language')") != "es":
        phone.wait_for_timeout(100)
    phone.context.set_offline(True)
    phone.goto(f"{address}{ADDRESS}/cartons/22")
    assert phone.evaluate("document.documentElement.lang") == "es"
    phone.evaluate(
        """async () => {
          const app = document.querySelector('script[src*="app.js"]').src;
          const { outbox } = await import(app.replace("app.js", "outbox.js"));
          for (const text of "ab") await outbox.add({ kind: "scan", url: "/s/x/scans", fields: [["text", text]] });
        }"""
    )
    phone.locator("#signal", has_text="Sin señal. 2 lecturas esperan en este teléfono.").wait_for()


@pytest.mark.usefixtures("spanish_too")
def test_without_a_signal_the_switch_says_that_it_needs_one(phone, served) -> None:
    address, _ = served
    prepared(phone, address)
    phone.context.set_offline(True)
    phone.locator("footer.foot button[lang=es]").click()
    phone.locator(".form-said", has_text="No signal: the language can be changed when it is back.").wait_for()
    assert phone.evaluate("document.documentElement.lang") == "en"
    phone.goto(f"{address}/no-such-page")
    assert "This page was not opened on this phone before." in phone.inner_text("main")


def test_lists_and_plurals_of_the_scripts_follow_the_language(phone, served) -> None:
    phone.goto(served[0])
    shown = phone.evaluate(
        """async (catalogue) => {
          globalThis.catalogue = catalogue;
          const app = document.querySelector('script[src*="app.js"]').src;
          const { listed, plural, figure } = await import(app.replace("app.js", "language.js?another"));
          const scans = (number) => plural(number, "{number} scan", "{number} scans");
          const words = plural(2, "{number} word", "{number} words");
          return [listed(["1", "2", "3"]), scans(1), scans(12500), words, figure(1.25, 1)];
        }""",
        SPANISH,
    )
    # The list and the figures as Unicode's locale data have them for Spanish (CLDR, es).
    assert shown == ["1, 2 y 3", "1 lectura", "12.500 lecturas", "2 words", "1,3"]
