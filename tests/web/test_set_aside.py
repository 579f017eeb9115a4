"""One stored row that cannot be read is named on the page and counts for nothing; no page and no list goes with it."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass

import pytest

from receiving import service
from receiving.model import Place, Source
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, picture, pile_reading, sscc

ADDRESS = "/s/S-2041~2FA"
OTHER = "/s/S-2055"


@dataclass(frozen=True)
class Damage:
    """What is written over which row, and what the page then says."""

    table: str
    what: str
    says: str


ROWS = (
    Damage("notes", "note = substr(note, 1, 20)", "A note cannot be read"),
    Damage("notes", "kind = 'carton_xeen'", "A note cannot be read"),
    Damage("notes", "note = replace(note, '2026-', '9999-')", "A note cannot be read"),
    Damage("reads", "read = 'x' || read", "A read cannot be read"),
    Damage("photos", "reading = substr(reading, 5)", "A photo's record cannot be read"),
    Damage("photos", "place = 'attic'", "A photo's record cannot be read"),
    Damage("receipts", "receipt = replace(receipt, 'Grace', 'Gracy')", "A receipt cannot be read"),
    Damage("documents", "body = 'x' || body", "A document cannot be read"),
)


def damage(ctx: service.Context, done: Damage, *, where: str = "true") -> None:
    with ctx.store() as store, closing(sqlite3.connect(store.path)) as file:
        for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            file.execute(f"DROP TRIGGER {name}")
        assert file.execute(f"UPDATE {done.table} SET {done.what} WHERE {where}").rowcount
        file.commit()
    ctx.snapshots.clear()


@pytest.fixture
def full(ctx: service.Context, reader: PlannedReader) -> service.Context:
    """A shipment with one of everything that is stored for it."""
    reader.readings["pile.jpg"] = pile_reading()
    service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(4)}", place=Place.DOCK, by="Ada", source=Source.SCANNER)
    service.add_note(ctx, SHIPMENT, "carton_seen", by="Ada", carton="02")
    confirm_with_shorts(ctx, SHIPMENT)
    return ctx


@pytest.mark.parametrize("done", ROWS, ids=lambda done: f"{done.table} {done.what[:12]}")
def test_a_damaged_row_is_named_and_takes_nothing_with_it(
    browser: Browser, full: service.Context, done: Damage
) -> None:
    damage(full, done)
    for page in (ADDRESS, f"{ADDRESS}/plan", f"{ADDRESS}/contents", OTHER, "/", "/overview", "/office"):
        assert browser.get(page).status_code == 200, page
    assert done.says in read(browser.get(ADDRESS).text).text
    assert "receiving check" in read(browser.get("/overview").text).text


def test_a_shipment_whose_manifest_is_damaged_leaves_the_lists_whole_and_is_named_there(
    browser: Browser, full: service.Context
) -> None:
    damage(full, Damage("manifest_revisions", "manifest = substr(manifest, 3)", ""), where=f"shipment = '{SHIPMENT}'")
    for page in ("/", "/overview"):
        shown = browser.get(page)
        assert shown.status_code == 200
        assert f"Shipment {SHIPMENT} cannot be read" in read(shown.text).text
        assert "0422" in shown.text
    assert browser.get(ADDRESS).status_code == 503
    assert browser.get(OTHER).status_code == 200


def test_importing_a_damaged_manifest_again_mends_the_shipment(browser: Browser, full: service.Context) -> None:
    whole = service.make_manifest_csv(full, SHIPMENT)
    damage(full, Damage("manifest_revisions", "manifest = substr(manifest, 3)", ""), where=f"shipment = '{SHIPMENT}'")
    (result,) = service.import_manifest(full, "again.csv", whole.encode())
    assert (result.status, result.revision) == ("changed", 2)
    assert browser.get(ADDRESS).status_code == 200


def test_a_damaged_day_of_a_shipment_leaves_the_others(browser: Browser, full: service.Context) -> None:
    damage(full, Damage("shipments", "dispatch_date = 'soon'", ""), where=f"shipment = '{SHIPMENT}'")
    assert "0422" in browser.get("/").text
    assert f"Shipment {SHIPMENT} cannot be read" in read(browser.get("/").text).text
