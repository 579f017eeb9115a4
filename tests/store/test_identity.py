"""Which database is ours, which is another's, which is too new; and who may make one."""

import sqlite3
import stat
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from receiving.errors import StoreError
from receiving.model import Manifest
from receiving.store import Store
from receiving.store.connection import APPLICATION_ID, schema_version

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "receiving.sqlite"


def make(path: Path) -> None:
    with Store(path) as store:
        store.add_revisions([(Manifest("S-1", "0417", ()), 0, ())], source="m.csv", imported_at=NOW)


def run(path: Path, *statements: str) -> None:
    path.parent.mkdir(exist_ok=True)
    with closing(sqlite3.connect(path)) as file:
        for statement in statements:
            file.execute(statement)
        file.commit()


def asked(path: Path, pragma: str) -> int:
    with closing(sqlite3.connect(path)) as file:
        return int(file.execute(f"PRAGMA {pragma}").fetchone()[0])


def test_a_new_database_says_whose_it_is_and_how_new(path: Path) -> None:
    make(path)
    assert (asked(path, "application_id"), asked(path, "user_version")) == (APPLICATION_ID, schema_version())


def test_only_its_owner_may_read_a_new_data_folder(path: Path) -> None:
    make(path)
    with Store(path) as store:
        store.add_document("kit", "", "x", file_name="k", added_at=NOW)  # type: ignore[arg-type]
        modes = {each.name: stat.S_IMODE(each.stat().st_mode) for each in path.parent.iterdir()}
    assert set(modes.values()) == {0o600}
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_database_that_others_could_read_is_closed_to_them(path: Path) -> None:
    make(path)
    path.chmod(0o644)
    Store(path).close()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("there", ["nothing", "a folder", "an empty file"])
def test_a_folder_without_a_database_is_not_made_into_one(path: Path, there: str) -> None:
    if there != "nothing":
        path.parent.mkdir()
    if there == "an empty file":
        path.touch()
    with pytest.raises(StoreError, match="There is no data of this service"):
        Store(path, create=False)
    assert not path.exists() or path.stat().st_size == 0
    assert path.parent.exists() == (there != "nothing")


def test_another_programs_database_is_refused_and_left_as_it_is(path: Path) -> None:
    run(path, "CREATE TABLE invoices (number INTEGER)", "INSERT INTO invoices VALUES (7)")
    before = path.read_bytes()
    for create in (True, False):
        with pytest.raises(StoreError, match=r"is another program's database; nothing in it was changed\."):
            Store(path, create=create)
    assert path.read_bytes() == before
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_another_programs_database_with_its_own_id_is_refused(path: Path) -> None:
    run(path, "CREATE TABLE fossil (x)", "PRAGMA application_id = 252006674", "PRAGMA journal_mode = WAL")
    with pytest.raises(StoreError, match="another program's database"):
        Store(path)


@pytest.mark.parametrize(
    "mark", ["PRAGMA user_version = 9999", "INSERT INTO _sqlite_migrations VALUES (99, 'receiving', 'm999_x', '')"]
)
def test_data_of_a_newer_version_is_refused(path: Path, mark: str) -> None:
    make(path)
    run(path, mark, "PRAGMA user_version" if "9999" in mark else "PRAGMA user_version = 1")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="was made by a newer version"):
        Store(path)
    assert path.read_bytes() == before


def test_a_database_of_this_very_version_that_lost_its_id_is_opened(path: Path) -> None:
    make(path)
    run(path, "PRAGMA application_id = 0", f"PRAGMA user_version = {schema_version()}")
    with Store(path, create=False) as store:
        assert store.shipment("S-1").store == "0417"
    run(path, "PRAGMA application_id = 0", f"PRAGMA user_version = {schema_version() + 1}")
    with pytest.raises(StoreError, match="was made by a newer version"):
        Store(path, create=False)


def test_a_database_from_before_the_id_is_known_by_its_migrations(path: Path) -> None:
    make(path)
    run(path, "PRAGMA application_id = 0", "PRAGMA user_version = 0")
    with Store(path, create=False) as store:
        assert store.shipment("S-1").store == "0417"
    assert (asked(path, "application_id"), asked(path, "user_version")) == (APPLICATION_ID, schema_version())


def test_a_message_for_a_page_names_no_path_of_the_server(path: Path) -> None:
    path.parent.mkdir()
    path.write_bytes(b"not a database, just text that is long enough to be looked at" * 20)
    with pytest.raises(StoreError) as fault:
        Store(path)
    assert str(path.parent) not in str(fault.value.message) + str(fault.value.next_step)
    assert str(path) in str(fault.value)
