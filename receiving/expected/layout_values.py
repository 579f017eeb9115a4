"""What the values of a layout file must be; each check returns the value or says in words what is wrong."""

import re
from collections import Counter
from collections.abc import Callable
from datetime import time
from math import isfinite
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from receiving.messages import Text, figure, message

Check = Callable[[Any], Any]

_LARGEST = 100_000
_COUNTRY, _REGION = re.compile("[A-Z]{2}"), re.compile("[A-Z0-9]{1,3}")


def text(value: Any) -> str:
    """A text of 1 to 120 characters on one line."""
    if isinstance(value, int) and not isinstance(value, bool):
        raise ValueError(
            message(
                'is the number {value}; put it in quotes, e.g. "{quoted}", so that zeros are kept',
                value=format(value, ".20g"),
                quoted=format(value, "04.12g"),
            )
        )
    if not isinstance(value, str) or not value.strip():
        raise ValueError(message("is {value}; expected a text in quotes", value=_shown(value)))
    if len(value) > 120 or not value.isprintable():
        raise ValueError(message("is {value}; expected one line of at most 120 characters", value=_shown(value)))
    return value.strip()


def number(value: Any) -> float:
    """A number above 0: metres, centimetres or kilograms, as the key's name says."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(message("is {value}; expected a number above 0, without quotes", value=_shown(value)))
    if not (isinstance(value, int) or isfinite(value)) or not 0 < value <= _LARGEST:
        raise ValueError(
            message(
                "is {value}; expected a number above 0 and at most {most}",
                value=_shown(value),
                most=figure(_LARGEST),
            )
        )
    return float(value)


def floor_length(value: Any) -> float:
    """A length of at least 0: centimetres of floor, where 0 says that no floor is kept."""
    return 0.0 if value == 0 and isinstance(value, int | float) and not isinstance(value, bool) else number(value)


def whole_number(value: Any) -> int:
    """A whole number of at least 1."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _LARGEST:
        raise ValueError(message("is {value}; expected a whole number of at least 1", value=_shown(value)))
    return value


def section_columns(value: Any) -> tuple[int, ...]:
    """A list of section columns, each a whole number from 1 to 9999, each once."""
    if not isinstance(value, list) or not value:
        raise ValueError(message("is {value}; expected a list of column numbers, e.g. [1, 2, 3]", value=_shown(value)))
    bad = [c for c in value if isinstance(c, bool) or not isinstance(c, int) or not 1 <= c <= 9999]
    if bad:
        raise ValueError(message("holds {value}; a column is a whole number from 1 to 9999", value=_shown(bad[0])))
    if len(set(value)) != len(value):
        twice = Counter(value).most_common(1)[0][0]
        raise ValueError(message("names column {column} twice", column=twice))
    return tuple(value)


def time_zone(value: Any) -> str:
    """The name of a zone in the IANA time zone database."""
    name = text(value)
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            message('is {value}; expected an IANA time zone, e.g. "America/Chicago"', value=_shown(value))
        ) from None
    return name


def country(value: Any) -> str:
    """Two letters of ISO 3166-1."""
    name = text(value).upper()
    if not _COUNTRY.fullmatch(name):
        raise ValueError(message('is {value}; expected the two letters of a country, e.g. "US"', value=_shown(value)))
    return name


def region(value: Any) -> str:
    """The part of an ISO 3166-2 code after the country, e.g. "TX"."""
    name = text(value).upper()
    if not _REGION.fullmatch(name):
        raise ValueError(
            message('is {value}; expected the letters of a state or province, e.g. "TX"', value=_shown(value))
        )
    return name


def time_of_day(value: Any) -> time:
    """A time of the day: a TOML local time, or "14:00"."""
    try:
        at = value if isinstance(value, time) else time.fromisoformat(text(value))
    except ValueError:
        at = None
    if at is None or at.tzinfo is not None:
        raise ValueError(message('is {value}; expected a time of the day, e.g. "14:00"', value=_shown(value)))
    return at.replace(second=0, microsecond=0)


def _shown(value: Any) -> Text:
    try:
        return f"{value!r}"[:60]
    except ValueError:
        return message("a number with thousands of digits")
