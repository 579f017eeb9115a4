"""A password that somebody else made opens nothing but the way to an own one, and how one signs in changes freshly."""

import re
from datetime import timedelta

import pytest
from flask import Flask

from receiving import service
from receiving.model import Role
from tests.web.page_text import read
from tests.web.scenario import NOW
from tests.web.test_access import WORDS, Person
from web import create_app

OWN = "another four plain words"


@pytest.fixture
def ada(app: Flask) -> Person:
    """The coordinator who made the first account."""
    person = Person(app)
    made = person.send("POST", "/people", name="Ada Lund", role="coordinator", password=WORDS)
    assert made.status_code == 303
    return person


def first_password(ada: Person, **fields: str) -> str:
    """The password that is shown once for the person who was added, or whose password was made anew."""
    path = fields.pop("path", "/people")
    answer = ada.send("POST", path, **fields)
    assert answer.status_code == 200
    (made,) = read(answer.text).all("code")
    assert re.fullmatch(r"([a-z2-9]{4}-){3}[a-z2-9]{4}", made.text)
    assert made.text not in ada.client.get("/people").text, "it is shown once"
    return str(made.text)


def test_a_first_password_asks_for_an_own_one_and_opens_nothing(app: Flask, ada: Person) -> None:
    first = first_password(ada, name="Bo Reyes", role="rep")
    bo = Person(app)
    asked = bo.sign_in("Bo Reyes", first)
    assert asked.status_code == 409 and "Choose one of your own now" in read(asked.text).text
    assert "/sign-in" in bo.client.get("/").headers["Location"]
    fields = {"name": "Bo Reyes", "password": first}
    for new in ("short", first, "qwerty123456"):
        answer = bo.send("POST", "/sign-in", **fields, new=new)
        assert answer.status_code == 400 and 'name="new"' in answer.text, new
    assert bo.send("POST", "/sign-in", **fields, new=OWN).status_code == 303
    assert bo.client.get("/").status_code == 200
    assert Person(app).sign_in("Bo Reyes", first).status_code == 403
    assert Person(app).sign_in("Bo Reyes", OWN).status_code == 303


def test_a_coordinator_does_not_choose_the_password_of_somebody_else(app: Flask, ada: Person) -> None:
    assert "password" not in {e.attributes.get("name") for e in read(ada.client.get("/people").text).all("input")}
    first_password(ada, name="Bo Reyes", role="rep", password=WORDS)
    assert Person(app).sign_in("Bo Reyes").status_code == 403


def test_a_first_password_is_over_after_three_days(ctx: service.Context, ada: Person) -> None:
    first = first_password(ada, name="Bo Reyes", role="rep")
    bo = next(each for each in service.list_people(ctx) if each.name == "Bo Reyes")
    ctx.now = lambda: NOW + timedelta(days=3)  # type: ignore[method-assign]
    with pytest.raises(service.SignInRefused, match="This first password has expired"):
        service.sign_in(ctx, "Bo Reyes", first, address="192.0.2.7", new=OWN)
    again = first_password(person_of(ctx), path=f"/people/{bo.person_id}", what="password")
    assert service.sign_in(ctx, "Bo Reyes", again, address="192.0.2.7", new=OWN)


def person_of(ctx: service.Context) -> Person:
    person = Person(create_app(ctx))
    assert person.sign_in("Ada Lund").status_code == 303
    return person


def test_a_new_first_password_ends_what_was_signed_in(app: Flask, ctx: service.Context, ada: Person) -> None:
    bo = service.add_person(ctx, "Bo Reyes", Role.REP, WORDS)
    person = Person(app)
    person.sign_in("Bo Reyes")
    first_password(ada, path=f"/people/{bo.person_id}", what="password")
    assert "/sign-in" in person.client.get("/account").headers["Location"]
    assert person.sign_in("Bo Reyes").status_code == 403


CHANGES = {
    "/account/pin": {"pin": "493817"},
    "/account/sessions": {},
    "/account/passkeys": {"credential": "{}"},
    "/account/passkeys/remove": {"credential": "x"},
    "/account/passkeys/options": {},
}


@pytest.mark.parametrize("path", CHANGES)
def test_who_signed_in_some_time_ago_signs_in_again_to_change_how(app: Flask, ctx: service.Context, path: str) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Cem Ortiz", Role.STORE_MANAGER, WORDS, stores=["0417"])
    person = Person(app)
    person.sign_in("Cem Ortiz")
    ctx.now = lambda: NOW + timedelta(minutes=5, seconds=1)  # type: ignore[method-assign]
    page = person.client.get("/account")
    assert 'name="again"' in page.text and f'action="{path}"' not in page.text
    old = person.client.get_cookie("session").value
    refused = person.send("POST", path, **CHANGES[path])
    assert refused.status_code == 403 and "You signed in some time ago" in read(refused.text).text
    assert person.send("POST", "/account/again", again="not this one!").status_code == 400
    assert person.send("POST", "/account/again", again=WORDS).status_code == 303
    assert person.client.get_cookie("session").value != old and service.find_access(ctx, old) is None
    assert person.send("POST", path, **CHANGES[path]).status_code in (200, 303, 400)
    assert 'name="again"' not in person.client.get("/account").text
