"""A receipt is the same in every language: what is hashed, signed and sent is what a page told of, not its words."""

import json
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

import receiving.service.confirming
import web.speech
from receiving import service
from receiving.language import speaking
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, open_context
from tests.web.test_manager import ADDRESS, PERSON, digest, scan
from web import create_app

RECEIPT = "/s/S-2041~2FA/receipts/1"
SPANISH = {"Accept-Language": "es"}
WHY_EN, WHY_ES = "Nothing read or noted shows it", "Nada leído ni anotado la muestra"


@pytest.fixture(autouse=True)
def spanish_too(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (web.speech, speaking, receiving.service.confirming):
        monkeypatch.setattr(module, "LANGUAGES", ("en", "es"))


@pytest.fixture
def other(tmp_path: Path) -> Iterator[service.Context]:
    folder = tmp_path / "other"
    folder.mkdir()
    with open_context(folder, PlannedReader()) as ctx:
        yield ctx


def confirmed(ctx: service.Context, headers: dict[str, str]) -> Browser:
    """A browser in which what was shown in this language is confirmed."""
    scan(ctx, 3, 102)
    browser = Browser(create_app(ctx).test_client())
    page = read(browser.get(ADDRESS, headers=headers).text)
    fields = {e.attributes["name"]: e.attributes.get("value", "") for e in page.all("input", type="hidden")}
    how = {"how": "exceptions", "short": "searched"}
    sent = {"digest": fields["digest"], "language": fields["language"], **PERSON, **how}
    assert browser.post(ADDRESS, sent, headers=headers).status_code == 303
    return browser


def test_the_same_is_shown_and_asked_for_in_every_language(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, 3, 102)
    english, spanish = (read(browser.get(ADDRESS, headers=each).text) for each in ({}, SPANISH))
    assert WHY_EN in english.text and WHY_ES in spanish.text and WHY_EN not in spanish.text
    assert digest(english) == digest(spanish)


def test_what_was_shown_in_spanish_and_signed_verifies_and_is_the_same_record(
    ctx: service.Context, other: service.Context
) -> None:
    spanish, english = confirmed(ctx, SPANISH), confirmed(other, {})
    for here in (ctx, other):
        assert [each.sound for each in service.verify_shipment(here, SHIPMENT)] == [True]
    sealed = spanish.get(f"{RECEIPT}.record").data
    assert service.verify_file("r.json", sealed).sound and service.verify_against(ctx, "r.json", sealed).sound
    one, two = (json.loads(each.get(f"{RECEIPT}.json").data) for each in (spanish, english))
    assert (one.pop("language"), two.pop("language")) == ("es", "en")
    assert one == two
    for kind in (".csv", "/message.x12", "/message.edi", "/message.jsonld"):
        in_spanish = spanish.get(f"{RECEIPT}{kind}", headers=SPANISH)
        assert in_spanish.status_code == 200
        assert in_spanish.data == english.get(f"{RECEIPT}{kind}").data


def test_a_receipt_is_read_in_the_readers_language_and_printed_in_the_one_that_was_shown(
    ctx: service.Context,
) -> None:
    browser = confirmed(ctx, SPANISH)
    assert WHY_EN in read(browser.get(RECEIPT, headers={"Accept-Language": "en"}).text).text
    page = read(browser.get(RECEIPT, headers=SPANISH).text)
    assert WHY_ES in page.text and WHY_EN not in page.text
    assert rb"/Lang (es)" in browser.get(f"{RECEIPT}.pdf").data


def test_a_change_since_it_was_shown_is_told_whatever_the_language(browser: Browser, ctx: service.Context) -> None:
    shown = digest(read(browser.get(ADDRESS, headers=SPANISH).text))
    scan(ctx, 3)
    fields = {**PERSON, "digest": shown, "how": "exceptions", "short": "searched", "language": "es"}
    response = browser.post(ADDRESS, fields, headers={"Accept-Language": "en"})
    page = read(response.text)
    assert response.status_code == 409 and "No longer so Carton 03" in page.text
    assert [e.text for e in page.all("b", class_="new")] == ["New"]


def test_the_same_confirmation_sent_again_in_another_language_is_the_same_receipt(ctx: service.Context) -> None:
    browser = confirmed(ctx, SPANISH)
    first = service.get_receipt(ctx, SHIPMENT, 1)
    again = {**PERSON, "digest": first.asked or first.shown.digest, "how": "exceptions", "short": "searched"}
    response = browser.post(ADDRESS, {**again, "language": "en"})
    assert response.headers["Location"].endswith("/receipts/1")
    assert service.get_receipt(ctx, SHIPMENT, 1) == first


def test_a_receipt_says_in_the_readers_language_in_which_one_it_was_shown(ctx: service.Context) -> None:
    browser = confirmed(ctx, SPANISH)
    texts = {
        tag: read(browser.get("/s/S-2041~2FA/receipts/1", headers={"Accept-Language": tag}).text).text
        for tag in ("en", "es")
    }
    assert "Shown in Spanish" in texts["en"]
    assert "Mostrada en español" in texts["es"]


@pytest.mark.parametrize("language", ["", "tlh", "../es", "x" * 300])
def test_a_language_that_nobody_was_shown_is_recorded_as_english(ctx: service.Context, language: str) -> None:
    scan(ctx, 3)
    receipt = confirm_with_shorts(ctx, SHIPMENT, name="Bo", role="x", language=language)
    assert receipt.language == "en"


def test_a_scans_answer_is_said_in_the_language_of_whoever_reads_it(browser: Browser) -> None:
    fields = {"text": "nothing of the kind", "source": "typed", "scan_id": str(uuid.uuid4())}
    where = browser.post("/s/S-2041~2FA/scans", fields).headers["Location"]
    in_english, in_spanish = (read(browser.get(where, headers=each).text).text for each in ({}, SPANISH))
    assert "fits nothing on this manifest" in in_english
    assert "fits nothing on this manifest" not in in_spanish
