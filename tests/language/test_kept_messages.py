"""What is stored of a message says the same later, in every language; every kind of message can be stored."""

from datetime import UTC, date, datetime
from typing import get_args

import pytest

from receiving.messages import Day, Figure, Text, TimeOfDay, joined, listing, message, opening, plural
from receiving.model import ShownLine, StoredMessage
from receiving.store.records import from_text, to_text
from receiving.wording import from_stored, line_words, to_stored

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
MESSAGES: tuple[Text, ...] = (
    "plain text with {braces}",
    message("Nothing."),
    message("{count} of {weight} kg at {when}, {day}", count=3, weight=1.5, when=AT, day=date(2026, 3, 2)),
    plural(3, "{number} carton of {whose}", "{number} cartons of {whose}", whose=message("the store")),
    plural(1, "{number} carton", "{number} cartons"),
    joined(message("One."), opening(message("two")), separator="; "),
    opening(listing(["a", message("b"), 3], choice=True)),
    listing(["a", "b"]),
    Figure(12500.25, 1),
    Day(date(2026, 3, 2), year=True),
    TimeOfDay(AT),
)


@pytest.mark.parametrize("of", MESSAGES, ids=str)
def test_a_stored_message_is_the_same_message(of: Text) -> None:
    line = ShownLine("01", "short", str(of), said=to_stored(of))
    stored = from_text(to_text(line), ShownLine)
    assert stored == line and hash(stored) == hash(line)
    assert line_words(stored) == of


def test_every_kind_of_message_is_tried_here() -> None:
    assert {type(each) for each in MESSAGES} == set(get_args(Text))


def test_what_an_earlier_version_stored_is_said_as_it_stands() -> None:
    stored = from_text('{"carton": "01", "state": "short", "words": "Carton 01: missing."}', ShownLine)
    assert line_words(stored) == "Carton 01: missing."


@pytest.mark.parametrize("plain", [[], {"text": 1}, {"list": {}}, {"day": "never"}, {}, 3])
def test_what_is_not_a_stored_message_is_refused(plain: object) -> None:
    with pytest.raises(ValueError):
        from_stored(StoredMessage(plain))
