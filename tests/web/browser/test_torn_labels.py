"""A torn label on a phone: typed, sized in one tap, taken back, compared side by side, answered."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from receiving import service
from receiving.model import PhotoReading, Place, Symbol
from tests.web.scenario import box, picture, sscc
from tests.web.test_sizes import ADDRESS, MANIFEST

pytestmark = pytest.mark.browser
SHIPMENT = "S-3001"


@pytest.fixture
def torn(phone: object, served: tuple[str, service.Context]) -> Iterator[tuple[object, service.Context]]:
    """The phone on the page of a shipment with two cartons of unlike size for one place."""
    address, ctx = served
    service.import_manifest(ctx, "sizes.csv", MANIFEST.encode())
    phone.goto(address + ADDRESS)
    yield phone, ctx


def received(ctx: service.Context) -> list[str]:
    return [found.carton.carton for found in service.get_shipment(ctx, SHIPMENT).reconciliation.received]


def test_a_typed_torn_label_is_sized_in_one_tap_and_taken_back_in_one(torn) -> None:
    phone, ctx = torn
    phone.fill("#text", "COL 1 ROW 1")
    phone.click("#scan button")
    phone.click("#answer button:has-text('Small')")
    phone.locator("#answer .answer.here", has_text="Here · 02").wait_for()
    phone.click("#answer summary")
    assert "on a small carton" in phone.inner_text("#answer")
    assert received(ctx) == ["02"]
    phone.click("#answer button:has-text('Undo')")
    phone.locator("#answer", has_text="How big is this carton").wait_for()
    assert received(ctx) == []
    phone.click("#answer button:has-text('Large')")
    phone.locator("#answer .answer.here", has_text="Here · 01").wait_for()


def test_the_two_photos_of_a_question_stand_side_by_side(torn) -> None:
    phone, ctx = torn
    reading = PhotoReading(800, 600, ())
    label = Symbol("COL 1 ROW 1", "", box(300, 200, 220, 120), "print", 1)
    ctx.reader.readings["torn.jpg"] = replace(reading, symbols=(label,))
    known = Symbol(f"00{sscc(302)}", "]C1", box(100, 300, 220, 120), "decoder", 1)
    ctx.reader.readings["known.jpg"] = replace(reading, symbols=(known,))
    for name, colour in (("torn.jpg", "#445"), ("known.jpg", "#544")):
        service.add_photo(ctx, SHIPMENT, name, picture(colour), place=Place.BACK_ROOM, by="Ada")
    service.finish_photos(ctx)
    asked = service.get_shipment(ctx, SHIPMENT).reconciliation.questions[0]
    assert (asked.cartons, asked.again) == (("01",), ("02",))
    phone.goto(f"{phone.url.split('/s/')[0]}{ADDRESS}/questions/{asked.question_id}")
    one, two = phone.locator("[aria-label='Carton 02'] figure").all()
    assert one.inner_text().startswith("This label:")
    assert two.inner_text().startswith("Carton 02:")
    left, right = one.bounding_box(), two.bounding_box()
    assert left["y"] == right["y"]
    assert left["x"] + left["width"] <= right["x"]
    assert right["x"] + right["width"] <= 360
    phone.click("button:has-text('It is 02')")
    phone.locator("#answer .answer.here").wait_for()
    assert service.get_shipment(ctx, SHIPMENT).reconciliation.questions == ()
