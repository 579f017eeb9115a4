"""Names that stand in data folders out there, and what migrations of older data leave behind: neither ever changes."""

import sqlite3
from contextlib import closing
from enum import StrEnum
from pathlib import Path

import pytest

from receiving.model import Place, Source
from receiving.model.notes import NOTE_KINDS
from receiving.store import DocumentKind, PhotoStatus, Store, check_data
from receiving.store.records import COLUMNS, RevisionOrigin, is_as_stored, row_digest
from tests.store.test_migrations import as_of


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
