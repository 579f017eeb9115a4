"""Whatever a disk, a program or a person changes of what was stored, `check` finds."""

import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest, NoData, StoreError
from receiving.model import AuditLine, PhotoReading, Place, Role, Source, Symbol
from receiving.service import DamageKind
from receiving.store import DocumentKind, Store, check_data, checking
from receiving.store.records import row_digest
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import LAYOUT, MANIFEST, picture

QUAD = ((1.0, 1.0), (30.0, 1.0), (30.0, 20.0), (1.0, 20.0))
TRAY_1 = "00395200000000000012"
COLOURS = ("white", "red", "blue")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with some of everything."""
    data, reader = tmp_path_factory.mktemp("whole") / "data", PlannedReader()
    reading = PhotoReading(40, 30, (Symbol(TRAY_1, "]C1", QUAD, "zxing", label=1),))
    reader.readings = dict.fromkeys(("white.png", "red.png"), reading)
    with service.Context(data, reader) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST.encode())
        service.import_layout(ctx, "l.toml", LAYOUT.encode())
        for colour in COLOURS:  # the last one cannot be read
            service.add_photo(ctx, "S-1", f"{colour}.png", picture(colour), place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
        for number in range(30):
            scan = f"carton {number}"
            service.add_scan(ctx, "S-1", scan, place=Place.DOCK, by="Ada", source=Source.TYPED)
        for carton in ("02", "03"):
            service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton=carton, reason="label gone")
        confirm_with_shorts(ctx, "S-1")
        action = "6f1c2d2e-1111-4000-8000-000000000001"
        service.run_once(ctx, action, {}, lambda: {"a": 1}, dict[str, int])
        people(ctx)
    return data


def people(ctx: service.Context) -> None:
    """Accounts with all that is done to them, and lines of the audit."""
    words = "four plain words here"
    ada = service.add_person(ctx, "Ada", Role.COORDINATOR, words)
    bo = service.add_person(ctx, "Bo", Role.REP, words, stores=["0417"])
    service.change_person(ctx, bo.person_id, Role.REP, stores=["0417", "0422"])
    service.set_password(ctx, bo.person_id, "other plain words here")
    service.close_account(ctx, bo.person_id)
    service.open_account(ctx, bo.person_id)
    line = AuditLine(ctx.now(), ada.name, "coordinator", "GET rep.shipment", "S-1", "0417", 200, "192.0.2.1", "r-1")
    service.write_audit(ctx, [line, line])
    service.write_audit(ctx, [line])


@pytest.fixture
def data(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "data"))


def run(data: Path, *statements: str) -> None:
    """What somebody can do who has the file."""
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            file.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert file.execute(statement).rowcount, statement
        file.commit()


def found(data: Path) -> set[tuple[DamageKind, str]]:
    return {(damage.kind, damage.table) for damage in service.check(data).damages}


def test_an_untouched_folder_is_whole_and_everything_was_looked_at(data: Path) -> None:
    report = service.check(data)
    assert report.whole
    assert report.rows == {
        "manifest_revisions": 2,
        "photos": 3,
        "reads": 32,
        "notes": 2,
        "receipts": 1,
        "seals": 1,
        "documents": 1,
        "actions": 1,
        "audit": 9,
        "people": 2,
        "shipments": 2,
    }
    assert report.photos == 3


def test_the_kinds_of_damage_have_the_names_that_programs_read() -> None:
    """They are listed in docs/formats.md, and stand in the JSON of the command."""
    assert set(map(str, DamageKind)) == {
        *("database_damaged", "schema_altered", "row_altered", "row_unreadable", "rows_missing", "rows_disagree"),
        *("photo_altered", "photo_missing"),
    }


ALTERED = (
    ("manifest_revisions", "manifest = replace(manifest, '0417', '0418')"),
    ("manifest_revisions", "by = 'Eve'"),
    ("photos", "name = 'x'"),
    ("photos", "status = 'waiting'"),
    ("reads", "raw = 'x'"),
    ("reads", "read = replace(read, 'Ada', 'Eve')"),
    ("notes", "kind = 'read_rejected'"),
    ("notes", "note = replace(note, 'Ada', 'Eve')"),
    ("receipts", "receipt = replace(receipt, 'Grace', 'Eve')"),
    ("receipts", "confirmed_at = '2026-03-03T09:30:00.000000+00:00'"),
    ("seals", "signature = replace(signature, substr(signature, 1, 1), 'x')"),
    ("seals", "public_key = header"),
    ("documents", "body = body || ' '"),
    ("actions", "answer = '{}'"),
    ("audit", "name = 'Eve'"),
    ("audit", "at = '2026-03-01T09:30:00.000000+00:00'"),
    ("people", "role = 'coordinator', stores = NULL"),
    ("people", "disabled_at = '2026-03-01T09:30:00.000000+00:00'"),
    ("people", "password_hash = 'x'"),
)


@pytest.mark.parametrize(("table", "change"), ALTERED)
def test_a_row_that_was_altered_is_found(data: Path, table: str, change: str) -> None:
    run(data, f"UPDATE {table} SET {change}")
    assert (DamageKind.ROW_ALTERED, table) in found(data)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ("DELETE FROM reads WHERE seq = 7", (DamageKind.ROWS_MISSING, "reads")),
        ("DELETE FROM notes WHERE seq = 1", (DamageKind.ROWS_MISSING, "notes")),
        ("DELETE FROM receipts", (DamageKind.ROWS_MISSING, "receipts")),
        ("UPDATE shipments SET revision = 2", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("UPDATE shipments SET store = '0999'", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("UPDATE shipments SET dispatch_date = '2026-04-01'", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("UPDATE shipments SET programme = 'Spring'", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("UPDATE signing_keys SET key = key || 'a'", (DamageKind.ROWS_DISAGREE, "signing_keys")),
        ("UPDATE signing_keys SET key = substr(key, 2)", (DamageKind.ROWS_DISAGREE, "signing_keys")),
        ("UPDATE signing_keys SET public_key = 'x'", (DamageKind.ROWS_DISAGREE, "signing_keys")),
        ("UPDATE signing_keys SET public_key = public_key || '00'", (DamageKind.ROWS_DISAGREE, "seals")),
        (
            "UPDATE signing_keys SET private_key = '0' || substr(private_key, 1, 63)",
            (DamageKind.ROWS_DISAGREE, "signing_keys"),
        ),
        ("UPDATE signing_keys SET private_key = ''", (DamageKind.ROWS_DISAGREE, "signing_keys")),
        ("UPDATE signing_keys SET retired_at = created_at", (DamageKind.ROWS_DISAGREE, "signing_keys")),
        ("DELETE FROM carton_codes WHERE shipment = 'S-1'", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("DELETE FROM manifest_revisions WHERE seq = 2", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("UPDATE shipments SET voided = 1 WHERE shipment = 'S-1'", (DamageKind.ROWS_DISAGREE, "shipments")),
        ("UPDATE shipments SET shipment = 'S-9' WHERE shipment = 'S-1'", (DamageKind.ROWS_DISAGREE, "reads")),
        (
            "INSERT INTO signing_keys (key, public_key, private_key, created_at) SELECT substr(key, 2) || 'a',"
            " public_key, private_key, created_at FROM signing_keys",
            (DamageKind.ROWS_DISAGREE, "signing_keys"),
        ),
    ],
)
def test_rows_that_went_or_do_not_agree_are_found(data: Path, change: str, expected: tuple[DamageKind, str]) -> None:
    run(data, change)
    assert expected in found(data)


@pytest.mark.parametrize(
    ("table", "column", "was", "now", "fault"),
    [
        ("manifest_revisions", "manifest", '"cartons"', '"boxes"', ""),
        ("reads", "read", '"typed"', '"telepathy"', "telepathy"),
        ("notes", "kind", "carton_seen", "carton_dreamt", "carton_dreamt"),
        ("receipts", "receipt", '"Grace"', "7", "name"),
        ("photos", "reading", '"width', '"height', ""),
    ],
)
def test_a_row_that_is_as_stored_and_cannot_be_read_is_found_with_the_reason(
    data: Path, table: str, column: str, was: str, now: str, fault: str
) -> None:
    """As where a later version wrote it: its digest is right, and this version does not know what it says."""
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        file.row_factory = sqlite3.Row
        row = dict(file.execute(f"SELECT rowid AS at, * FROM {table} WHERE instr({column}, ?)", [was]).fetchone())
    row[column] = row[column].replace(was, now)
    value, digest = row[column].replace("'", "''"), row_digest(table, row)
    run(data, f"UPDATE {table} SET {column} = '{value}', digest = '{digest}' WHERE rowid = {row['at']}")
    damage = next(each for each in service.check(data).damages if each.kind is DamageKind.ROW_UNREADABLE)
    assert (damage.table, damage.shipment) == (table, "S-1")
    assert str(damage.detail) and fault in str(damage.detail)


def test_a_shipment_that_is_voided_by_a_note_agrees_with_it(data: Path) -> None:
    with service.Context(data, PlannedReader()) as ctx:
        service.void_shipment(ctx, "S-1", by="Ada", reason="imported twice")
    assert service.check(data).whole
    run(data, "UPDATE shipments SET voided = 0")
    details = [str(damage.detail) for damage in service.check(data).damages if damage.table == "shipments"]
    assert details == ["a note voids it"]


@pytest.mark.parametrize("table", ["reads", "notes", "photos", "documents", "actions", "audit", "receipts"])
def test_rows_that_went_from_the_end_are_found(data: Path, table: str) -> None:
    guarded(data, f"DELETE FROM {table} WHERE rowid = (SELECT max(rowid) FROM {table})")
    damages = [(damage.kind, damage.table) for damage in service.check(data).damages]
    assert (DamageKind.ROWS_MISSING, table) in damages


def test_a_tail_that_was_cut_and_grew_again_is_found(data: Path) -> None:
    guarded(data, "DELETE FROM reads WHERE seq >= (SELECT max(seq) - 2 FROM reads)")
    with service.Context(data, PlannedReader()) as ctx:
        for number in range(3):
            service.add_scan(ctx, "S-1", f"other {number}", place=Place.DOCK, by="Ada", source=Source.TYPED)
    (damage,) = service.check(data).damages
    assert (damage.kind, damage.table) == (DamageKind.ROWS_MISSING, "reads")
    assert str(damage.detail) == "rows: 32; stored so far: 35"


def test_what_is_not_stored_is_not_counted(data: Path) -> None:
    with service.Context(data, PlannedReader()) as ctx:
        with pytest.raises(BadRequest), ctx.transaction():
            service.add_scan(ctx, "S-1", "one more", place=Place.DOCK, by="Ada", source=Source.TYPED)
            service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="none of them")
        again = "6f1c2d2e-1111-4000-8000-00000000000a"
        for _ in range(2):
            service.add_scan(ctx, "S-1", "twice", place=Place.DOCK, by="Ada", source=Source.TYPED, scan_id=again)
    assert service.check(data).whole


def confirm_again(data: Path, name: str = "Grace") -> int:
    with service.Context(data, PlannedReader()) as ctx:
        return confirm_with_shorts(ctx, "S-1", name=name).number


def guarded(data: Path, *statements: str) -> None:
    """As `run`, with the guards in their places again afterwards."""
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        guards = file.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    run(data, *statements)
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        for (guard,) in guards:
            file.execute(guard)
        file.commit()


def test_after_a_receipt_that_was_removed_the_next_one_is_confirmed_under_a_new_number(data: Path) -> None:
    guarded(data, "DELETE FROM receipts")
    assert confirm_again(data) == 2
    found = [(damage.kind, damage.table, damage.name, damage.shipment) for damage in service.check(data).damages]
    assert found == [
        (DamageKind.ROWS_MISSING, "receipts", "", ""),
        (DamageKind.ROWS_MISSING, "receipts", "1", "S-1"),
    ]


@pytest.mark.parametrize("number", [1, 2])
def test_a_seal_that_is_gone_from_its_receipt_is_found(data: Path, number: int) -> None:
    assert confirm_again(data, "Hopper") == 2
    guarded(data, f"DELETE FROM seals WHERE number = {number}")
    (damage,) = service.check(data).damages
    assert (damage.kind, damage.table, damage.name, damage.shipment) == (
        DamageKind.ROWS_MISSING, "seals", str(number), "S-1",
    )  # fmt: skip


@pytest.mark.parametrize(
    "deed", ["DROP TRIGGER reads_no_update", "DROP TRIGGER receipts_no_replace", "DROP INDEX reads_by_photo"]
)
def test_a_guard_or_an_index_that_was_taken_away_is_found(data: Path, deed: str) -> None:
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        file.execute(deed)
        file.commit()
    (damage,) = service.check(data).damages
    assert (damage.kind, damage.detail) == (DamageKind.SCHEMA, deed.removeprefix("DROP ").lower())


def photo_file(data: Path) -> Path:
    return min((data / "photos").glob("??/*"))


DONE_TO_PHOTOS: tuple[tuple[Callable[[Path], object], DamageKind], ...] = (
    (lambda path: path.unlink(), DamageKind.PHOTO_MISSING),
    (lambda path: path.write_bytes(path.read_bytes()[:-1]), DamageKind.PHOTO_ALTERED),
    (lambda path: path.write_bytes(flipped(path.read_bytes(), 200)), DamageKind.PHOTO_ALTERED),
)


def flipped(data: bytes, bit: int) -> bytes:
    changed = bytearray(data)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


@pytest.mark.parametrize(("deed", "kind"), DONE_TO_PHOTOS)
def test_a_photo_that_went_or_was_altered_is_found(
    data: Path, deed: Callable[[Path], object], kind: DamageKind
) -> None:
    path = photo_file(data)
    deed(path)
    (damage,) = service.check(data).damages
    assert (damage.kind, damage.name, damage.shipment) == (kind, path.name, "S-1")


def test_a_photos_folder_that_is_gone_is_found(data: Path) -> None:
    shutil.rmtree(data / "photos")
    assert [damage.kind for damage in service.check(data).damages] == [DamageKind.PHOTO_MISSING] * 3


def test_flipped_bits_in_what_is_stored_are_found(data: Path, made: Path) -> None:
    """Any bit of a row: a change of what a person said, saw or confirmed."""
    database = (made / "receiving.sqlite").read_bytes()
    rng = random.Random(20261127)
    marks = [b'"Ada"', b"label gone", b"carton 17", b"Grace", b"T-1", b"395200000000000029", b'"read_at"']
    unseen = []
    for number in range(40):
        at = database.find(rng.choice(marks))
        bit = (at + rng.randrange(5)) * 8 + rng.randrange(8)
        (data / "receiving.sqlite").write_bytes(flipped(database, bit))
        try:
            if service.check(data).whole:
                unseen.append(number)
        except StoreError:
            continue
    assert unseen == []


@pytest.mark.parametrize("part", [b"CREATE TABLE notes", b"CREATE TRIGGER ", b"CREATE INDEX "])
def test_a_name_in_the_schema_that_is_not_text_any_more_is_found(data: Path, part: bytes) -> None:
    database = data / "receiving.sqlite"
    whole = database.read_bytes()
    for beyond in range(len(part), len(part) + 60, 5):
        at = whole.index(part) + beyond
        database.write_bytes(flipped(whole, at * 8 + 7))
        with suppress(StoreError):  # a schema that cannot be read at all
            assert not service.check(data).whole


def test_random_bytes_over_a_page_are_found(data: Path) -> None:
    database = data / "receiving.sqlite"
    whole = bytearray(database.read_bytes())
    whole[40_960:49_152] = random.Random(1).randbytes(8192)
    database.write_bytes(whole)
    assert not service.check(data).whole


def test_a_folder_that_is_in_use_is_whole(data: Path) -> None:
    with service.Context(data, PlannedReader()) as ctx, ctx.transaction():
        service.add_scan(ctx, "S-1", "one more", place=Place.DOCK, by="Ada", source=Source.TYPED)
        assert service.check(data).rows["reads"] == 32
        assert service.check(data).whole


def test_checking_a_folder_without_data_makes_none(tmp_path: Path) -> None:
    with pytest.raises(NoData, match="There is no data of this service in this folder"):
        service.check(tmp_path / "nowhere")
    assert list(tmp_path.iterdir()) == []


def test_without_hashing_photos_only_have_to_be_there(data: Path) -> None:
    database, photos = data / "receiving.sqlite", data / "photos"
    assert check_data(database, photos, hash_photos=False).whole
    altered, gone, folder = sorted(photos.glob("??/*"))
    altered.write_bytes(b"other bytes")
    assert check_data(database, photos, hash_photos=False).whole
    gone.unlink()
    folder.unlink()
    folder.mkdir()
    quick = check_data(database, photos, hash_photos=False)
    assert [(damage.kind, damage.name) for damage in quick.damages] == [(DamageKind.PHOTO_MISSING, gone.name)]
    assert {damage.name: damage.kind for damage in check_data(database, photos).damages} == {
        altered.name: DamageKind.PHOTO_ALTERED,
        gone.name: DamageKind.PHOTO_MISSING,
        folder.name: DamageKind.PHOTO_ALTERED,
    }


def test_so_many_damages_are_listed_and_the_others_counted(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert checking.MOST_LISTED == 1000
    for photo in (data / "photos").glob("??/*"):
        photo.unlink()
    for most, listed, more in ((3, 3, 0), (2, 2, 1), (1, 1, 2)):
        monkeypatch.setattr(checking, "MOST_LISTED", most)
        report = check_data(data / "receiving.sqlite", data / "photos")
        assert (len(report.damages), report.more, report.photos) == (listed, more, 3)


def test_a_row_that_names_one_that_is_not_there_is_found(data: Path) -> None:
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        file.execute("INSERT INTO stale_rows VALUES ('S-1', 0) ON CONFLICT DO NOTHING")
        file.execute("INSERT INTO strange_codes VALUES ('KX-7', 'S-9')")
        file.commit()
    report = check_data(data / "receiving.sqlite", data / "photos")
    (damage,) = [each for each in report.damages if each.kind is DamageKind.ROWS_DISAGREE]
    assert (damage.table, str(damage.detail)) == ("strange_codes", "names a row of shipments that is not there")


def test_the_newest_document_of_each_key_counts(tmp_path: Path) -> None:
    now = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
    with Store(tmp_path / "receiving.sqlite") as store:
        for key, body in (("b", "one"), ("a", "two"), ("b", "three")):
            store.add_document(DocumentKind.LAYOUT, key, body, file_name="l", added_at=now)
        store.add_document(DocumentKind.PATTERNS, "", "other kind", file_name="p", added_at=now)
        assert [(each.key, each.body) for each in store.newest_documents(DocumentKind.LAYOUT)] == [
            ("a", "two"), ("b", "three"),
        ]  # fmt: skip
        assert store.keys_of(DocumentKind.LAYOUT) == {"a", "b"}
        assert store.document(DocumentKind.LAYOUT, "c") is None
