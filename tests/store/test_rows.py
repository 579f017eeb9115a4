"""Keys, seals, tokens, sign-ins and the audit as they are stored: what is given back, and in which order."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from receiving.errors import Conflict, NotFound, StoreError
from receiving.model import EVERYTHING, AuditLine, AuditWanted, DataScope, Manifest, Seal
from receiving.store import ApiToken, SigningKey, Store
from receiving.store.records import from_text
from tests.store.test_store import MANIFEST, NOW, READ

HOUR = timedelta(hours=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
        yield store


def test_a_new_key_retires_the_one_before_and_its_private_half_goes(store: Store) -> None:
    assert store.signing_keys() == ()
    first, second = SigningKey("k1", "p1", "s1", NOW), SigningKey("k2", "p2", "s2", NOW + HOUR)
    store.add_signing_key(first)
    assert store.signing_keys() == (first,)
    store.add_signing_key(second)
    assert store.signing_keys() == (second, replace(first, private_key="", retired_at=NOW + HOUR))
    third = SigningKey("k3", "p3", "s3", NOW + 2 * HOUR)
    store.add_signing_key(third)
    assert [(key.key, key.retired_at) for key in store.signing_keys()] == [
        ("k3", None), ("k2", NOW + 2 * HOUR), ("k1", NOW + HOUR),
    ]  # fmt: skip


def test_the_evidence_is_that_of_the_first_reads_and_notes(store: Store) -> None:
    assert store.evidence_counts("S-1") == (0, 0)
    none = store.evidence_digest("S-1", 0, 0)
    store.add_reads("S-1", [READ])
    one = store.evidence_digest("S-1", 1, 0)
    store.add_reads("S-1", [replace(READ, read_id="6f1c2d2e-0000-4000-8000-000000000002", raw="other")])
    assert store.evidence_counts("S-1") == (2, 0)
    assert store.evidence_digest("S-1", 0, 0) == none != one
    assert store.evidence_digest("S-1", 1, 0) == one != store.evidence_digest("S-1", 2, 0)
    assert store.receipt_text("S-1", 1) == "" and store.sealed_records("S-1") == ()


def test_a_seal_belongs_to_a_shipment_that_is_there(store: Store) -> None:
    with pytest.raises(NotFound, match="There is no shipment 'S-9'"):
        store.add_seal("S-9", 1, Seal("h", "s", "p"))


TOKEN = ApiToken(
    "t1",
    "programme",
    frozenset({"read", "scan"}),
    NOW,
    "Ada",
    None,
    DataScope(frozenset({"0417"}), frozenset({"Spring reset"})),
)


def test_a_token_is_found_by_its_digest_and_stays_when_it_is_ended(store: Store) -> None:
    other = replace(TOKEN, token_id="t2", created_at=NOW + HOUR, sees=EVERYTHING)
    store.add_api_token(TOKEN, "d1")
    store.add_api_token(other, "d2")
    assert (store.api_token("d1"), store.api_token("d2"), store.api_token("d3")) == (TOKEN, other, None)
    assert [token.token_id for token in store.api_tokens()] == ["t2", "t1"]
    assert store.revoke_api_token("t1", NOW + 2 * HOUR)
    found = store.api_token("d1")
    assert found is not None and found.revoked_at == NOW + 2 * HOUR
    assert not store.revoke_api_token("t1", NOW + 3 * HOUR), "it was ended"
    assert not store.revoke_api_token("t9", NOW)


def test_wrong_sign_ins_are_counted_by_name_and_address_for_a_while(store: Store) -> None:
    for name, address, at in (("Ada", "a", NOW), ("ADA", "a", NOW + HOUR), ("Bo", "a", NOW), ("Ada", "b", NOW)):
        store.add_failed_sign_in(name, address, at, forget_before=NOW - HOUR)
    assert store.failed_sign_ins("a", NOW) == (("ada", NOW), ("bo", NOW), ("ada", NOW + HOUR))
    assert store.failed_sign_ins("a", NOW + HOUR) == (("ada", NOW + HOUR),)
    store.forget_failed_sign_ins("aDa", "a")
    assert [name for name, _ in store.failed_sign_ins("a", NOW)] == ["bo"]
    assert [name for name, _ in store.failed_sign_ins("b", NOW)] == ["ada"], "at another address it still counts"
    store.add_failed_sign_in("Eve", "c", NOW + 9 * HOUR, forget_before=NOW + HOUR)
    assert store.failed_sign_ins("b", NOW - HOUR) == ()


def test_a_secret_is_made_once(store: Store) -> None:
    assert store.secret("forms", "first") == "first"
    assert store.secret("forms", "second") == "first"
    assert store.secret("other", "third") == "third"


def test_the_audit_is_told_newest_first_of_one_shipment_or_all(store: Store) -> None:
    lines = [
        AuditLine(NOW + n * HOUR, f"w{n}", "rep", "rep.shipment", shipment, "0417", 200, "::1", f"r{n}")
        for n, shipment in ((1, "S-1"), (2, "S-2"), (3, "S-1"))
    ]
    store.add_audit(lines)
    found = store.audit(AuditWanted())
    assert [replace(each, seq=0) for each in found] == list(reversed(lines))
    assert [each.seq for each in found] == sorted((each.seq for each in found), reverse=True)
    assert [each.name for each in store.audit(AuditWanted(shipment="S-1"))] == ["w3", "w1"]
    assert [each.name for each in store.audit(AuditWanted(most=1))] == ["w3"]


def test_nothing_is_undone_by_a_moment_that_fails_but_what_was_done_in_it(store: Store) -> None:
    undone: list[str] = []
    with store.transaction():
        store.secret("kept", "a")
        with pytest.raises(Conflict), store.transaction(before_rollback=lambda: undone.append("inner")):
            store.secret("lost", "b")
            raise Conflict("no")
    assert undone == ["inner"]
    assert store.secret("kept", "x") == "a"
    assert store.secret("lost", "y") == "y"


def test_a_row_of_brackets_in_brackets_is_a_damaged_row() -> None:
    with pytest.raises(StoreError, match="A stored Manifest cannot be read"):
        from_text('{"a":' * 200_000, Manifest)
