"""A photo that went by rule: its page says so, and what was read from it stays."""

from datetime import timedelta

from receiving import service
from receiving.model import Place
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import picture
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, pile_reading

ADDRESS = "/s/S-2041~2FA"


def test_the_page_of_a_pruned_photo_says_that_it_went_and_keeps_what_was_read(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    reader.readings["pile.jpg"] = pile_reading()
    photo = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture("red"), place=Place.DOCK, by="Ada").photo
    ctx.wait()
    before = read(browser.get(f"{ADDRESS}/photos/{photo}").text)
    then = ctx.now()
    ctx.now = lambda: then + timedelta(days=400)
    assert service.prune_photos(ctx, days=365).photos == (photo,)
    page = read(browser.get(f"{ADDRESS}/photos/{photo}").text)
    assert "This photo was taken out by the rule for old photos on" in page.text
    assert not page.all("image") and not page.all("img", class_="photo")
    assert "Labels on this photo" in page.text and "Labels on this photo" in before.text and before.all("image")
    assert browser.get(f"{ADDRESS}/photos/{photo}/2000.jpg").status_code == 404


def test_no_page_asks_for_the_picture_of_a_pruned_photo_and_each_says_that_it_went(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    reader.readings["pile.jpg"] = pile_reading()
    photo = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture("red"), place=Place.DOCK, by="Ada").photo
    ctx.wait()
    damage = {"carton": "03", "reason": "arrived_damaged", "usable": "false", "photo": photo}
    service.add_note(ctx, SHIPMENT, "damage_noted", by="Ada", **damage)
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
    pages = [f"{ADDRESS}{part}" for part in ("", "/cartons/03", "/receipt", "/receipts/1", f"/photos/{photo}")]
    assert all(photo + "/480.jpg" in text or photo + "/2000.jpg" in text for text in texts(browser, pages))
    then = ctx.now()
    ctx.now = lambda: then + timedelta(days=400)
    assert service.prune_photos(ctx, days=365).photos == ()
    assert service.prune_photos(ctx, days=365, with_receipts=True).photos == (photo,)
    for path, text in zip(pages, texts(browser, pages), strict=True):
        assert '.jpg"' not in text, path
        assert "taken out by the rule for old photos on" in read(text).text, path
    service.add_photo(ctx, SHIPMENT, "pile.jpg", picture("red"), place=Place.DOCK, by="Ada")
    assert all('.jpg"' in text for text in texts(browser, pages))


def texts(browser: Browser, pages: list[str]) -> list[str]:
    return [browser.get(path).text for path in pages]
