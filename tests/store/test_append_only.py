"""What was stored stays: no statement alters, replaces or removes it, and what a fault of the disk alters is found."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from receiving.errors import Conflict, StoreError
from receiving.model import CartonSeen, Manifest, Place, RawRead, Receipt, ShownReceipt, Source
from receiving.store import ActionRecord, DocumentKind, Store

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
READ = RawRead("6f1c2d2e-0000-4000-8000-000000000001", NOW, Source.SCANNER, "00106141411234567897", "]C1")
SHOWN = ShownReceipt("S-1", "0417", 1, 2, 1, 1, 0, 0, (), "d" * 64)
RECEIPT = Receipt(1, NOW, "Grace", "Store manager", "", True, SHOWN)
KEPT = ("manifest_revisions", "reads", "notes", "receipts", "documents", "actions")
KEYS = {
    "manifest_revisions": (("seq",), ("shipment", "revision")),
    "reads": (("seq",), ("shipment", "read_id")),
    "notes": (("seq",), ("shipment", "note_id")),
    "receipts": (("seq",), ("shipment", "number")),
    "documents": (("seq",),),
    "actions": (("action_id",), ("rowid",)),
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        store.add_revisions([(Manifest("S-1", "0417", ()), 0, ())], source="m.csv", imported_at=NOW)
        store.add_reads("S-1", [READ])
        store.add_note("S-1", CartonSeen("n-1", NOW, "Ada", "07"))
        store.add_receipt(RECEIPT)
        store.add_document(DocumentKind.KIT, "", "a", file_name="k.csv", added_at=NOW)
        store.add_action(ActionRecord("a-1", "d" * 64, "{}"), answered_at=NOW)
        yield store


@pytest.fixture
def other(store: Store) -> Iterator[sqlite3.Connection]:
    """Another program's connection, with no setting of ours."""
    with closing(sqlite3.connect(store.path, isolation_level=None)) as other:
        yield other


@pytest.mark.parametrize("table", KEPT)
@pytest.mark.parametrize(
    "deed", ["DELETE FROM {}", "UPDATE {} SET digest = ''", "UPDATE OR REPLACE {} SET digest = 'x'"]
)
def test_nothing_alters_or_removes_a_row(other: sqlite3.Connection, table: str, deed: str) -> None:
    with pytest.raises(sqlite3.IntegrityError, match=f"{table} are append-only"):
        other.execute(deed.format(table))


@pytest.mark.parametrize(("table", "key"), [(table, key) for table in KEPT for key in KEYS[table]])
@pytest.mark.parametrize("verb", ["INSERT OR REPLACE INTO", "REPLACE INTO", "INSERT OR IGNORE INTO"])
def test_nothing_replaces_a_row(other: sqlite3.Connection, table: str, key: tuple[str, ...], verb: str) -> None:
    """By each of its keys alone, the others being new."""
    other.execute("PRAGMA foreign_keys = OFF")
    other.row_factory = sqlite3.Row
    (row,) = other.execute(f"SELECT rowid AS rowid_, * FROM {table}").fetchall()
    before = tuple(row)
    changed = {name: row[name] for name in row.keys() if name not in ("rowid_", "seq")}  # noqa: SIM118 - not a dict
    changed |= {name: _other(row[name]) for name in ("shipment", "revision", "action_id") if name in changed}
    changed |= {name: row["rowid_" if name == "rowid" else name] for name in key}
    names, marks = ", ".join(changed), ", ".join("?" * len(changed))
    with pytest.raises(sqlite3.IntegrityError, match=f"{table} are append-only"):
        other.execute(f"{verb} {table} ({names}) VALUES ({marks})", list(changed.values()))
    assert [tuple(row) for row in other.execute(f"SELECT rowid AS rowid_, * FROM {table}")] == [before]


def _other(value: str | int) -> str | int:
    return value + 7 if isinstance(value, int) else f"{value} 2"


def test_our_own_connection_replaces_no_row_though_the_guard_against_it_is_gone(
    store: Store, other: sqlite3.Connection
) -> None:
    """A REPLACE deletes without asking the guards of deletion unless triggers are recursive (sqlite.org, REPLACE)."""
    other.execute("DROP TRIGGER receipts_no_replace")
    with pytest.raises(sqlite3.IntegrityError, match="receipts are append-only"):
        store._db.execute("INSERT OR REPLACE INTO receipts SELECT * FROM receipts")
    assert store.receipts("S-1") == (RECEIPT,)


def test_a_shipment_and_a_photo_cannot_be_removed(store: Store, other: sqlite3.Connection) -> None:
    store.add_photo("S-1", "aa", name="a.jpg", added_at=NOW, place=Place.DOCK, by="")
    for table in ("shipments", "photos"):
        with pytest.raises(sqlite3.IntegrityError, match=f"{table} stay"):
            other.execute(f"DELETE FROM {table}")


def test_a_read_sent_again_with_other_content_is_refused_by_name(store: Store) -> None:
    with pytest.raises(Conflict, match=rf"The read {READ.read_id} was sent before with other content"):
        store.add_reads("S-1", [replace(READ, read_id="new"), replace(READ, raw="something else")])
    assert store.reads("S-1") == (READ,)


def unguarded(other: sqlite3.Connection, table: str) -> None:
    """What somebody can do who has the file."""
    for (name,) in other.execute(
        "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", [table]
    ).fetchall():
        other.execute(f"DROP TRIGGER {name}")


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("receipt", "replace(receipt, 'Grace', 'Gracy')"),
        ("receipt", "replace(receipt, '2026-03-02', '2026-03-03')"),
        ("confirmed_at", "'2026-03-03T09:30:00.000000+00:00'"),
        ("number", "2"),
    ],
)
def test_a_receipt_whose_name_time_or_number_was_altered_is_not_shown_as_one(
    store: Store, other: sqlite3.Connection, column: str, value: str
) -> None:
    unguarded(other, "receipts")
    other.execute(f"UPDATE receipts SET {column} = {value}")
    with pytest.raises(StoreError, match=r"Receipt \d of shipment 'S-1' was altered after it was stored"):
        store.receipt("S-1", 2 if column == "number" else 1)


def test_after_a_receipt_was_removed_the_next_has_a_number_of_its_own(store: Store, other: sqlite3.Connection) -> None:
    store.add_receipt(replace(RECEIPT, number=2))
    unguarded(other, "receipts")
    other.execute("DELETE FROM receipts WHERE number = 1")
    assert store.next_receipt_number("S-1") == 3
