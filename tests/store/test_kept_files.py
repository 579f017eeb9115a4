"""Photos and what is made of them, as files; what is pending; what stays of a name, and when photos are old."""

import hashlib
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from receiving.errors import NotFound, StoreError
from receiving.model import (
    AuditLine,
    AuditWanted,
    CartonSeen,
    Manifest,
    PhotoReading,
    Place,
    Receipt,
    ShipmentLink,
    ShownReceipt,
)
from receiving.store import ActionRecord, ApiToken, DocumentKind, PhotoFolder, ShownFolder, Store
from receiving.store.actions import NEWEST, Purpose
from receiving.store.erasing import ERASABLE, _pattern
from tests.store.test_store import MANIFEST, NOW, READ
from tests.store.test_webhook_rows import HOOK

HOUR = timedelta(hours=1)
DATA = b"bytes of a photo"
SHA = hashlib.sha256(DATA).hexdigest()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
        yield store


# --- photos --------------------------------------------------------------------------------------------------------


@pytest.fixture
def photos(tmp_path: Path) -> PhotoFolder:
    return PhotoFolder(tmp_path / "photos")


def test_a_photo_is_kept_under_its_hash_and_read_back(photos: PhotoFolder) -> None:
    assert photos.keep(DATA) == SHA
    assert photos.path(SHA) == photos.folder / SHA[:2] / SHA
    assert photos.read(SHA) == DATA
    assert photos.size_bytes(SHA) == len(DATA)
    assert [path.name for path in photos.path(SHA).parent.iterdir()] == [SHA], "nothing half written is left"


def test_a_damaged_photo_is_named_and_kept_anew_when_it_comes_again(photos: PhotoFolder) -> None:
    photos.keep(DATA)
    photos.path(SHA).write_bytes(b"other")
    assert not photos.is_sound(SHA)
    with pytest.raises(NotFound, match="was damaged in the data folder"):
        photos.read(SHA)
    photos.keep(DATA)
    assert photos.is_sound(SHA)


def test_a_sound_photo_is_not_written_again(photos: PhotoFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    photos.keep(DATA)
    monkeypatch.setattr("receiving.store.photos.write_whole", lambda *_: pytest.fail("written again"))
    assert photos.keep(DATA) == SHA


def test_a_photo_that_is_gone_is_said_to_be_so(photos: PhotoFolder) -> None:
    assert (photos.is_sound(SHA), photos.size_bytes(SHA)) == (False, 0)
    with pytest.raises(NotFound, match=f"The photo {SHA[:12]}… is not in the data folder"):
        photos.read(SHA)
    photos.remove(SHA)
    photos.keep(DATA)
    photos.remove(SHA)
    assert not photos.path(SHA).exists()


def test_what_the_system_refuses_is_said_with_the_folder(photos: PhotoFolder) -> None:
    photos.path(SHA).mkdir(parents=True)
    with pytest.raises(StoreError, match="could not be read from the data folder: Is a directory") as raised:
        photos.read(SHA)
    assert str(photos.folder) in str(raised.value)
    with pytest.raises(StoreError, match="The photo could not be kept: Is a directory"):
        photos.keep(DATA)
    assert [path.name for path in photos.path(SHA).parent.iterdir()] == [SHA]


def test_pictures_are_kept_by_size_and_go_with_their_photo(tmp_path: Path) -> None:
    shown = ShownFolder(tmp_path / "deep" / "shown")
    assert shown.read(SHA, 320) is None
    shown.keep(SHA, 320, b"small")
    shown.keep(SHA, 1600, b"large")
    other = SHA[:2] + "0" * 62
    shown.keep(other, 320, b"another photo's")
    assert (shown.read(SHA, 320), shown.read(SHA, 1600)) == (b"small", b"large")
    assert sorted(path.name for path in (shown.folder / SHA[:2]).iterdir()) == sorted(
        [f"{SHA}-320.jpg", f"{SHA}-1600.jpg", f"{other}-320.jpg"]
    )
    shown.remove(SHA)
    assert (shown.read(SHA, 320), shown.read(other, 320)) == (None, b"another photo's")


@pytest.mark.parametrize("in_the_way", ["folder", "target"])
def test_a_picture_that_cannot_be_kept_is_made_again_another_time(tmp_path: Path, in_the_way: str) -> None:
    shown = ShownFolder(tmp_path / "shown")
    if in_the_way == "folder":
        shown.folder.write_text("a file")
    else:
        (shown.folder / SHA[:2] / f"{SHA}-320.jpg").mkdir(parents=True)
    shown.keep(SHA, 320, b"small")
    assert shown.read(SHA, 320) is None
    assert not list(tmp_path.rglob(".incoming-*"))


# --- what is pending -----------------------------------------------------------------------------------------------


def test_what_was_shown_is_kept_under_its_key_in_place_of_what_was_before(store: Store) -> None:
    assert store.pending(Purpose.IMPORT, "k") is None
    store.add_pending(Purpose.IMPORT, "k", b"one", shown_at=NOW, name="m.csv", detail="d")
    store.add_pending(Purpose.RECEIPT, "k", b"counts", shown_at=NOW)
    store.add_pending(Purpose.IMPORT, "k", b"two", shown_at=NOW, name="n.csv", detail="e")
    found = store.pending(Purpose.IMPORT, "k")
    assert found is not None and (found.name, found.detail, found.body) == ("n.csv", "e", b"two")
    other = store.pending(Purpose.RECEIPT, "k")
    assert other is not None and (other.name, other.body) == ("", b"counts")


@pytest.mark.parametrize(("purpose", "most"), [(Purpose.IMPORT, 16), (Purpose.RECEIPT, 2048)])
def test_the_newest_of_each_are_kept(store: Store, purpose: Purpose, most: int) -> None:
    assert NEWEST[purpose] == most
    for n in range(most + 1):
        store.add_pending(purpose, f"k{n}", b"x", shown_at=NOW)
    assert store.pending(purpose, "k0") is None
    assert store.pending(purpose, "k1") is not None and store.pending(purpose, f"k{most}") is not None


# --- names and ages ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("Ida Berg", "#"),
        ("by Ida Berg, and Ida Berg.", "by #, and #."),
        ("Ida Bergen", "Ida Bergen"),
        ("Frida Berg", "Frida Berg"),
        ("ida berg", "ida berg"),
        ("(Ida Berg)", "(#)"),
    ],
)
def test_a_name_is_found_as_whole_words(text: str, changed: str) -> None:
    assert _pattern("Ida Berg").sub("#", text) == changed


def test_a_name_is_found_as_it_stands_in_json() -> None:
    assert _pattern('Ida "B" Berg').sub("#", r'{"by":"Ida \"B\" Berg"}') == '{"by":"#"}'


def add_photo(store: Store, shipment: str, photo: str, *, hours: int = 0, by: str = "Ada", read: bool = True) -> None:
    store.add_photo(shipment, photo, name="p.jpg", added_at=NOW + hours * HOUR, place=Place.DOCK, by=by)
    if read:
        store.finish_photo(shipment, photo, PhotoReading(1, 1, ()), ())


def test_a_photo_is_as_old_as_the_last_that_happened_to_its_shipments(store: Store) -> None:
    undated = replace(MANIFEST, shipment="S-2", dispatch_date=None)
    store.add_revisions([(undated, 0, ())], source="m.csv", imported_at=NOW)
    add_photo(store, "S-1", "a" * 64)
    add_photo(store, "S-2", "a" * 64)
    add_photo(store, "S-2", "b" * 64, hours=3)
    add_photo(store, "S-2", "c" * 64, read=False)
    visit_ends = NOW.replace(month=3, day=9, hour=23, minute=59, second=59)
    assert store.last_days() == {"a" * 64: (visit_ends, NOW), "b" * 64: (NOW + 3 * HOUR,)}
    store.add_reads("S-2", [replace(READ, read_at=NOW + 5 * HOUR)])
    assert store.last_days()["a" * 64] == (visit_ends, NOW + 5 * HOUR)
    assert MANIFEST.dispatch_date == date(2026, 3, 9)


def test_what_was_pruned_is_remembered_until_it_comes_again(store: Store) -> None:
    assert store.pruned_photos() == {}
    store.add_pruned("a", NOW)
    store.add_pruned("a", NOW + HOUR)
    store.add_pruned("b", NOW + HOUR)
    assert store.pruned_photos() == {"a": NOW, "b": NOW + HOUR}
    store.end_pruned("a")
    assert store.pruned_photos() == {"b": NOW + HOUR}


def test_a_name_is_taken_out_of_every_table_that_may_hold_one(store: Store) -> None:
    name, shown = "Ida Berg", ShownReceipt("S-1", "0417", 1, 2, 1, 1, 0, 0, (), "d" * 64)
    store.add_revisions([(MANIFEST, 1, ())], source="m.csv", imported_at=NOW, by=name)
    store.add_reads("S-1", [replace(READ, by=name)])
    store.add_note("S-1", CartonSeen("n-1", NOW, name, "07"))
    store.add_receipt(Receipt(1, NOW, name, "Store manager", "", True, shown))
    add_photo(store, "S-1", "a" * 64, by=name)
    store.add_document(DocumentKind.REQUEST, "R-1", f'{{"by": "{name}"}}', file_name="r.json", added_at=NOW)
    store.add_action(ActionRecord("a-1", "d" * 64, f'{{"by": "{name}"}}'), answered_at=NOW)
    store.add_audit([AuditLine(NOW, name, "rep", "GET rep.shipment", "S-1", "0417", 200, "192.0.2.1", "r-1")])
    store.add_link(ShipmentLink("l-1", "S-1", f"for {name}", name, NOW, NOW + HOUR), "d" * 64)
    store.add_api_token(ApiToken("t-1", "yard", frozenset({"read"}), NOW, name), "d" * 64)
    store.add_webhook(replace(HOOK, created_by=name))
    store.add_event("e1", "shipment_short", "S-1", NOW, {"by": name})
    assert store.name_uses(name) == dict.fromkeys(ERASABLE, 1)
    with store.unguarded():
        store.erase_name(name, "[gone]", lambda text: text, at=NOW)
    assert store.name_uses(name) == {}
    store.forget_freed()
    assert b"Ida" not in store.path.read_bytes()
    assert [line.name for line in store.audit(AuditWanted())] == ["[gone]"]


@pytest.mark.parametrize("name", ["Zoë Ortiz", 'Ann "Bo" Lee', "Ann\\Lee"])
def test_a_name_is_found_and_taken_out_however_a_row_writes_it(store: Store, name: str) -> None:
    """A photo's row holds the name as it is, a read's and an event's as JSON does (RFC 8259, section 7)."""
    store.add_reads("S-1", [replace(READ, by=name)])
    add_photo(store, "S-1", "a" * 64, by=name)
    store.add_webhook(HOOK)
    store.add_event("e1", "shipment_short", "S-1", NOW, {"by": name})
    assert store.name_uses(name) == {"reads": 1, "photos": 1, "webhook_events": 1}
    with store.unguarded():
        store.erase_name(name, "[gone]", lambda text: text, at=NOW)
    assert store.name_uses(name) == {}
    store.forget_freed()
    assert name.encode() not in store.path.read_bytes() and name.split()[0].encode() not in store.path.read_bytes()
    assert [read.by for read in store.reads("S-1")] == ["[gone]"]
    assert store._rows("SELECT by FROM photos") == [{"by": "[gone]"}]


def test_a_name_is_counted_by_table_and_shipment_and_taken_out_of_each_row(store: Store) -> None:
    named = Manifest("S-2", "0417", MANIFEST.cartons)
    store.add_revisions([(named, 0, ())], source="m.csv", imported_at=NOW, by="Ida Berg")
    store.add_reads("S-1", [replace(READ, by="Ida Berg")])
    add_photo(store, "S-1", "a" * 64, by="Ida Bergen")
    assert store.name_uses("Ida Berg") == {"reads": 1, "manifest_revisions": 1}
    assert store.shipments_with_name("Ida Berg") == ("S-1", "S-2")
    before = store.shipment("S-1").version
    store._db.execute("DELETE FROM stale_rows")
    with store.unguarded():
        store.erase_name("Ida Berg", "[gone]", lambda text: text, at=NOW)
    assert store.name_uses("Ida Berg") == {}
    assert [read.by for read in store.reads("S-1")] == ["[gone]"]
    assert store.shipment("S-1").version == before + 1
    assert store.stamps("S-1", "0417").erasures == 1
    assert set(store.stale_rows(100)) == {"S-1", "S-2"}, "rows of lists that hold the name are made anew"
    with pytest.raises(sqlite3.IntegrityError, match="reads are append-only"):
        store._db.execute("UPDATE reads SET read = ''")
