"""People sign in, sessions end, links open one shipment, and tries are slowed down for nobody else."""

from datetime import timedelta

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.model import Right, Role
from receiving.service import accounts
from receiving.service.signing_in import COMMON
from tests.service.conftest import Clock

WORDS = "four plain words here"
OTHER = "another set of words"
PHONE, ELSEWHERE = "192.0.2.7", "198.51.100.9"
"""Addresses that are kept for documentation (RFC 5737)."""


@pytest.fixture
def ctx(timed: service.Context) -> service.Context:
    return timed


@pytest.fixture
def shipment() -> str:
    return "S-1"


@pytest.fixture
def ada(ctx: service.Context) -> str:
    return service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS).person_id


def sign_in(ctx: service.Context, name: str = "Ada Lund", password: str = WORDS, address: str = PHONE) -> str:
    return service.sign_in(ctx, name, password, address=address).token


def test_a_right_password_begins_a_session_and_a_wrong_one_does_not(ctx: service.Context, ada: str) -> None:
    found = service.find_access(ctx, sign_in(ctx, " ada  LUND "))
    assert found is not None
    assert (found.name, found.role, found.scope.limited) == ("Ada Lund", Role.COORDINATOR, False)
    for name, password in (("Ada Lund", OTHER), ("Nobody", WORDS), ("", "")):
        with pytest.raises(service.SignInRefused, match="do not match"):
            sign_in(ctx, name, password)


def test_neither_password_nor_token_stands_in_the_data_folder(ctx: service.Context, ada: str) -> None:
    token = sign_in(ctx)
    stored = b"".join(path.read_bytes() for path in ctx.data.rglob("*") if path.is_file())
    assert WORDS.encode() not in stored
    assert token.encode() not in stored
    assert b"$argon2id$" in stored


def test_a_session_ends_by_signing_out_by_idleness_by_age_and_with_the_account(
    ctx: service.Context, ada: str, clock: Clock
) -> None:
    first, second = sign_in(ctx), sign_in(ctx)
    access = service.find_access(ctx, first)
    assert access is not None
    service.sign_out(ctx, access)
    assert service.find_access(ctx, first) is None
    assert service.find_access(ctx, second) is not None
    clock.forward(timedelta(days=7, seconds=1))
    assert service.find_access(ctx, second) is None, "idle for a week"
    third = sign_in(ctx)
    for _ in range(5):
        clock.forward(timedelta(days=6))
        access = service.find_access(ctx, third)
    assert access is None, "thirty days old"
    service.add_person(ctx, "Bo", Role.COORDINATOR, OTHER)
    fourth = sign_in(ctx)
    service.close_account(ctx, ada)
    assert service.find_access(ctx, fourth) is None
    with pytest.raises(service.SignInRefused):
        sign_in(ctx)


def test_a_new_password_ends_every_session(ctx: service.Context, ada: str) -> None:
    token = sign_in(ctx)
    service.set_password(ctx, ada, OTHER)
    assert service.find_access(ctx, token) is None
    assert sign_in(ctx, password=OTHER)


def test_wrong_tries_slow_down_one_name_at_one_address_and_lock_nobody_out(
    ctx: service.Context, ada: str, clock: Clock
) -> None:
    service.add_person(ctx, "Bo", Role.REP, OTHER)
    for _ in range(5):
        with pytest.raises(service.SignInRefused):
            sign_in(ctx, password="guess")
    with pytest.raises(service.TooManyTries) as slow:
        sign_in(ctx)
    assert slow.value.wait_s == 2
    assert sign_in(ctx, address=ELSEWHERE), "the same person at another address"
    assert sign_in(ctx, "Bo", OTHER), "another person at the same address"
    clock.forward(timedelta(seconds=2))
    assert sign_in(ctx)
    with pytest.raises(service.SignInRefused):
        sign_in(ctx, password="guess")


def test_an_address_that_tries_many_names_waits_too(
    ctx: service.Context, ada: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("receiving.service.signing_in.ADDRESS_TRIES", 8)
    for number in range(8):
        with pytest.raises(service.SignInRefused):
            sign_in(ctx, f"Name {number}", "guess")
    with pytest.raises(service.TooManyTries):
        sign_in(ctx)
    assert sign_in(ctx, address=ELSEWHERE)


@pytest.mark.parametrize(
    ("password", "fault"),
    [("short", "has 5 characters"), ("x" * 201, "has 201"), ("ababababababab", "repeats"), ("I am ada lund!!", "name")],
)
def test_a_weak_password_is_refused_with_the_reason(ctx: service.Context, password: str, fault: str) -> None:
    with pytest.raises(BadRequest, match=fault):
        service.add_person(ctx, "Ada Lund", Role.COORDINATOR, password)
    assert not service.has_people(ctx)


def test_the_first_account_is_a_coordinator_of_all_stores_and_the_last_one_stays(ctx: service.Context) -> None:
    for role, stores in ((Role.REP, None), (Role.COORDINATOR, ["0417"])):
        with pytest.raises(BadRequest, match="first account"):
            service.add_person(ctx, "Ada Lund", role, WORDS, stores=stores)
    ada = service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Bo", Role.COORDINATOR, OTHER, stores=["0417"])
    with pytest.raises(Conflict, match="last coordinator"):
        service.close_account(ctx, ada.person_id)


def test_a_name_is_taken_whatever_its_case(ctx: service.Context, ada: str) -> None:
    with pytest.raises(Conflict, match="already"):
        service.add_person(ctx, "ADA LUND", Role.REP, OTHER)


def test_who_sees_some_stores_does_not_manage_the_people(ctx: service.Context, ada: str) -> None:
    service.add_person(ctx, "Bo", Role.COORDINATOR, OTHER, stores=["0417"])
    found = service.find_access(ctx, sign_in(ctx, "Bo", OTHER))
    assert found is not None
    assert not found.may(Right.ADMINISTER)
    assert not found.may(Right.PREPARE)
    assert found.may(Right.DECIDE)


def test_a_link_opens_one_shipment_until_it_expires_or_is_ended(
    ctx: service.Context, ada: str, shipment: str, clock: Clock
) -> None:
    link, token = service.make_link(ctx, shipment, "Dock team", days=2, by="Ada Lund")
    session = service.come_by_link(ctx, token).token
    found = service.find_access(ctx, session)
    assert found is not None
    assert (found.name, found.role, found.shipment) == ("Dock team", Role.STORE_STAFF, shipment)
    assert service.may_see(ctx, found, shipment=shipment)
    assert not service.may_see(ctx, found, store="0417")
    other, second = service.make_link(ctx, shipment, "Night team", days=2, by="Ada Lund")
    service.revoke_link(ctx, shipment, other.link_id)
    with pytest.raises(service.SignInRefused, match="any more"):
        service.come_by_link(ctx, second)
    service.revoke_link(ctx, "S-none", link.link_id)
    assert service.find_access(ctx, session) is not None, "a link is ended at its own shipment"
    clock.forward(timedelta(days=2))
    assert service.find_access(ctx, session) is None
    with pytest.raises(service.SignInRefused):
        service.come_by_link(ctx, token)


def test_a_link_is_for_a_shipment_that_is_there_and_for_days_that_end(ctx: service.Context, shipment: str) -> None:
    with pytest.raises(NotFound):
        service.make_link(ctx, "S-none", "Dock team", days=2, by="")
    for days in (0, 61):
        with pytest.raises(BadRequest, match="cannot be made"):
            service.make_link(ctx, shipment, "Dock team", days=days, by="")


def test_the_commonest_passwords_are_refused_whatever_their_case(ctx: service.Context) -> None:
    """The first of the list of SecLists that have 12 characters (10-million-password-list-top-1000000.txt)."""
    for password in ("123qweasdzxc", "1QAZ2wsx3edc", "qwerty123456", "leavemealone", "sonyericsson", "chickenwing101"):
        with pytest.raises(BadRequest, match="is one of the first that attackers try"):
            service.add_person(ctx, "Ada Lund", Role.COORDINATOR, password)
    digests = COMMON.read_text().split()
    assert len(set(digests)) == len(digests) >= 3000, "OWASP ASVS 5.0, V6.2.4"


def test_one_line_with_many_ipv6_addresses_is_slowed_down_as_one(ctx: service.Context, ada: str) -> None:
    for number in range(5):
        with pytest.raises(service.SignInRefused):
            sign_in(ctx, password=OTHER, address=f"2001:db8:0:7::{number}")
    with pytest.raises(service.TooManyTries):
        sign_in(ctx, address="2001:db8:0:7:ffff::1")
    assert sign_in(ctx, address="2001:db8:0:8::1")


def test_of_two_who_add_the_first_account_at_once_one_alone_gets_in(
    ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    hashed = accounts.hash_secret

    def slow(password: str) -> str:
        monkeypatch.setattr(accounts, "hash_secret", hashed)
        service.add_account(ctx, "Ada Lund", Role.COORDINATOR, own_password=WORDS)  # while the other one is hashed
        return hashed(password)

    monkeypatch.setattr(accounts, "hash_secret", slow)
    with pytest.raises(service.NotTheFirst):
        service.add_account(ctx, "Bo Reyes", Role.COORDINATOR, own_password=OTHER)
    assert [person.name for person in service.list_people(ctx)] == ["Ada Lund"]


def test_a_password_is_hashed_before_the_lock_is_taken(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    hashed = accounts.hash_secret

    def watched(password: str) -> str:
        with ctx.store() as store:
            assert not store._db.conn.in_transaction
        return hashed(password)

    monkeypatch.setattr(accounts, "hash_secret", watched)
    service.add_account(ctx, "Ada Lund", Role.COORDINATOR, own_password=WORDS)
    service.add_account(ctx, "Bo Reyes", Role.REP)
