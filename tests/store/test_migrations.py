"""Data of every earlier version is brought up to date whole, and what a migration did never changes afterwards."""

import hashlib
import sqlite3
from contextlib import closing
from enum import StrEnum
from pathlib import Path

import pytest
from sqlite_utils import Database

from receiving.errors import StoreError
from receiving.model import CartonPlace, Place, Source
from receiving.model.notes import NOTE_KINDS
from receiving.store import DocumentKind, PhotoStatus, Store, check_data
from receiving.store.connection import schema_names, schema_version
from receiving.store.manifests import codes_of
from receiving.store.records import COLUMNS, RevisionOrigin, is_as_stored, row_digest
from receiving.store.schema import migrations
from tests.service.conftest import picture

FIRST = Path(__file__).with_name("first_version.sql")
PHOTO = "f9378b0b860b518675fb75021ec87a1629e37f8fc7291f2034f784dba461e0f0"
VERSIONS = range(1, schema_version())

SCHEMAS = {
    1: "b8a48cab7ecf7675",
    2: "0ea34e093982b6ea",
    3: "e51f68aaed8a655b",
    4: "677a9ae2cfb587da",
    5: "ddcbe220b69ba9b9",
    6: "eae478bbd191f612",
    7: "1a17e02d5f34574e",
    8: "15c8969ce35b3bbb",
    9: "473bef3ff4d9c93c",
    10: "7c2d75952c764561",
    11: "83137982bce384bc",
    12: "43f76cafc72dc6a4",
    13: "9f9418f9e42a4253",
    14: "9f9418f9e42a4253",
    15: "2c44dc182ef26ab5",
    16: "033dd420ca48b71b",
    17: "fe0b02bdc939ce3a",
    18: "ca7892224d9aa3ed",
    19: "e4f1f24963f67898",
    20: "1c36477510038be6",
    21: "1c9a3ab528855f78",
    22: "49387738ca8fc37d",
    23: "02d26e92b57e39a9",
    24: "184b198587ab009f",
    25: "4f3b4bae94c219aa",
    26: "70e9e2aa0110cce2",
    27: "b05d0bbddebd372a",
    28: "8e332ffebd7855ff",
    29: "e969e6d0391c16b8",
    30: "6e107be58257026a",
}
"""SHA-256 of the schema after each migration, the newest aside: a database out there has exactly this one."""


def as_of(version: int, path: Path) -> Path:
    """A database of this version: the first one's, which was brought up to date at each version until this."""
    with closing(sqlite3.connect(path, isolation_level=None)) as file:
        file.executescript(FIRST.read_text())
        if version > 1:
            following = schema_names()[version : version + 1]
            migrations.apply(Database(file, execute_plugins=False), stop_before=following)
    return path


def schema(path: Path) -> str:
    with closing(sqlite3.connect(path)) as file:
        made = file.execute(
            "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL AND tbl_name != '_sqlite_migrations'"
            " ORDER BY type, name"
        )
        return hashlib.sha256(repr(made.fetchall()).encode()).hexdigest()[:16]


def add(path: Path, table: str, **row: object) -> None:
    """A row as this version of the schema takes it."""
    with closing(sqlite3.connect(path)) as file:
        names = {each[1] for each in file.execute(f"PRAGMA table_info({table})")}
        if "digest" in names:
            whole = {"action_id": "", **row}
            row["digest"] = row_digest(table, {name: whole.get(name) for name in COLUMNS[table][1]})
        marks = ", ".join("?" * len(row))
        file.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})", list(row.values()))
        file.commit()


@pytest.mark.parametrize("version", sorted(SCHEMAS))
def test_a_migration_that_is_out_there_never_changes(version: int, tmp_path: Path) -> None:
    assert schema(as_of(version, tmp_path / "receiving.sqlite")) == SCHEMAS[version]


@pytest.mark.parametrize("version", VERSIONS)
def test_data_of_every_version_is_all_there_and_whole(version: int, tmp_path: Path) -> None:
    path = as_of(version, tmp_path / "receiving.sqlite")
    at = "2026-03-02T10:00:00.000000+00:00"
    note = '{"note_id":"9c1f","noted_at":"2026-03-02T10:00:00Z","by":"Bo","carton":"03","place":"dock"}'
    add(path, "notes", note_id="9c1f", shipment="S-1", kind="carton_place", noted_at=at, note=note)
    file = tmp_path / "photos" / PHOTO[:2] / PHOTO
    file.parent.mkdir(parents=True)
    file.write_bytes(picture())
    with Store(path, create=False) as store:
        revision, (first, second), receipt = store.revision("S-1"), store.reads("S-1"), store.receipt("S-1", 1)
        assert [(c.carton, str(c.sscc)) for c in revision.manifest] == [
            ("02", "395200000000000012"),
            ("03", "395200000000000029"),
        ]
        assert (revision.source, revision.origin, revision.by) == ("m.csv", "file", "")
        assert (first.raw, first.photo, second.raw) == ("00395200000000000012", PHOTO, "(00)395200000000000029")
        assert [(type(n), n.by, n.seq) for n in store.notes("S-1")] == [(CartonPlace, "Ada", 1), (CartonPlace, "Bo", 2)]
        assert store.notes("S-1")[0].place is Place.OVERHEAD  # type: ignore[attr-defined]
        assert (receipt.name, receipt.shown.received) == ("Grace", 2)
        assert store.shipments_with_codes(["395200000000000029"]) == ("S-1",)
        assert store.photo("S-1", PHOTO).reading is not None
    report = check_data(path, tmp_path / "photos")
    assert report.whole, report.damages


@pytest.mark.parametrize("version", VERSIONS)
def test_a_version_is_checked_without_being_brought_up_to_date(version: int, tmp_path: Path) -> None:
    path = as_of(version, tmp_path / "receiving.sqlite")
    before = path.read_bytes()
    report = check_data(path, tmp_path / "photos")
    assert [damage.kind for damage in report.damages] == ["photo_missing"]
    assert path.read_bytes() == before


def test_a_step_that_fails_leaves_the_version_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = as_of(2, tmp_path / "receiving.sqlite")
    before = schema(path)

    def fails(db: Database) -> None:
        db.execute("CREATE TABLE half (x)")
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(migrations._migrations[3], "fn", fails)
    with pytest.raises(StoreError, match="disk I/O error"):
        Store(path)
    assert schema(path) == before
    monkeypatch.undo()
    with Store(path) as store:
        assert len(store.reads("S-1")) == 2


def test_a_carton_imported_before_is_found_by_every_form_of_its_number(tmp_path: Path) -> None:
    path = as_of(13, tmp_path / "receiving.sqlite")
    with closing(sqlite3.connect(path)) as file:
        before = {code for (code,) in file.execute("SELECT code FROM carton_codes")}
        file.execute("DELETE FROM carton_codes WHERE code = (SELECT min(code) FROM carton_codes)")
        file.commit()
    with Store(path) as store:
        wanted = {code for each in store.shipments() for code in codes_of(store.revision(each.shipment).manifest)}
    with closing(sqlite3.connect(path)) as file:
        after = {code for (code,) in file.execute("SELECT code FROM carton_codes")}
    assert before and after == wanted | before


# --- names that stand in data folders out there, and what migrations of older data leave behind: neither ever changes


@pytest.mark.parametrize(
    ("kinds", "names"),
    [
        (RevisionOrigin, "file carton_edited restored kit_places request"),
        (PhotoStatus, "waiting read failed"),
        (Source, "photo scanner typed"),
        (Place, "dock back_room overhead sales_floor other"),
    ],
)
def test_a_name_that_is_stored_stays_what_it_was(kinds: type[StrEnum], names: str) -> None:
    assert [each.value for each in kinds] == names.split()


def test_every_kind_of_document_and_note_keeps_its_name() -> None:
    assert {each.value for each in DocumentKind} >= {"layout", "patterns", "kit", "parts", "request", "store"}
    assert {"carton_moved", "carton_place", "carton_seen", "content_counted", "damage_noted", "note_withdrawn"} <= set(
        NOTE_KINDS
    )


@pytest.mark.parametrize("digest", ["", "1", "x.ab", ".ab", "9999.ab", "٣.ab", "99.ab", "0.ab", "-1.ab"])
def test_a_digest_of_no_version_is_none(digest: str) -> None:
    row = {"shipment": "S-1", "number": 1, "confirmed_at": "", "receipt": "", "digest": digest}
    assert not is_as_stored("receipts", row)


@pytest.mark.parametrize("version", sorted(COLUMNS["receipts"]))
def test_a_row_is_as_it_was_stored_by_the_digest_of_any_version(version: int) -> None:
    row: dict[str, object] = {"shipment": "S-1", "number": 1, "confirmed_at": "", "receipt": "", "action_id": ""}
    row["digest"] = row_digest("receipts", row, version)
    assert is_as_stored("receipts", row)
    assert not is_as_stored("receipts", {**row, "number": 2})


def test_a_carton_of_older_data_is_found_by_its_number_and_the_end_of_its_code(tmp_path: Path) -> None:
    path = as_of(5, tmp_path / "receiving.sqlite")
    with Store(path) as store:
        assert store.shipments_with_term("02") == {"S-1"}
        assert store.shipments_with_term("000029") == {"S-1"}
        assert store.shipments_with_term("999999") == frozenset()


def test_accounts_and_the_audit_of_older_data_have_digests_afterwards(tmp_path: Path) -> None:
    path = as_of(23, tmp_path / "receiving.sqlite")
    with closing(sqlite3.connect(path)) as file:
        file.execute(
            "INSERT INTO people (person_id, name, name_key, role, password_hash, created_at)"
            " VALUES ('p1', 'Ada', 'ada', 'coordinator', 'x', '2026-03-02T10:00:00.000000+00:00')"
        )
        file.execute(
            "INSERT INTO audit (seq, at, name, role, action, shipment, store, status, address, request_id)"
            " VALUES (1, '2026-03-02T10:00:00.000000+00:00', 'Ada', 'coordinator', 'GET', '', '', 200, '', 'r')"
        )
        file.commit()
    with Store(path) as store:
        assert [person.name for person in store.people()] == ["Ada"]
    damaged = {damage.table for damage in check_data(path, tmp_path / "photos").damages}
    assert not damaged & {"people", "audit"}
    with closing(sqlite3.connect(path)) as file:
        file.execute("UPDATE people SET role = 'rep'")
        file.commit()
    assert "people" in {damage.table for damage in check_data(path, tmp_path / "photos").damages}
