"""Working days against numpy's business-day functions and a published table of public holidays."""

import json
from datetime import date, time, timedelta
from pathlib import Path
from random import Random

import numpy as np
import pytest

from receiving.dispatch import StoreDay, StoreTerms, WorkingCalendar
from receiving.service.stores import working_calendar

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


PUBLISHED = Path(__file__).with_name("holidays")
TABLES = {"us_federal.json": ("US", ""), "england_and_wales.json": ("GB", "ENG")}
"""Tables that governments published; each file names its source and its licence."""


def published(name: str) -> dict[int, set[date]]:
    """The days of a published table, by year."""
    years = json.loads((PUBLISHED / name).read_text(encoding="utf-8"))["years"]
    return {int(year): {date.fromisoformat(day) for day in days} for year, days in years.items()}


@pytest.mark.parametrize("name", TABLES)
def test_the_holidays_of_a_country_are_those_that_it_published(name: str) -> None:
    country, region = TABLES[name]
    for year, days in published(name).items():
        calendar = working_calendar(country, region, year)
        assert {day for day in calendar.holidays if day.year == year and day.weekday() < 5} == days, year
        assert calendar.named == "-".join(part for part in (country, region) if part)


@pytest.mark.parametrize("name", TABLES)
def test_working_days_and_cut_offs_over_published_holidays_are_those_of_numpy(name: str) -> None:
    country, region = TABLES[name]
    terms = StoreTerms(country=country, region=region, lead_days=4, cut_off=time(14))
    for year, days in published(name).items():
        ours = working_calendar(country, region, year)
        numpy = np.busdaycalendar(holidays=[np.datetime64(day) for day in days])

        def offset(day: date, by: int, roll: str, numpy: np.busdaycalendar = numpy) -> date:
            return np.busday_offset(np.datetime64(day), by, roll=roll, busdaycal=numpy).astype(object)  # type: ignore[no-any-return]

        for visit in (date(year, 1, 20) + timedelta(days=n) for n in range(335)):
            latest = StoreDay(visit, time(9), ours).latest_order(terms, visit)
            assert latest == offset(offset(visit, -1, "forward"), -4, "forward")
            assert StoreDay(latest, time(13, 59), ours).arrival_of_an_order(terms) == offset(latest, 4, "forward")
            late = StoreDay(latest, time(14), ours).arrival_of_an_order(terms)
            assert late == offset(latest, 5, "forward") >= visit
            weekend = StoreDay(visit, time(15), ours)
            counted = offset(visit, 1, "backward") if ours.is_working(visit) else offset(visit, 0, "forward")
            assert weekend.order_day(terms) == counted


def test_a_region_keeps_its_own_holidays() -> None:
    """2 January is a bank holiday in Scotland alone (Banking and Financial Dealings Act 1971, schedule 1)."""
    england = working_calendar("GB", "ENG", 2026)
    scotland = working_calendar("GB", "SCT", 2026)
    assert not scotland.is_working(date(2026, 1, 2))
    assert england.is_working(date(2026, 1, 2))


@pytest.mark.parametrize(("country", "region"), [("XX", ""), ("US", "ZZ"), ("", "")])
def test_a_country_without_a_table_leaves_out_weekends_alone_and_names_nobody(country: str, region: str) -> None:
    calendar = working_calendar(country, region, 2026)
    assert (calendar.holidays, calendar.named) == (frozenset(), "")
    assert not calendar.is_working(date(2026, 3, 7))
