"""Accounts, sessions, links, passkeys and challenges as they are stored: each right is given once and taken back."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from receiving.errors import Conflict, NotFound
from receiving.model import EVERYTHING, DataScope, Person, Role, ShipmentLink
from receiving.store import Passkey, SessionRecord, Store, check_data
from tests.store.test_store import MANIFEST, NOW

HOUR = timedelta(hours=1)
ADA = Person("p1", "Ada Lund", Role.COORDINATOR, EVERYTHING, NOW)
BO = Person("p2", "bo berg", Role.REP, DataScope(frozenset({"0417", "0100"}), frozenset({"Autumn"})), NOW + HOUR)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
        store.add_person(BO, "hash of Bo")
        store.add_person(ADA, "hash of Ada")
        yield store
        # Whatever was changed has the digest of what it is now.
        assert not [damage for damage in check_data(store.path, tmp_path).damages if damage.table == "people"]


def session(token: str, of: Person = ADA, *, hours: int = 0, link: str = "") -> SessionRecord:
    at = NOW + hours * HOUR
    return SessionRecord(token, "" if link else of.person_id, link, at, at, at + 8 * HOUR)


# --- accounts ------------------------------------------------------------------------------------------------------


def test_accounts_are_listed_by_name_whatever_its_case(tmp_path: Path, store: Store) -> None:
    assert store.people() == (ADA, BO)
    assert store.person("p2") == BO
    with pytest.raises(NotFound, match="There is no such account"):
        store.person("p9")
    assert store.has_people()
    with Store(tmp_path / "other.sqlite") as other:
        assert not other.has_people()


def test_a_name_is_taken_whatever_its_case(store: Store) -> None:
    with pytest.raises(Conflict, match="There is an account 'BO BERG' already"):
        store.add_person(replace(BO, person_id="p3", name="BO BERG"), "hash")
    assert store.people() == (ADA, BO)


def test_the_password_is_that_of_the_name_in_any_case_while_the_account_is_open(store: Store) -> None:
    assert store.credentials("ADA LUND") == (ADA, "hash of Ada")
    assert store.credentials("nobody") is None
    store.disable_person("p1", NOW)
    assert store.credentials("Ada Lund") is None
    assert store.person("p1").disabled_at == NOW
    store.disable_person("p1", None)
    assert store.person("p1") == ADA


def test_a_first_password_is_somebody_elses_until_the_person_has_chosen(store: Store) -> None:
    assert store.first_password_until("p1") is None
    store.set_password("p1", "first", first_until=NOW + HOUR)
    assert store.first_password_until("p1") == NOW + HOUR
    assert store.first_password_until("p2") is None
    store.set_password("p1", "own")
    assert store.first_password_until("p1") is None
    assert store.credentials("Ada Lund") == (ADA, "own")
    store.add_person(replace(BO, person_id="p3", name="Cy"), "made", first_until=NOW + 2 * HOUR)
    assert store.first_password_until("p3") == NOW + 2 * HOUR


def test_role_and_scope_are_changed_and_nothing_else(store: Store) -> None:
    store.change_person("p2", Role.STORE_MANAGER, EVERYTHING)
    assert store.people() == (ADA, replace(BO, role=Role.STORE_MANAGER, scope=EVERYTHING))
    none = DataScope(frozenset(), frozenset())
    store.change_person("p2", Role.REP, none)
    assert store.person("p2").scope == none


# --- sessions ------------------------------------------------------------------------------------------------------


def test_a_session_is_found_by_its_token_and_says_when_it_was_used(store: Store) -> None:
    first = session("t1")
    store.add_session(first)
    assert store.session("t1") == first
    assert store.session("t9") is None
    store.touch_session("t1", NOW + HOUR)
    assert store.session("t1") == replace(first, seen_at=NOW + HOUR)
    store.add_session(session("t2", hours=3))
    assert [each.token_sha256 for each in store.sessions("p1")] == ["t2", "t1"]
    store.touch_session("t1", NOW + 4 * HOUR)
    assert [each.token_sha256 for each in store.sessions("p1")] == ["t1", "t2"], "the one used last first"
    assert store.sessions("p2") == ()


def test_sessions_that_are_over_are_forgotten_at_the_next_sign_in(store: Store) -> None:
    store.add_session(session("t1"))
    store.add_session(session("t2", hours=8))
    assert store.session("t1") is not None, "it ends at this moment"
    store.add_session(session("t3", hours=9))
    assert store.session("t1") is None and store.session("t2") is not None


def test_sessions_are_ended_one_or_all_others(store: Store) -> None:
    for token, person in (("t1", ADA), ("t2", ADA), ("t3", ADA), ("t4", BO)):
        store.add_session(session(token, person))
    store.end_session("t1")
    store.end_other_sessions("p1", but="t3")
    assert [store.session(f"t{n}") is not None for n in (1, 2, 3, 4)] == [False, False, True, True]


@pytest.mark.parametrize("end", ["password", "close"])
def test_a_new_password_or_a_closed_account_ends_the_persons_sessions(store: Store, end: str) -> None:
    store.add_session(session("t1"))
    store.add_session(session("t2", BO))
    store.set_password("p1", "new") if end == "password" else store.disable_person("p1", NOW)
    assert (store.session("t1"), store.session("t2") is None) == (None, False)


# --- links ---------------------------------------------------------------------------------------------------------

LINK = ShipmentLink("l1", "S-1", "night crew", "Ada Lund", NOW, NOW + 24 * HOUR)


def test_a_link_is_found_by_its_token_and_listed_with_the_newest_first(store: Store) -> None:
    newer = replace(LINK, link_id="l2", created_at=NOW + HOUR)
    store.add_link(LINK, "sha of l1")
    store.add_link(newer, "sha of l2")
    assert store.links("S-1") == (newer, LINK)
    assert (store.link_of_token("sha of l1"), store.link_of_token("l1")) == (LINK, None)
    assert (store.link("l2"), store.link("l9")) == (newer, None)
    assert store.links("S-2") == ()
    with pytest.raises(NotFound, match="There is no shipment 'S-9'"):
        store.add_link(replace(LINK, shipment="S-9"), "other")


def test_a_revoked_link_ends_its_sessions_and_keeps_its_first_moment(store: Store) -> None:
    store.add_link(LINK, "sha")
    store.add_session(session("t1", link="l1"))
    store.add_session(session("t2"))
    assert store.session("t1") == session("t1", link="l1")
    store.revoke_link("l1", NOW + HOUR)
    store.revoke_link("l1", NOW + 2 * HOUR)
    assert store.link("l1") == replace(LINK, revoked_at=NOW + HOUR)
    assert store.session("t1") is None and store.session("t2") is not None


# --- passkeys, PINs, a company's sign-on, challenges ---------------------------------------------------------------

KEY = Passkey("c1", "p1", "public", 3, "phone", NOW)


def test_passkeys_are_added_used_and_removed(store: Store) -> None:
    second = replace(KEY, credential_id="c2", created_at=NOW + HOUR)
    store.add_passkey(second)
    store.add_passkey(KEY)
    with pytest.raises(Conflict, match="This passkey is known already"):
        store.add_passkey(replace(KEY, person_id="p2"))
    assert store.passkeys("p1") == (KEY, second)
    assert (store.passkey("c1"), store.passkey("c9"), store.passkeys("p2")) == (KEY, None, ())
    store.use_passkey("c1", 7, NOW + HOUR)
    assert store.passkey("c1") == replace(KEY, sign_count=7, used_at=NOW + HOUR)
    assert store.passkey("c2") == second
    store.remove_passkey("p2", "c1")
    assert store.passkey("c1") is not None, "it is another person's"
    store.remove_passkey("p1", "c1")
    assert store.passkeys("p1") == (second,)


def test_a_pin_is_set_and_taken_away(store: Store) -> None:
    assert (store.pin_hash("p1"), store.pin_hash("p9")) == ("", "")
    store.set_pin("p1", "hash of PIN")
    assert store.pin_hash("p1") == "hash of PIN"
    assert [person.has_pin for person in store.people()] == [True, False]
    store.set_pin("p1", "")
    assert store.person("p1") == ADA


def test_a_subject_is_one_persons_while_the_account_is_open(store: Store) -> None:
    assert store.person_of_subject("ada@x") is None
    store.set_subject("p1", "ada@x")
    store.set_subject("p1", "ada@x")
    assert store.person_of_subject("ada@x") == replace(ADA, subject="ada@x")
    with pytest.raises(Conflict, match="The sign-on calls another account 'ada@x' already"):
        store.set_subject("p2", "ada@x")
    assert store.person("p2") == BO
    store.disable_person("p1", NOW)
    assert store.person_of_subject("ada@x") is None
    store.set_subject("p1", "")
    store.set_subject("p2", "")
    store.set_subject("p2", "ada@x")
    found = store.person_of_subject("ada@x")
    assert found is not None and found.person_id == "p2"


def test_a_challenge_is_answered_once_for_its_purpose_and_in_time(store: Store) -> None:
    def keep(name: str, hours: int = 0) -> None:
        store.add_challenge(name, "passkey", f"body of {name}", now=NOW + hours * HOUR, until=NOW + (hours + 1) * HOUR)

    for name in ("a", "b", "c"):
        keep(name)
    assert store.take_challenge("a", "passkey", NOW + HOUR) == "body of a"
    assert store.take_challenge("a", "passkey", NOW) is None
    assert store.take_challenge("b", "sign-on", NOW) is None
    assert store.take_challenge("b", "passkey", NOW) is None, "a wrong purpose ends it too"
    assert store.take_challenge("c", "passkey", NOW + HOUR + timedelta(seconds=1)) is None
    keep("d")
    keep("e", hours=2)
    assert store.take_challenge("d", "passkey", NOW) is None, "forgotten when the next was made"
    assert store.take_challenge("e", "passkey", NOW + 3 * HOUR) == "body of e"


def test_a_pin_that_is_set_or_taken_away_leaves_an_account_as_it_was_stored(store: Store, tmp_path: Path) -> None:
    for pin in ("hash of 4711", ""):
        store.set_pin("p1", pin)
        assert store.pin_hash("p1") == pin
        assert not [each for each in check_data(store.path, tmp_path).damages if each.table == "people"]
