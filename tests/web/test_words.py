"""Pages in words: dates, places, counts; and the small memory of what was shown."""

from datetime import UTC, date, datetime, timedelta, timezone
from enum import StrEnum
from typing import get_args, get_origin, get_type_hints

import pytest

from receiving.model import NOTE_KINDS, Address, Carton, CartonKind, ContentLine, Note
from web.pages.notes import note_words
from web.pages.words import count_words, join_words, moment_words, shown_text, size_words, visit_words, where_words

TODAY = date(2026, 3, 5)


def example(kind: type[Note]) -> Note:
    """A note of this kind with a value in every field."""
    by_type: dict[object, object] = {
        str: "01",
        int: 1,
        bool: True,
        date: TODAY,
        datetime: datetime(2026, 3, 5, tzinfo=UTC),
    }
    values: dict[str, object] = {"photo": "a" * 64}
    for name, hint in get_type_hints(kind).items():
        plain = next((each for each in get_args(hint) if each is not type(None)), hint) if get_args(hint) else hint
        if isinstance(plain, type) and issubclass(plain, StrEnum):
            values.setdefault(name, next(iter(plain)))
        elif get_origin(hint) is not tuple:
            values.setdefault(name, by_type[plain])
    return kind(**{name: value for name, value in values.items() if name in kind.__dataclass_fields__})  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", sorted(set(NOTE_KINDS) - {"note_withdrawn"}))  # which is not a line of its own
def test_every_kind_of_note_has_a_sentence(kind: str) -> None:
    text = str(note_words(example(NOTE_KINDS[kind])))
    assert text.endswith(".")
    assert text != "A note."


@pytest.mark.parametrize(
    ("visit", "words"),
    [
        (None, "No visit planned"),
        (date(2026, 3, 5), "Visit today, Thu 5 Mar"),
        (date(2026, 3, 6), "Visit tomorrow, Fri 6 Mar"),
        (date(2026, 3, 4), "Visit was yesterday, Wed 4 Mar"),
        (date(2026, 2, 2), "Visit was on Mon 2 Feb"),
        (date(2027, 1, 4), "Visit on Mon 4 Jan 2027"),
    ],
)
def test_a_visit_is_said_as_seen_from_today(visit: date | None, words: str) -> None:
    assert str(visit_words(visit, TODAY)) == words


def test_a_moment_is_said_in_the_time_zone_of_the_reader() -> None:
    now = datetime(2026, 3, 5, 1, 0, tzinfo=timezone(timedelta(hours=9)))
    assert str(moment_words(datetime(2026, 3, 4, 15, 30, tzinfo=UTC), now)) == "00:30 UTC+09:00"
    assert str(moment_words(datetime(2026, 3, 4, 14, 59, tzinfo=UTC), now)) == "Wed 4 Mar, 23:59 UTC+09:00"
    assert str(moment_words(datetime(2025, 3, 4, 14, 59, tzinfo=UTC), now)) == "Tue 4 Mar 2025, 23:59 UTC+09:00"
    assert str(moment_words(None, now)) == ""


def test_many_places_are_named_by_section_and_the_rest_counted() -> None:
    lines = [ContentLine("Harbor", Address("Harbor", column, 1)) for column in range(1, 6)]
    carton = Carton("07", CartonKind.TRAY, contents=tuple(lines))
    assert str(where_words(carton)) == "Harbor: column 1 row 1, column 2 row 1, column 3 row 1 and 2 more places"


def test_a_carton_for_whole_sections_says_so() -> None:
    carton = Carton("23", CartonKind.TAGS, contents=(ContentLine("Harbor"), ContentLine("Moss & Fern")))
    assert str(where_words(carton)) == "Harbor and Moss & Fern, whole sections"


def test_size_says_only_what_the_manifest_says() -> None:
    assert str(size_words(Carton("1", CartonKind.TRAY))) == ""
    assert str(size_words(Carton("1", CartonKind.TRAY, weight_kg=6.5))) == "6.5 kg"
    whole = Carton("1", CartonKind.TRAY, None, "", "", False, (), 6, 60, 40, 30)
    assert str(size_words(whole)) == "6 kg, 60 × 40 × 30 cm"


def test_separators_of_a_label_are_made_visible() -> None:
    assert shown_text("10AB\x1d21X\x1e\x04") == "10AB␝21X␞␄"


def test_lists_and_counts_read_like_a_sentence() -> None:
    assert [join_words(words) for words in ([], ["a"], ["a", "", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
    assert (count_words(0, "box", "boxes"), count_words(1, "box", "boxes"), count_words(2, "carton")) == (
        "0 boxes",
        "1 box",
        "2 cartons",
    )
