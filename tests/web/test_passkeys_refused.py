"""Passkeys, signed in software: what opens an account, and each thing that opens none and is written down."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask

from receiving import service
from receiving.model import Role
from tests.web.authenticator import PRESENT, Authenticator
from tests.web.page_text import read
from tests.web.scenario import NOW
from tests.web.test_access import WORDS, Person
from web import create_app

Use = Callable[[Authenticator, Person], str]


@pytest.fixture
def ids(ctx: service.Context) -> dict[str, str]:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    return {name: service.add_person(ctx, name, Role.REP, WORDS).person_id for name in ("Bo Reyes", "Eva Lind")}


@pytest.fixture
def app(ctx: service.Context, ids: dict[str, str]) -> Flask:
    return create_app(ctx)


def with_passkey(app: Flask, name: str) -> Authenticator:
    person, made = Person(app), Authenticator()
    assert person.sign_in(name).status_code == 303
    options = person.send("POST", "/account/passkeys/options").json
    added = person.send("POST", "/account/passkeys", credential=made.make(options), label="Phone")
    assert added.status_code == 303, read(added.text).text
    return made.but(count=2)


@pytest.fixture
def bos(app: Flask) -> Authenticator:
    return with_passkey(app, "Bo Reyes")


def options_for(person: Person) -> dict[str, object]:
    found: dict[str, object] = person.send("POST", "/sign-in/passkey/options").json
    return found


def is_refused(ctx: service.Context, person: Person, credential: str) -> None:
    answer = person.send("POST", "/sign-in/passkey", credential=credential)
    assert answer.status_code == 403
    text = read(answer.text).text
    assert "This passkey does not open an account here" in text and "Sign in with name and password" in text
    assert "/sign-in" in person.client.get("/").headers["Location"]
    line = service.list_audit(ctx)[0]
    assert (line.action, line.detail) == ("sign_in_refused", "passkey")


def test_a_passkey_opens_its_own_account_once_for_each_challenge(
    app: Flask, ctx: service.Context, bos: Authenticator
) -> None:
    person = Person(app)
    credential = bos.use(options_for(person))
    assert person.send("POST", "/sign-in/passkey", credential=credential).status_code == 303
    assert "Bo Reyes" in read(person.client.get("/").text).text
    thief = Person(app)
    is_refused(ctx, thief, credential)


@pytest.mark.parametrize(
    "spoil",
    [
        pytest.param(lambda it: it.but(origin="http://evil.example"), id="another origin"),
        pytest.param(lambda it: it.but(origin="https://localhost"), id="another scheme"),
        pytest.param(lambda it: it.but(origin="http://localhost:8000"), id="another port"),
        pytest.param(lambda it: it.but(host="evil.example"), id="another rp id"),
        pytest.param(lambda it: it.but(count=1), id="a counter that stands"),
        pytest.param(lambda it: it.but(count=0), id="a counter that goes back"),
        pytest.param(lambda it: it.but(flags=PRESENT), id="a holder who was not asked"),
        pytest.param(lambda it: it.but(key=Authenticator().key), id="another key"),
        pytest.param(lambda it: it.but(credential_id=b"x" * 16), id="another credential"),
    ],
)
def test_what_is_signed_for_something_else_opens_nothing(
    app: Flask, ctx: service.Context, bos: Authenticator, spoil: Callable[[Authenticator], Authenticator]
) -> None:
    person = Person(app)
    is_refused(ctx, person, spoil(bos).use(options_for(person)))
    assert person.send("POST", "/sign-in/passkey", credential=bos.use(options_for(person))).status_code == 303


def test_the_counter_is_kept_from_one_sign_in_to_the_next(app: Flask, ctx: service.Context, bos: Authenticator) -> None:
    person = Person(app)
    assert (
        person.send("POST", "/sign-in/passkey", credential=bos.but(count=9).use(options_for(person))).status_code == 303
    )
    copied = Person(app)
    is_refused(ctx, copied, bos.but(count=9).use(options_for(copied)))


def test_a_passkey_of_another_person_opens_that_account_and_names_no_other(
    app: Flask, ctx: service.Context, ids: dict[str, str], bos: Authenticator
) -> None:
    """The browser says whose passkey it is too (user handle): another's is refused (7.2, step 6)."""
    evas, person = with_passkey(app, "Eva Lind"), Person(app)
    is_refused(ctx, person, bos.but(credential_id=evas.credential_id).use(options_for(person)))
    is_refused(ctx, person, bos.use(options_for(person), userHandle=ids["Eva Lind"].encode()))
    own = bos.use(options_for(person), userHandle=ids["Bo Reyes"].encode())
    assert person.send("POST", "/sign-in/passkey", credential=own).status_code == 303


@pytest.mark.parametrize("how", ["options for another", "a challenge of signing in", "after five minutes"])
def test_a_passkey_is_added_to_the_account_that_asked_for_it_alone(
    app: Flask, ctx: service.Context, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    bo, eva, made = Person(app), Person(app), Authenticator()
    for person, name in ((bo, "Bo Reyes"), (eva, "Eva Lind")):
        assert person.sign_in(name).status_code == 303
    ask = "/sign-in/passkey/options" if how == "a challenge of signing in" else "/account/passkeys/options"
    options = (bo if how == "options for another" else eva).send("POST", ask).json
    if how == "after five minutes":
        later = NOW + timedelta(minutes=4, seconds=59)
        monkeypatch.setattr(ctx, "now", lambda: later + timedelta(seconds=2))
        eva.send("POST", "/account/again", password=WORDS)
    answer = eva.send("POST", "/account/passkeys", credential=made.make(options), label="Phone")
    assert answer.status_code in (400, 403), read(answer.text).text
    person = Person(app)
    is_refused(ctx, person, made.but(count=2).use(options_for(person)))


def test_a_passkey_of_who_is_switched_off_opens_nothing(
    app: Flask, ctx: service.Context, ids: dict[str, str], bos: Authenticator
) -> None:
    service.close_account(ctx, ids["Bo Reyes"])
    person = Person(app)
    is_refused(ctx, person, bos.use(options_for(person)))


def test_a_challenge_is_over_after_five_minutes(
    app: Flask, ctx: service.Context, bos: Authenticator, monkeypatch: pytest.MonkeyPatch
) -> None:
    person = Person(app)
    credential = bos.use(options_for(person))
    monkeypatch.setattr(ctx, "now", lambda: NOW + timedelta(minutes=5, seconds=1))
    is_refused(ctx, person, credential)
