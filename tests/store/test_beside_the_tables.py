"""What is beside the tables: whose the file is, who waits to write, what is said of a fault, what is set aside."""

import errno
import sqlite3
import stat
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from receiving.errors import StoreError
from receiving.model import Manifest
from receiving.store import Anchor, Damage, DamageKind, Store
from receiving.store import connection as waiting_module
from receiving.store.checking import first_words
from receiving.store.connection import Waiting, _advice, _close_to_others, advice_on, waiting_at
from receiving.store.records import SetAside
from tests.store.test_store import MANIFEST, NOW, READ


@pytest.fixture
def aside() -> list[SetAside]:
    return []


@pytest.fixture
def store(tmp_path: Path, aside: list[SetAside]) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite", put_aside=aside.append) as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
        yield store


# --- the file ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after"),
    [(0o644, 0o600), (0o640, 0o600), (0o604, 0o600), (0o601, 0o600), (0o777, 0o700), (0o600, 0o600)],
)
def test_a_file_is_closed_to_everybody_but_its_owner(tmp_path: Path, before: int, after: int) -> None:
    path = tmp_path / "file"
    path.touch()
    path.chmod(before)
    _close_to_others(path)
    assert stat.S_IMODE(path.stat().st_mode) == after


def test_an_anchor_keeps_the_log_open_until_it_is_closed(tmp_path: Path) -> None:
    path, log = tmp_path / "receiving.sqlite", tmp_path / "receiving.sqlite-wal"
    with Store(path):
        pass
    anchor = Anchor()
    anchor.hold(path)
    with Store(path) as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
    assert log.exists() and log.stat().st_size > 0, "the last connection but the anchor was closed"
    anchor.close()
    assert not log.exists()
    anchor.hold(path)
    with Store(path) as store:
        store.add_reads("S-1", [READ])
    assert not log.exists(), "once closed it holds nothing"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "Free some space"),
        (errno.EDQUOT, "Free some space"),
        (errno.EMFILE, "Too much is going on at once"),
        (errno.ENFILE, "Too much is going on at once"),
        (errno.EIO, "The disk is failing"),
        (errno.EACCES, "Check that the data folder can be written to"),
    ],
)
def test_what_the_file_system_refuses_comes_with_the_next_step(code: int, words: str) -> None:
    assert str(advice_on(OSError(code, ""))).startswith(words)


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ("database is locked", "Another program holds it"),
        ("database or disk is full", "The disk is full"),
        ("disk I/O error", "The disk is failing"),
    ],
)
def test_what_sqlite_refuses_comes_with_the_next_step(fault: str, words: str) -> None:
    assert str(_advice(fault)).startswith(words)


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (
            Damage(DamageKind.ROW_ALTERED, "reads", "0123456789abcdef", detail="digest"),
            "reads 0123456789ab: altered after it was stored: digest",
        ),
        (Damage(DamageKind.PHOTO_MISSING, "photos", "p"), "photos p: the photo's file is missing"),
        (Damage(DamageKind.DATABASE, ""), "the database itself is damaged"),
    ],
)
def test_the_first_damage_is_named_in_an_error(damage: Damage, words: str) -> None:
    assert str(first_words((damage, Damage(DamageKind.SCHEMA, "other")))) == words


# --- who waits -----------------------------------------------------------------------------------------------------


def test_few_may_wait_once_one_has_waited_long(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr(waiting_module.time, "monotonic", lambda: clock[0])
    who = iter(range(99))
    monkeypatch.setattr(waiting_module.threading, "get_ident", lambda: next(who))
    waiting = Waiting()
    inside = [waiting.one_more() for _ in range(waiting_module.MOST_WAITING)]
    for each in inside:
        each.__enter__()
    with waiting.one_more():
        pass
    clock[0] += 1.0
    with waiting.one_more():
        pass
    clock[0] += 0.1
    with pytest.raises(StoreError, match="The database is busy; nothing was stored"), waiting.one_more():
        pass
    inside[0].__exit__(None, None, None)
    with waiting.one_more():
        pass


def test_one_writes_at_a_time_and_gives_up_after_its_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waiting_module, "LONGEST_TURN_S", 0.05)
    waiting = Waiting()
    refused: list[StoreError] = []

    def write() -> None:
        try:
            with waiting.in_turn():
                pass
        except StoreError as fault:
            refused.append(fault)

    with waiting.in_turn():
        other = threading.Thread(target=write)
        other.start()
        other.join()
    assert len(refused) == 1
    write()
    assert len(refused) == 1, "the turn is given back"
    assert waiting_at("one") is waiting_at("one") is not waiting_at("two")


# --- rows ----------------------------------------------------------------------------------------------------------


def other_read(number: int) -> object:
    return replace(READ, read_id=f"6f1c2d2e-0000-4000-8000-00000000000{number}", raw=f"raw {number}")


def test_a_row_that_cannot_be_read_is_set_aside_by_name_and_the_others_stay(
    store: Store, aside: list[SetAside]
) -> None:
    store.add_reads("S-1", [READ, other_read(2)])  # type: ignore[list-item]
    with sqlite3.connect(store.path) as file:
        for (name,) in file.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'reads'"
        ).fetchall():
            file.execute(f"DROP TRIGGER {name}")
        file.execute("UPDATE reads SET read = replace(read, 'scanner', 'telepathy') WHERE read_id = ?", [READ.read_id])
    assert store.reads("S-1") == (other_read(2),)
    assert [(each.table, each.shipment, each.name) for each in aside] == [("reads", "S-1", READ.read_id)]
    assert "'telepathy'" in aside[0].fault, "what is wrong with it is said"


def test_reads_are_counted_all_or_among_some(store: Store) -> None:
    store.add_reads("S-1", [READ, other_read(2), other_read(3)])  # type: ignore[list-item]
    second = other_read(2).read_id  # type: ignore[attr-defined]
    assert store.count_reads("S-1") == 3
    assert store.count_reads("S-1", among=[second, "elsewhere"]) == 1
    assert store.count_reads("S-1", among=[]) == 0
    assert store.count_reads("S-2") == 0
    assert store.reads_between("S-1", 1, 2) == (other_read(2),)


@pytest.mark.parametrize(
    ("term", "found"),
    [
        ("07", {"S-1"}),
        ("tags-8", {"S-1"}),
        ("TAGS-8", {"S-1"}),
        ("567897", {"S-1"}),
        ("67897", set()),
        ("106141411234567897", {"S-1"}),
        ("7", set()),
    ],
)
def test_a_shipment_is_found_by_a_carton_or_the_end_of_a_code(store: Store, term: str, found: set[str]) -> None:
    store.add_revisions([(Manifest("S-2", "0417", ()), 0, ())], source="m.csv", imported_at=NOW)
    assert store.shipments_with_term(term) == found
