"""What a time, a day and a count may be, so that no value can stop whoever sorts, shows or adds it."""

from datetime import date, datetime

FIRST_YEAR, LAST_YEAR = 2000, 2199
"""A clock outside is not set. Shown in any time zone, a time inside stays within what Python can express."""

MOST_PIECES = 100_000
LARGEST_QUANTITY = 999_999_999
"""Of one line of a manifest; more digits are a number in the wrong column."""

LARGEST_POSITION = 9999
MOST_TRIPS = 9999

PHOTO_LIMIT_S = 180.0
"""A photo takes a few seconds; on a busy machine many times that. Beyond this a decoder hangs."""


def check_moment(what: str, moment: datetime) -> None:
    """Raise ValueError for a time without a time zone or outside the years that can be."""
    if moment.tzinfo is None:
        raise ValueError(f"{what} {moment.isoformat()} has no time zone")
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise ValueError(f"{what} {moment.isoformat()} is not from {FIRST_YEAR} to {LAST_YEAR}: check the clock")


def check_day(what: str, day: date | None) -> None:
    """Raise ValueError for a day outside the years that can be."""
    if day is not None and not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValueError(f"{what} {day.isoformat()} is not from {FIRST_YEAR} to {LAST_YEAR}")


def check_count(what: str, count: int | None, *, least: int, most: int) -> None:
    """Raise ValueError for a number outside these limits; None is no number."""
    if count is not None and not least <= count <= most:
        raise ValueError(f"{what} {str(count)[:20]} is not from {least} to {most}")
