"""Now, at each store: its zone, its day, and the public holidays that it keeps."""

import logging
from datetime import date, datetime, tzinfo
from functools import cache
from zoneinfo import ZoneInfo

from receiving.dispatch import StoreDay, StoreTerms, WorkingCalendar, store_terms
from receiving.service.context import Context
from receiving.service.documents import name_layout, value_in
from receiving.service.store_list import details_of
from receiving.store.records import as_utc_text

_log = logging.getLogger(__name__)

YEARS_AROUND = (-1, 2)
"""A visit is planned months ahead at most: holidays of the year before to the year after the next."""


class StoreDays:
    """Gives the day at a store with these terms; each kind of terms is worked out once."""

    def __init__(self, now: datetime) -> None:
        self.now, self.now_text = now, as_utc_text(now)
        self._days: dict[StoreTerms, StoreDay] = {}
        self._arrivals: dict[StoreTerms, date] = {}

    def __call__(self, terms: StoreTerms) -> StoreDay:
        """The day at a store with these terms."""
        if terms not in self._days:
            local = self.now.astimezone(find_zone(terms.time_zone))
            calendar = working_calendar(terms.country, terms.region, local.year)
            self._days[terms] = StoreDay(local.date(), local.time(), calendar)
        return self._days[terms]

    def order_now(self, terms: StoreTerms) -> date:
        """When what is ordered now is at a store with these terms."""
        if terms not in self._arrivals:
            self._arrivals[terms] = self(terms).arrival_of_an_order(terms)
        return self._arrivals[terms]


def find_zone(name: str) -> tzinfo | None:
    """The zone of this name; None, the server's own, where a store has none."""
    return ZoneInfo(name) if name else None


def get_store_now(ctx: Context, store_id: str) -> datetime:
    """Now, in the zone of this store; in the server's where nothing names one."""
    with ctx.store() as store:
        terms = store_terms(value_in(store, name_layout(store_id)), details_of(store, store_id))
    return ctx.now().astimezone(find_zone(terms.time_zone))


def get_shipment_now(ctx: Context, shipment: str) -> datetime:
    """Now, in the zone of the store that this shipment goes to. Raises NotFound."""
    with ctx.store() as store:
        store_id = store.shipment(shipment).store
    return get_store_now(ctx, store_id)


@cache
def working_calendar(country: str, region: str, year: int) -> WorkingCalendar:
    """The public holidays around this year, by the library `holidays`; weekends alone where it has none of them."""
    if not country:
        return WorkingCalendar()
    from holidays import country_holidays

    years = range(year + YEARS_AROUND[0], year + YEARS_AROUND[1] + 1)
    try:
        found = country_holidays(country, subdiv=region or None, years=years)
    except (NotImplementedError, ValueError):
        _log.warning("no public holidays are known for %s %s; weekends alone are left out", country, region)
        return WorkingCalendar()
    weekend = frozenset(int(day) for day in found.weekend)
    return WorkingCalendar(frozenset(found), weekend, f"{country}-{region}" if region else country)
