"""How fast, how long and how fresh is judged by this server's clock, never by the time that a phone says."""

from datetime import timedelta
from uuid import uuid4

import pytest
from flask import Flask

from receiving import service
from receiving.model import Role
from tests.web.page_text import read
from tests.web.scenario import NOW
from tests.web.test_access import ADDRESS, WORDS, Person
from web.actions import ID_HEADER, MADE_HEADER

NAMES = {"Ada Lund": Role.COORDINATOR, "Bo Reyes": Role.REP, "Cem Ortiz": Role.STORE_MANAGER}


@pytest.fixture
def people(ctx: service.Context) -> dict[str, str]:
    return {name: service.add_person(ctx, name, role, WORDS).person_id for name, role in NAMES.items()}


def acted(number: int) -> dict[str, str]:
    """Headers of an action of a phone that was without a signal when it was made, each at another time."""
    return {ID_HEADER: str(uuid4()), MADE_HEADER: (NOW - timedelta(minutes=20) * (number + 1)).isoformat()}


def test_guesses_are_slowed_down_whatever_time_a_phone_says(app: Flask, people: dict[str, str]) -> None:
    guesser = Person(app)
    fields = {"token": guesser.token(), "name": "Bo Reyes", "password": "guess"}
    answers = [guesser.client.post("/sign-in", data=fields, headers=acted(n)).status_code for n in range(7)]
    assert answers == [403] * 5 + [429] * 2


def test_guesses_of_a_pin_are_slowed_down_whatever_time_a_phone_says(
    app: Flask, ctx: service.Context, people: dict[str, str]
) -> None:
    manager, rep = Person(app), Person(app)
    manager.sign_in("Cem Ortiz"), rep.sign_in("Bo Reyes")
    assert manager.send("POST", "/account/pin", pin="408213").status_code == 303
    fields = {"token": rep.token(), "name": "Cem Ortiz", "pin": "111222", "how": "exceptions", "short": "searched"}
    answers = [rep.client.post(f"{ADDRESS}/receipt", data=fields, headers=acted(n)).status_code for n in range(7)]
    assert answers == [403] * 5 + [429] * 2


def test_a_character_in_of_long_ago_is_not_made_fresh_by_the_time_that_a_phone_says(
    app: Flask, ctx: service.Context, people: dict[str, str]
) -> None:
    manager = Person(app)
    manager.sign_in("Cem Ortiz")
    token = manager.token()
    ctx.now = lambda: NOW + timedelta(hours=2)
    headers = {ID_HEADER: str(uuid4()), MADE_HEADER: (NOW + timedelta(minutes=1)).isoformat()}
    manager.client.post("/account/pin", data={"token": token, "pin": "408213"}, headers=headers)
    assert not any(person.has_pin for person in service.list_people(ctx))


def test_a_first_password_that_is_over_is_not_made_young_by_the_time_that_a_phone_says(
    app: Flask, ctx: service.Context, people: dict[str, str]
) -> None:
    service.set_password(ctx, people["Bo Reyes"], WORDS, first_password=True)
    ctx.now = lambda: NOW + service.FIRST_LIFE + timedelta(hours=1)
    late = Person(app)
    fields = {"token": late.token(), "name": "Bo Reyes", "password": WORDS, "new": "five other words, all plain"}
    headers = {ID_HEADER: str(uuid4()), MADE_HEADER: NOW.isoformat()}
    assert late.client.post("/sign-in", data=fields, headers=headers).status_code == 403


def test_a_wrong_pin_speaks_of_the_pin(app: Flask, people: dict[str, str]) -> None:
    rep = Person(app)
    rep.sign_in("Bo Reyes")
    fields = {"token": rep.token(), "name": "Cem Ortiz", "pin": "111222", "how": "exceptions", "short": "searched"}
    text = read(rep.client.post(f"{ADDRESS}/receipt", data=fields).text).text
    assert "The name and the PIN do not match" in text and "new password" not in text
    assert "Check both; a store manager sets the PIN on the page “Your account”, or signs with a finger." in text
