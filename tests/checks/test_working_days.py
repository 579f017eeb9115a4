"""Working days against numpy's business-day functions and a published table of public holidays."""

from datetime import date, time, timedelta
from random import Random

import numpy as np
import pytest

from receiving.dispatch import StoreDay, StoreTerms, WorkingCalendar
from receiving.service.store_days import working_calendar

RANDOM = Random(17)
HOLIDAYS = frozenset(date(2026, 1, 1) + timedelta(days=RANDOM.randrange(730)) for _ in range(40))
CALENDAR = WorkingCalendar(HOLIDAYS)
NUMPY = np.busdaycalendar(holidays=[np.datetime64(day) for day in HOLIDAYS])
DAYS = [date(2026, 1, 1) + timedelta(days=n) for n in range(600)]


def busday(day: date, offset: int, roll: str) -> date:
    return np.busday_offset(np.datetime64(day), offset, roll=roll, busdaycal=NUMPY).astype(object)


def test_working_days_are_those_of_numpy() -> None:
    """numpy 2.4, `busday_offset`, `busday_count` and `is_busday`, with the same holidays."""
    for day in DAYS:
        assert CALENDAR.is_working(day) == bool(np.is_busday(np.datetime64(day), busdaycal=NUMPY))
        assert CALENDAR.on_or_after(day) == busday(day, 0, "forward")
        assert CALENDAR.before(day) == busday(day, -1, "forward")
        for lead in (1, 2, 5, 13):
            assert CALENDAR.add(day, lead) == busday(day, lead, "forward")
        end = day + timedelta(days=RANDOM.randrange(40))
        assert CALENDAR.between(day, end) == int(
            np.busday_count(np.datetime64(day), np.datetime64(end), busdaycal=NUMPY)
        )


def test_the_latest_order_arrives_and_one_a_working_day_later_does_not() -> None:
    terms = StoreTerms(lead_days=3, cut_off=time(14))
    for visit in DAYS[60:]:
        latest = StoreDay(visit, time(9), CALENDAR).latest_order(terms, visit)
        assert StoreDay(latest, time(13, 59), CALENDAR).arrival_of_an_order(terms) < visit
        assert StoreDay(latest, time(14), CALENDAR).arrival_of_an_order(terms) >= visit
        assert latest == busday(busday(visit, -1, "forward"), -3, "forward")


FEDERAL_2026 = {
    date(2026, 1, 1): "New Year's Day",
    date(2026, 1, 19): "Birthday of Martin Luther King, Jr.",
    date(2026, 2, 16): "Washington's Birthday",
    date(2026, 5, 25): "Memorial Day",
    date(2026, 6, 19): "Juneteenth National Independence Day",
    date(2026, 7, 3): "Independence Day, observed: 4 July is a Saturday",
    date(2026, 9, 7): "Labor Day",
    date(2026, 10, 12): "Columbus Day",
    date(2026, 11, 11): "Veterans Day",
    date(2026, 11, 26): "Thanksgiving Day",
    date(2026, 12, 25): "Christmas Day",
}
"""U.S. Office of Personnel Management, federal holidays of 2026 (opm.gov, policy data oversight, pay and leave); from
memory of the table, checked by the rules of 5 U.S.C. 6103."""


def test_the_holidays_of_a_country_are_those_that_it_publishes() -> None:
    calendar = working_calendar("US", "", 2026)
    of_the_year = {day for day in calendar.holidays if day.year == 2026 and day.weekday() < 5}
    assert of_the_year == set(FEDERAL_2026)
    assert calendar.named == "US"


ENGLAND_2026 = {
    date(2026, 1, 1),
    date(2026, 4, 3),
    date(2026, 4, 6),
    date(2026, 5, 4),
    date(2026, 5, 25),
    date(2026, 8, 31),
    date(2026, 12, 25),
    date(2026, 12, 28),
}
"""Bank holidays of England and Wales in 2026, gov.uk/bank-holidays; from memory of the table."""


def test_a_region_keeps_its_own_holidays() -> None:
    england = working_calendar("GB", "ENG", 2026)
    assert {day for day in england.holidays if day.year == 2026 and day.weekday() < 5} == ENGLAND_2026
    scotland = working_calendar("GB", "SCT", 2026)
    assert not scotland.is_working(date(2026, 1, 2))
    assert england.is_working(date(2026, 1, 2))


@pytest.mark.parametrize(("country", "region"), [("XX", ""), ("US", "ZZ"), ("", "")])
def test_a_country_without_a_table_leaves_out_weekends_alone_and_names_nobody(country: str, region: str) -> None:
    calendar = working_calendar(country, region, 2026)
    assert (calendar.holidays, calendar.named) == (frozenset(), "")
    assert not calendar.is_working(date(2026, 3, 7))
