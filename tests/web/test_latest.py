"""What a page says again after each scan is made once, and anew as soon as anything that it follows from changed."""

from dataclasses import dataclass, replace

import pytest
from flask import Flask

from receiving.matching import Reason
from receiving.model import Address, Carton, CartonFinding, CartonKind, CartonState, ContentLine, Units, fact
from web.pages import cartons
from web.pages.latest import Latest, hash_once

CARTON = Carton("07", CartonKind.TRAY, contents=(ContentLine("Sol", address=Address("Sol", 2, 3)),), weight_kg=12.0)
MISSING = CartonFinding(CARTON, CartonState.SHORT, fact(Reason.NOTHING_SHOWS_IT))
HERE = replace(MISSING, state=CartonState.RECEIVED, why=fact(Reason.BROKEN_DOWN))


def test_a_value_is_made_again_only_where_what_it_follows_from_changed() -> None:
    made: list[int] = []
    latest: Latest[int] = Latest(2)

    def make() -> int:
        made.append(len(made))
        return made[-1]

    thing, alike = [1], [1]
    assert [latest.of(thing, "a", make), latest.of(thing, "a", make)] == [0, 0]
    assert latest.of(alike, "a", make) == 1  # equal, and another thing
    assert latest.of(thing, "b", make) == 2
    assert latest.of([3], "a", make) == 3  # takes the place of the one made longest ago
    assert latest.of(thing, "b", make) == 2
    assert latest.of(alike, "a", make) == 4


def test_a_card_is_the_same_until_its_carton_stands_otherwise(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    with app.test_request_context("/"):
        before = cartons.carton_card(MISSING, {"07": "B1"}, "sent again")
        assert cartons.carton_card(replace(MISSING), {"07": "B1"}, "sent again") is before
        for other in (
            cartons.carton_card(HERE, {"07": "B1"}, "sent again"),
            cartons.carton_card(MISSING, {"07": "B2"}, "sent again"),
            cartons.carton_card(MISSING, {"07": "B1"}, ""),
            cartons.carton_card(MISSING, {"07": "B1"}, "sent again", "look in outer box 01"),
        ):
            assert other != before
        monkeypatch.setattr(cartons, "shown_units", lambda: Units.US)
        assert cartons.carton_card(MISSING, {"07": "B1"}, "sent again") is not before


def test_a_hash_kept_is_the_hash_of_all_fields() -> None:
    @dataclass(frozen=True)
    class Two:
        one: str
        other: tuple[int, ...]

        __hash__ = hash_once

    assert hash(Two("a", (1, 2))) == hash(Two("a", (1, 2))) == hash(("a", (1, 2)))
    first = Two("a", (1, 2))
    assert hash(first) == hash(first)
    assert hash(replace(first, other=())) == hash(("a", ()))  # the kept one is not taken along
