"""What a time, a day and a count may be, so that no value can stop whoever sorts, shows or adds it."""

from datetime import date, datetime

from receiving.messages import Text, figure, message

FIRST_YEAR, LAST_YEAR = 2000, 2199
"""A clock outside is not set. Shown in any time zone, a time inside stays within what Python can express."""

MOST_PIECES = 100_000
MOST_CARTONS = 20_000
"""Of one shipment: a truck brings some hundreds; each needs a read at least."""

LARGEST_QUANTITY = 999_999_999
"""Of one line of a manifest; more digits are a number in the wrong column."""

LARGEST_POSITION = 9999
MOST_TRIPS = 9999

ROOM_BYTES = 64 * 1024
"""A disk with less is full. A scan takes far less; a database that grows takes a page of 4 kB, its log some of them."""

PHOTO_LIMIT_S = 180.0
"""A photo takes a few seconds; on a busy machine many times that. Beyond this a decoder hangs."""

PLAN_SEARCH_S = 20.0
"""About this many seconds of computing a staging plan takes where it is not proven the best before; counted in steps.

How long it takes to find a load is heavy-tailed: of eleven shipments with a trip fewer than 4 s find, 20 s find six.
"""


class OutsideLimits(ValueError):
    """A value that cannot be; its argument is the message, ``field`` the name of the field that holds it."""

    def __init__(self, fault: Text, field: str) -> None:
        super().__init__(fault)
        self.field = field


def too_many_cartons(shipment: str, number: int, most: int) -> Text:
    """What is wrong with a shipment of more cartons than `MOST_CARTONS`."""
    return message(
        "Shipment {shipment} has {number} cartons; at most {most_cartons} are accepted, since no "
        "more reads of it are kept. Nothing was stored.",
        shipment=repr(shipment),
        number=figure(number),
        most_cartons=figure(most),
    )


A_NUMBER_EACH = message("Give each delivery to a store a shipment number of its own.")
"""The next step after `too_many_cartons`."""


def check_moment(what: str, moment: datetime) -> None:
    """Raise ValueError for a time without a time zone or outside the years that can be."""
    if moment.tzinfo is None:
        raise ValueError(message("{field} {time} has no time zone", field=what, time=moment.isoformat()))
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        fault = message(
            "{field} {time} is not from {first_year} to {last_year}: check the clock",
            field=what,
            time=moment.isoformat(),
            first_year=FIRST_YEAR,
            last_year=LAST_YEAR,
        )
        raise ValueError(fault)


def check_day(field: str, day: date | None) -> None:
    """Raise OutsideLimits for a day outside the years that can be."""
    if day is not None and not FIRST_YEAR <= day.year <= LAST_YEAR:
        fault = message(
            "the day {day} is not from {first_year} to {last_year}",
            day=day.isoformat(),
            first_year=FIRST_YEAR,
            last_year=LAST_YEAR,
        )
        raise OutsideLimits(fault, field)


_OUTSIDE = {
    "qty": message("the quantity {number} is not from {least} to {most}"),
    "trip": message("the trip {number} is not from {least} to {most}"),
    "column": message("the column {number} is not from {least} to {most}"),
    "row": message("the row {number} is not from {least} to {most}"),
}


def check_count(field: str, count: int | None, *, least: int, most: int) -> None:
    """Raise OutsideLimits for a number outside these limits; None is not a number."""
    if count is not None and not least <= count <= most:
        raise OutsideLimits(
            _OUTSIDE[field].filled(number=str(count)[:20], least=figure(least), most=figure(most)), field
        )
