import sqlite3
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlite_utils import hookimpl
from sqlite_utils.plugins import pm

from receiving.errors import Conflict, NotFound, StoreError
from receiving.messages import message
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    CartonPlace,
    ContentLine,
    Manifest,
    PhotoReading,
    Place,
    RawRead,
    Receipt,
    ShownLine,
    ShownReceipt,
    Source,
    Sscc,
    StoredMessage,
    Symbol,
)
from receiving.store import DocumentKind, PhotoFolder, PhotoStatus, Store
from receiving.wording import from_stored, to_stored

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
QUAD = ((0.0, 0.0), (10.0, 0.0), (10.0, 5.5), (0.0, 5.0))
TRAY = Carton(
    "07",
    CartonKind.TRAY,
    sscc=Sscc("106141411234567897"),
    contents=(ContentLine("Harbor", Address("Harbor", 3, 2), "TR-3", "Tray, 3 wide", 1, "each"),),
    weight_kg=4.25,
)
MANIFEST = Manifest("S-1", "0417", (TRAY, Carton("08", CartonKind.TAGS, barcode="TAGS-8")), date(2026, 3, 9))
READ = RawRead("6f1c2d2e-0000-4000-8000-000000000001", NOW, Source.SCANNER, "00106141411234567897", "]C1")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
        yield store


def test_a_manifest_loads_as_it_was_saved(store: Store) -> None:
    assert store.revision("S-1").manifest == MANIFEST
    assert store.shipment("S-1").dispatch_date == date(2026, 3, 9)


def test_a_read_loads_as_it_was_saved_and_counts_once(store: Store) -> None:
    read = replace(READ, quad_px=QUAD, photo="ab" * 32, guided=True, confidence=0.5, alternatives=("x", "y"))
    assert store.add_reads("S-1", [read, read]) == 1
    assert store.add_reads("S-1", [read]) == 0
    assert store.reads("S-1") == (read,)
    assert store.shipment("S-1").last_read_at == NOW


def test_the_last_read_is_the_newest_in_whatever_order_reads_come(store: Store) -> None:
    late, early = replace(READ, read_id="late"), replace(READ, read_id="early", read_at=NOW - timedelta(hours=1))
    store.add_reads("S-1", [late])
    version = store.shipment("S-1").version
    store.add_reads("S-1", [early])
    assert (store.shipment("S-1").last_read_at, store.shipment("S-1").version) == (NOW, version + 1)
    with sqlite3.connect(store.path) as other:
        agrees = other.execute(
            "SELECT max(read_at) = last_read_at FROM reads JOIN shipments USING (shipment)"
        ).fetchone()
    other.close()
    assert agrees == (1,)


def test_a_read_with_control_characters_is_kept_exactly(store: Store) -> None:
    read = replace(READ, raw="0195\x1d10A\x00\udcff😀".encode("utf-8", "replace").decode())
    store.add_reads("S-1", [read])
    assert store.reads("S-1")[0].raw == read.raw


def test_a_note_loads_as_it_was_saved(store: Store) -> None:
    note = CartonPlace("n-1", NOW, "Ada", "07", Place.OVERHEAD)
    store.add_note("S-1", note)
    store.add_note("S-1", note)
    assert store.notes("S-1") == (note,)


@pytest.mark.parametrize("table", ["reads", "manifest_revisions"])
@pytest.mark.parametrize("deed", ["DELETE FROM {}", "UPDATE {} SET shipment = shipment"])
def test_what_was_seen_cannot_be_changed_or_removed(store: Store, table: str, deed: str) -> None:
    store.add_reads("S-1", [READ])
    with sqlite3.connect(store.path) as other, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        other.execute(deed.format(table))
    other.close()


def test_a_revision_that_follows_an_old_one_is_refused(store: Store) -> None:
    newer = replace(MANIFEST, store="0418")
    store.add_revisions([(newer, 1, (StoredMessage("The store changed."),))], source="m2.csv", imported_at=NOW)
    with pytest.raises(Conflict, match=r"Shipment 'S-1' was changed by someone else meanwhile\."):
        store.add_revisions([(MANIFEST, 1, ())], source="m3.csv", imported_at=NOW)
    assert [r.revision for r in store.revisions("S-1")] == [1, 2]
    assert store.revision("S-1").changes == (StoredMessage("The store changed."),)


def test_what_a_revision_changed_is_said_in_any_language_later_and_what_was_stored_as_text_as_it_is(
    store: Store,
) -> None:
    moved = message("Carton {carton} was removed: {what}.", carton="07", what=message("tray"))
    kept = (StoredMessage("The store changed."), to_stored(moved))
    store.add_revisions([(replace(MANIFEST, cartons=()), 1, kept)], source="m.csv", imported_at=NOW)
    assert [from_stored(each) for each in store.revision("S-1").changes] == ["The store changed.", moved]


def test_of_several_manifests_all_are_stored_or_none(store: Store) -> None:
    other = replace(MANIFEST, shipment="S-2")
    with pytest.raises(Conflict):
        store.add_revisions([(other, 0, ()), (MANIFEST, 9, ())], source="m.csv", imported_at=NOW)
    assert [record.shipment for record in store.shipments()] == ["S-1"]


def test_shipments_are_found_by_the_codes_of_their_current_revision(store: Store) -> None:
    assert store.shipments_with_codes(["106141411234567897", "nothing"]) == ("S-1",)
    store.add_revisions([(replace(MANIFEST, cartons=()), 1, ())], source="m.csv", imported_at=NOW)
    assert store.shipments_with_codes(["106141411234567897"]) == ()


def test_an_unknown_shipment_is_named(store: Store) -> None:
    for call in (lambda: store.shipment("S-9"), lambda: store.add_reads("S-9", [READ])):
        with pytest.raises(NotFound, match=r"There is no shipment 'S-9'\. Check the number"):
            call()
    assert store.reads("S-9") == ()


def test_a_photo_goes_from_waiting_to_read_with_its_reads(store: Store) -> None:
    assert store.add_photo("S-1", "aa", name="a.jpg", added_at=NOW, place=Place.DOCK, by="Ada")
    assert store.waiting_photos() == (("S-1", "aa"),)
    reading = PhotoReading(100, 80, (Symbol("00106141411234567897", "]C1", QUAD, "zxing"),), advice="closer")
    store.finish_photo("S-1", "aa", reading, [replace(READ, photo="aa")])
    assert store.waiting_photos() == ()
    assert store.photo("S-1", "aa").reading == reading
    assert [read.photo for read in store.reads("S-1")] == ["aa"]
    assert not store.add_photo("S-1", "aa", name="again.jpg", added_at=NOW, place=Place.DOCK, by="Ada")


def test_a_photo_that_the_shipment_does_not_have_is_named(store: Store) -> None:
    with pytest.raises(NotFound, match="Shipment 'S-1' has no photo 'aaaaaaaaaaaa'") as fault:
        store.photo("S-1", "a" * 64)
    assert str(fault.value.next_step) == "Choose one from the shipment's page."


def test_a_failed_photo_may_be_sent_again(store: Store) -> None:
    store.add_photo("S-1", "aa", name="a.jpg", added_at=NOW, place=Place.DOCK, by="")
    store.fail_photo("S-1", "aa", "It was too dark.")
    assert store.photo("S-1", "aa").status is PhotoStatus.FAILED
    assert store.add_photo("S-1", "aa", name="a.jpg", added_at=NOW, place=Place.DOCK, by="")
    assert store.photo("S-1", "aa").status is PhotoStatus.WAITING


def test_a_receipt_loads_as_it_was_saved(store: Store) -> None:
    shown = ShownReceipt("S-1", "0417", 1, 2, 1, 1, 0, 0, (ShownLine("07", "received", "Here."),), "d" * 64)
    receipt = Receipt(1, NOW, "Grace", "Store manager", "", True, shown)
    store.add_receipt(receipt)
    assert store.receipts("S-1") == (receipt,)


def test_the_newest_document_counts_and_the_same_text_adds_none(store: Store) -> None:
    for body in ("a", "a", "b"):
        store.add_document(DocumentKind.LAYOUT, "0417", body, file_name="l.toml", added_at=NOW)
    assert [d.body for d in store.documents(DocumentKind.LAYOUT, "0417")] == ["a", "b"]
    assert store.document(DocumentKind.LAYOUT, "0999") is None


def test_every_stored_thing_moves_the_version(store: Store) -> None:
    versions = [store.shipment("S-1").version]
    store.add_reads("S-1", [READ])
    versions.append(store.shipment("S-1").version)
    store.add_note("S-1", CartonPlace("n-1", NOW, "", "07", Place.DOCK))
    versions.append(store.shipment("S-1").version)
    store.add_photo("S-1", "aa", name="a.jpg", added_at=NOW, place=Place.DOCK, by="")
    versions.append(store.shipment("S-1").version)
    assert versions == sorted(set(versions))


def test_eight_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "receiving.sqlite"
    with Store(path) as first:
        first.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
    faults: list[BaseException] = []

    def write(worker: int) -> None:
        try:
            with Store(path) as mine:
                for count in range(12):
                    mine.reads("S-1")
                    mine.add_reads("S-1", [replace(READ, read_id=f"{worker}-{count}")])
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=write, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not faults
    with Store(path) as after:
        assert len(after.reads("S-1")) == 96


def test_a_file_that_is_no_database_is_named_with_the_next_step(tmp_path: Path) -> None:
    path = tmp_path / "receiving.sqlite"
    path.write_bytes(b"not a database, just text that is long enough to be looked at" * 20)
    with pytest.raises(StoreError, match="is damaged or is not a database: file is not a database"):
        Store(path)


def test_a_photo_is_kept_by_its_content_once(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    first, second = folder.keep(b"pixels"), folder.keep(b"pixels")
    assert first == second
    assert folder.read(first) == b"pixels"
    assert len([p for p in tmp_path.rglob("*") if p.is_file()]) == 1
    with pytest.raises(NotFound, match=r"The photo 000000000000… is not in the data folder\."):
        folder.read("0" * 64)


def test_a_document_that_follows_an_older_version_is_refused(store: Store) -> None:
    store.add_document(DocumentKind.KIT, "", "a", file_name="k.csv", added_at=NOW, follows=0)
    with pytest.raises(Conflict, match="Somebody else saved this while you were editing"):
        store.add_document(DocumentKind.KIT, "", "b", file_name="k.csv", added_at=NOW, follows=0)
    assert [document.body for document in store.documents(DocumentKind.KIT, "")] == ["a"]


@pytest.mark.parametrize("revision", [0, -1, 2, 10**30])
def test_a_revision_that_is_not_there_is_named(store: Store, revision: int) -> None:
    with pytest.raises(NotFound, match=f"Shipment 'S-1' has no revision {revision}"):
        store.revision("S-1", revision)


def test_what_is_installed_beside_sqlite_utils_has_no_hand_in_our_database(tmp_path: Path) -> None:
    """A plugin may put functions and settings into each connection of its library."""

    class Meddling:
        @hookimpl
        def prepare_connection(self, conn: sqlite3.Connection) -> None:
            raise AssertionError("a plugin was asked")

    meddling = Meddling()
    pm.register(meddling)
    try:
        with Store(tmp_path / "receiving.sqlite") as store:
            assert store.people() == ()
    finally:
        pm.unregister(meddling)
