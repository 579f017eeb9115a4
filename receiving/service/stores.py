"""What is known of each store: its zone, its day and the public holidays that it keeps, its lead days and name.

They come for many stores at once by a list; a store's layout says it better.
"""

import logging
from datetime import date, datetime, tzinfo
from functools import cache
from zoneinfo import ZoneInfo

from receiving.dispatch import StoreDay, StoreTerms, WorkingCalendar, store_terms
from receiving.expected import read_stores, write_stores_csv
from receiving.model import StoreDetails
from receiving.service.context import Context
from receiving.service.documents import TextDocument, name_layout, value_in
from receiving.store import DocumentKind, Store
from receiving.store.records import as_utc_text, from_text, to_text


def import_stores(ctx: Context, name: str, data: bytes) -> int:
    """Keep what a list says of its stores, all or none; gives of how many it says something new. Raises FileFaults.

    Stores that the list does not name stay as they are; a row without anything takes back what was said before.
    """
    listed = read_stores(name, data)
    changed = 0
    with ctx.transaction() as store:
        for details in listed:
            if details != (details_of(store, details.store) or StoreDetails(details.store)):
                body = to_text(details)
                store.add_document(DocumentKind.STORE, details.store, body, file_name=name, added_at=ctx.now())
                changed += 1
    return changed


def _details_of_store(store_id: str) -> TextDocument[StoreDetails | None]:
    def read(_: str, data: bytes) -> StoreDetails:
        return from_text(data.decode(), StoreDetails)

    return TextDocument(DocumentKind.STORE, read, lambda: None, key=store_id)


def details_of(store: Store, store_id: str) -> StoreDetails | None:
    """What the list of stores says about this one, where it says anything."""
    return value_in(store, _details_of_store(store_id))


def make_stores_csv(ctx: Context) -> str:
    """Every store that a shipment goes to, with what is known of it, as the list that can be filled in and taken back.

    What its layout says stands there too; where both say something the layout counts.
    """
    with ctx.store() as store:
        known = sorted({record.store for record in store.shipments()})
        return write_stores_csv(_known(store, each) for each in known)


def _known(store: Store, store_id: str) -> StoreDetails:
    listed = details_of(store, store_id) or StoreDetails(store_id)
    layout = value_in(store, name_layout(store_id))
    if layout is None:
        return listed
    where = layout if layout.country else listed
    return StoreDetails(
        store_id,
        layout.name or listed.name,
        layout.time_zone or listed.time_zone,
        where.country,
        where.region,
        layout.lead_days or listed.lead_days,
        layout.order_cut_off or listed.order_cut_off,
    )


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
