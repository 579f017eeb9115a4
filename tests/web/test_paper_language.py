"""Every paper that a page offers is in the language of whoever asks for it, and names it."""

from datetime import date

import pytest

import web.speech
from receiving import service
from receiving.messages import ENGLISH
from receiving.model.replacement import Delivery
from tests.closing.test_marked_papers import MARKED
from tests.web.conftest import Browser
from tests.web.scenario import SHIPMENT
from tests.web.test_manager import scan

STORE, ADDRESS = "0417", "/s/S-2041~2FA"
PAPERS = (
    f"{ADDRESS}/plan.pdf",
    f"{ADDRESS}/bay-sheets.pdf",
    f"{ADDRESS}/labels.pdf",
    f"{ADDRESS}/labels.pdf?which=missing",
    f"{ADDRESS}/place-stickers.pdf?carton=04",
    f"/stores/{STORE}/requests/1.pdf",
)


@pytest.fixture
def asked_for(ctx: service.Context) -> None:
    scan(ctx, 3, 12)
    there = Delivery("Back door", "Mia", needed_by=date(2026, 3, 9))
    service.issue_request(ctx, STORE, there, by="Ada")
    service.get_staging_plan(ctx, SHIPMENT)


@pytest.mark.parametrize("path", PAPERS)
@pytest.mark.usefixtures("asked_for")
def test_a_paper_is_in_the_language_of_whoever_asks_for_it(
    path: str, browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    for speaker in (ENGLISH, MARKED):
        monkeypatch.setattr(web.speech, "language_of", lambda _, speaker=speaker: speaker)
        answer = browser.get(path)
        assert (answer.status_code, answer.mimetype) == (200, "application/pdf"), answer.text
        assert f"/Lang ({speaker.code})".encode() in answer.data


@pytest.mark.usefixtures("asked_for")
def test_what_machines_read_is_the_same_for_everybody(browser: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = (
        f"/stores/{STORE}/requests/1.csv",
        f"/stores/{STORE}/requests/1.json",
        f"{ADDRESS}/result.csv",
        "/overview.csv",
    )
    english = [browser.get(path).data for path in paths]
    monkeypatch.setattr(web.speech, "language_of", lambda _: MARKED)
    assert [browser.get(path).data for path in paths] == english
