"""Days as a store and its carriers work them: weekends and public holidays do not count."""

from dataclasses import dataclass, field
from datetime import date, time, timedelta

from receiving.model import Layout, StoreDetails

LEAD_DAYS = 5
CUT_OFF = time(14)
"""Assumed where the layout does not say: common practice, no source. The page says when they are assumed."""

_DAY = timedelta(days=1)


@dataclass(frozen=True)
class WorkingCalendar:
    """The days on which nothing is delivered: ``weekend`` (0 is Monday) and ``holidays``.

    ``named`` says whose public holidays they are, as "US-TX"; empty where none are known.

    >>> calendar = WorkingCalendar(frozenset({date(2026, 12, 25)}))
    >>> calendar.add(date(2026, 12, 24), 1), calendar.before(date(2026, 12, 28))
    (datetime.date(2026, 12, 28), datetime.date(2026, 12, 24))
    """

    holidays: frozenset[date] = frozenset()
    weekend: frozenset[int] = frozenset({5, 6})
    named: str = ""

    def is_working(self, day: date) -> bool:
        """True when something can be sent and delivered on this day."""
        return day.weekday() not in self.weekend and day not in self.holidays

    def on_or_after(self, day: date) -> date:
        """This day, or the next working one."""
        while not self.is_working(day):
            day += _DAY
        return day

    def before(self, day: date) -> date:
        """The last working day before this day."""
        day -= _DAY
        while not self.is_working(day):
            day -= _DAY
        return day

    def add(self, day: date, days: int) -> date:
        """The working day that lies ``days`` working days after the first one on or after ``day``."""
        day = self.on_or_after(day)
        for _ in range(days):
            day = self.on_or_after(day + _DAY)
        return day

    def subtract(self, day: date, days: int) -> date:
        """The working day that lies ``days`` working days before this working day."""
        for _ in range(days):
            day = self.before(day)
        return day

    def between(self, start: date, end: date) -> int:
        """How many working days there are from ``start`` on and before ``end``; negative where ``end`` is earlier."""
        if end < start:
            return -self.between(end, start)
        return sum(self.is_working(start + n * _DAY) for n in range((end - start).days))


@dataclass(frozen=True)
class StoreTerms:
    """What is known of a store's days: its zone (IANA), its holidays (ISO 3166), and how orders reach it."""

    time_zone: str = ""
    country: str = ""
    region: str = ""
    lead_days: int = LEAD_DAYS
    cut_off: time = CUT_OFF
    lead_assumed: bool = True


def store_terms(layout: Layout | None, details: StoreDetails | None = None) -> StoreTerms:
    """The terms of a store: by its layout, else by what the list of stores says; what neither says is assumed."""
    own = layout or StoreDetails("")
    listed = details or StoreDetails("")
    where = own if own.country else listed  # a region says nothing without its country
    lead_days, cut_off = own.lead_days or listed.lead_days, own.order_cut_off or listed.order_cut_off
    return StoreTerms(
        own.time_zone or listed.time_zone,
        where.country,
        where.region,
        lead_days or LEAD_DAYS,
        cut_off or CUT_OFF,
        lead_assumed=lead_days is None or cut_off is None,
    )


@dataclass(frozen=True)
class StoreDay:
    """Now, at a store: the day and the time there, and the days on which it works."""

    today: date
    at: time = time(0)
    calendar: WorkingCalendar = field(default_factory=WorkingCalendar)

    def arrival_of_an_order(self, terms: StoreTerms) -> date:
        """When what is ordered now will be at the store."""
        return self.calendar.add(self.order_day(terms), terms.lead_days)

    def order_day(self, terms: StoreTerms) -> date:
        """The working day that an order placed now counts from."""
        late = self.calendar.is_working(self.today) and self.at >= terms.cut_off
        return self.calendar.on_or_after(self.today + _DAY if late else self.today)

    def latest_order(self, terms: StoreTerms, visit: date) -> date:
        """The last day on which an order still arrives on a working day before the visit."""
        return self.calendar.subtract(self.calendar.before(visit), terms.lead_days)
