"""How passwords and PINs are hashed, and that a hash made with less is made anew when its secret is given."""

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.low_level import Type

from receiving import service
from receiving.model import Role
from receiving.service.signing_in import hash_secret

WORDS = "four plain words here"
OLD = PasswordHasher(time_cost=1, memory_cost=8 * 1024, parallelism=1)
"""What a service of long ago may have used."""


def test_a_hash_costs_more_than_the_least_that_is_advised() -> None:
    """OWASP Password Storage Cheat Sheet: argon2id with 19 MiB and 2 passes at least; RFC 9106, 4: 64 MiB and 3."""
    found = extract_parameters(hash_secret("x"))
    assert found.type is Type.ID
    assert (found.memory_cost, found.time_cost, found.parallelism) == (64 * 1024, 3, 4)
    assert found.memory_cost >= 19 * 1024 and found.time_cost >= 2
    assert (found.salt_len, found.hash_len) == (16, 32)


def test_an_old_hash_is_made_anew_at_the_next_sign_in_and_sessions_go_on(ctx: service.Context) -> None:
    ada = service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    here = service.sign_in(ctx, "Ada Lund", WORDS, address="192.0.2.7")
    new = hash_of(ctx)
    with ctx.transaction() as store:
        store.renew_hash(ada.person_id, new, OLD.hash(WORDS))
    old = hash_of(ctx)
    with pytest.raises(service.SignInRefused):
        service.sign_in(ctx, "Ada Lund", "another four plain words", address="192.0.2.7")
    assert hash_of(ctx) == old, "a wrong password renews nothing"
    service.sign_in(ctx, "Ada Lund", WORDS, address="192.0.2.7")
    assert extract_parameters(hash_of(ctx)) == extract_parameters(new)
    assert service.find_access(ctx, here.token) is not None
    renewed = hash_of(ctx)
    service.sign_in(ctx, "Ada Lund", WORDS, address="192.0.2.7")
    assert hash_of(ctx) == renewed, "it is made once"


def test_a_hash_that_was_changed_meanwhile_is_left(ctx: service.Context) -> None:
    ada = service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    before = hash_of(ctx)
    with ctx.transaction() as store:
        store.renew_hash(ada.person_id, "another", OLD.hash(WORDS))
    assert hash_of(ctx) == before


def hash_of(ctx: service.Context) -> str:
    with ctx.store() as store:
        found = store.credentials("Ada Lund")
    assert found is not None
    return found[1]
