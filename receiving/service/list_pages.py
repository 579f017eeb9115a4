"""Lists a page at a time: rows made when what they follow from changes, and kept in the store, also over a restart."""

import hashlib
import json
import logging
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from datetime import time as day_time
from functools import cache, cached_property
from pathlib import Path

from receiving.dispatch import DispatchRow, Selection, ShipmentRow, SortKey, Urgency, decide
from receiving.dispatch.deciding import order_key
from receiving.errors import NotYet, StoreError
from receiving.messages import message
from receiving.model import EVERYTHING, DataScope
from receiving.reading import PhotoPool, patterns_tried
from receiving.service.context import Context
from receiving.service.listing import row
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stores import StoreDays, find_zone
from receiving.store import CachedRow, ListQuery, ListRowRecord, RowDay, Store
from receiving.store.list_rows import words_of
from receiving.store.records import as_utc_text, from_text, to_text

LIST_PAGE_SIZE = 100
BATCH = 100
"""This many rows are made at once; where more are to be made, a list says that they are in work."""

MOST_NAMES = 300
"""This many sections and shippers are offered to choose from."""

MOST_WORDS = 5
DAYS_AT_ONCE = 1000
KEEP_EVERY_S, KEEP_UNWATCHED_S, BREATHER_S = 0.2, 5.0, 0.01
"""How often rows are looked after while somebody looks at a list, and else; between parts others get their turn."""

REST = 4.0
"""Beside the requests rows take one part in five of one core at most."""

ARCHIVE_DAYS = 60
"""A closed shipment whose visit is longer ago stands after all others, by its day, and is not looked at each day."""

_ARCHIVE_RANK = 100
_FAR = datetime(9999, 1, 1, tzinfo=UTC)
_FAR_TEXT = as_utc_text(_FAR)
_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class ListEntry:
    """One row of a list. ``mark`` is the same only for a row that shows the same; empty where it cannot be known."""

    kept: CachedRow
    days: StoreDays

    @property
    def shipment(self) -> str:
        """Whose row it is."""
        return self.kept.shipment

    @property
    def mark(self) -> str:
        """What the row follows from: its facts, and the time at which its day, or the archive's hour, ends."""
        now, until = self.days.now_text, self.kept.good_until
        if until <= now:
            return ""
        return f"{now[:13] if until == _FAR_TEXT else until} {self.kept.row}"

    @cached_property
    def decided(self) -> DispatchRow:
        """The row with what is to be done about it."""
        return _decided(self.kept.row, self.days)


@dataclass(frozen=True)
class ListPage:
    """The rows of one page of a list, most pressing first unless asked otherwise.

    ``number`` of ``pages`` (from 1); ``wanted`` rows are looked for, of ``all`` that there are; ``urgencies`` counts
    all; ``sections`` and ``shippers`` are the names to choose from. ``in_work`` rows are being made: until then they
    are missing or as they were before. ``last`` is the row of the shipment that was worked on last.
    """

    entries: tuple[ListEntry, ...]
    number: int = 1
    pages: int = 1
    wanted: int = 0
    all: int = 0
    urgencies: dict[Urgency, int] = field(default_factory=dict)
    in_work: int = 0
    sections: tuple[str, ...] = ()
    shippers: tuple[str, ...] = ()
    last: DispatchRow | None = None

    @property
    def rows(self) -> tuple[DispatchRow, ...]:
        """The rows with what is to be done about each."""
        return tuple(entry.decided for entry in self.entries)


def make_all_rows(data: Path) -> None:
    """Make all rows of this data folder; what a process of `RowsAway` does."""
    with Context(data, PhotoPool()) as ctx:  # the pool starts no process before it is used
        while make_rows(ctx, BATCH):
            pass


def get_list_page(
    ctx: Context, wanted: Selection, *, page: int = 1, scope: DataScope = EVERYTHING, last: str = ""
) -> ListPage:
    """One page of the rows that are looked for, and beside them that of the shipment worked on ``last``."""
    with ctx.store() as store:
        in_work = _refresh(ctx, store)
    with ctx.moment() as store:
        query = _query(wanted, scope, find_shipments_with(store, wanted.words))
        urgencies = {Urgency(urgency): n for urgency, n in store.urgencies(scope).items()}
        count = store.count_list_rows(query) if wanted.narrows else sum(urgencies.values())
        pages = max(1, -(-count // LIST_PAGE_SIZE))
        page = min(max(page, 1), pages)
        found_rows = store.list_rows(query, limit=LIST_PAGE_SIZE, offset=(page - 1) * LIST_PAGE_SIZE)
        names = store.list_names(scope, MOST_NAMES)
        last_rows = store.list_rows(ListQuery(scope=scope, shipment=last)) if last else ()
    days = StoreDays(ctx.now())
    return ListPage(
        tuple(ListEntry(kept, days) for kept in found_rows),
        page,
        pages,
        count,
        sum(urgencies.values()),
        urgencies,
        in_work,
        *names,
        last=next((_decided(kept.row, days) for kept in last_rows), None),
    )


def find_shipments_with(store: Store, words: str) -> dict[str, frozenset[str]]:
    """By word, in lower case, the shipments in which it is a carton, or the end of a code that it carries."""
    return {word.casefold(): store.shipments_with_term(word) for word in words.split()[:MOST_WORDS]}


def all_rows(ctx: Context, scope: DataScope = EVERYTHING, *, whole: bool = True) -> tuple[ShipmentRow, ...]:
    """Every row (within this scope), the most pressing first; where rows are made here, it waits for them.

    Raises NotYet while many are made by a process of its own, unless it need not be the ``whole``: then they are as
    they were before.
    """
    with ctx.store() as store:
        in_work = _refresh(ctx, store)
        if in_work and whole:
            raise _not_yet(in_work)
        return tuple(from_text(kept.row, ShipmentRow) for kept in store.list_rows(ListQuery(scope=scope)))


def stream_rows(ctx: Context, wanted: Selection, scope: DataScope = EVERYTHING) -> Iterator[DispatchRow]:
    """The rows that are looked for, in the order of the list; which ones is known before the first is asked for.

    They are read a few at a time, each part in a moment of its own. Raises NotYet as `all_rows`.
    """
    with ctx.store() as store:
        if in_work := _refresh(ctx, store):
            raise _not_yet(in_work)
    with ctx.moment() as store:
        names = store.listed_shipments(_query(wanted, scope, find_shipments_with(store, wanted.words)))
    return _rows_of(ctx, names)


def _rows_of(ctx: Context, names: Sequence[str]) -> Iterator[DispatchRow]:
    days = StoreDays(ctx.now())
    for first in range(0, len(names), BATCH):
        with ctx.moment() as store:
            several = store.list_rows_of(names[first : first + BATCH])
        yield from (_decided(kept.row, days) for kept in several)


def _not_yet(in_work: int) -> NotYet:
    return NotYet(
        message("{in_work} shipments are being worked out; nothing can be said of all of them yet.", in_work=in_work),
        next_step=message("Come back in a minute; the overview shows how far it is."),
    )


def _refresh(ctx: Context, store: Store) -> int:
    """Make what is to be made, where it is little; gives how many rows are left in work.

    Where nothing can be written (a full disk) lists show what there is, and say how much of it is not made anew; a
    moment that only reads shows what there is as well.
    """
    if store.reads_alone:
        left = store.count_stale_rows()
        return left if left > BATCH else 0
    try:
        store.made_by(_maker())
        ctx.row_maker.asked()
        at_once = ctx.row_maker.at_once
        stale = store.count_stale_rows()
        if stale > BATCH:
            ctx.row_maker.make_all(ctx.data, lambda: make_rows(ctx, BATCH))
        elif stale:
            make_rows(ctx, min(BATCH, at_once))
        while _end_days(ctx, store, min(DAYS_AT_ONCE, 20 * at_once)) and at_once >= DAYS_AT_ONCE:
            pass
        if not stale:
            return 0
    except StoreError as fault:
        _log.warning("rows of lists cannot be kept: %s", fault)
        return store.count_stale_rows()
    left = store.count_stale_rows()
    return left if left > BATCH else 0


def refresh_rows(ctx: Context) -> None:
    """Make the few rows that are to be made, before a moment that only reads them."""
    with ctx.store() as store:
        _refresh(ctx, store)


def get_list_version(ctx: Context) -> int:
    """A number that grows with whatever changes a row of a list; few rows that are to be made are made first."""
    with ctx.store() as store:
        _refresh(ctx, store)
        return store.list_version()


def keep_rows(ctx: Context) -> None:
    """Look after the rows of lists from now on, beside the requests, until the context is closed."""
    ctx.repeat(lambda: look_after_rows(ctx), name="list rows")


def look_after_rows(ctx: Context) -> float:
    """Make some of the rows that are to be made; gives the seconds until the next time.

    A shipment that is being scanned has a row to make at any time, so rest comes after work, `REST` times as long.
    """
    began_s, most = time.thread_time(), ctx.row_maker.at_once
    left = False
    with ctx.store() as store:
        store.made_by(_maker())
        stale = store.count_stale_rows()
        if stale > BATCH:
            ctx.row_maker.make_all(ctx.data, lambda: make_rows(ctx, BATCH))
        elif stale:
            left = make_rows(ctx, most) and stale > most
        left = _end_days(ctx, store, BATCH) or left
    watched = getattr(ctx.row_maker, "watched", True)
    pause_s = BREATHER_S if left else KEEP_EVERY_S if watched else KEEP_UNWATCHED_S
    return max(pause_s, REST * (time.thread_time() - began_s))


def make_rows(ctx: Context, most: int) -> bool:
    """Make at most this many rows that are to be made; True when some were made, so that others may be left."""
    with ctx.store() as store, ctx.snapshots.alone("rows of lists"):
        marks = store.stale_rows(most)
        if not marks:
            return False
        made, unreadable, voided = [], [], []
        days = StoreDays(ctx.now())
        for shipment in marks:
            try:
                record = store.shipment(shipment)
                if record.voided:
                    voided.append(shipment)
                    continue
                found = snapshot(ctx, store, record)
                made.append((_followed(row(ctx, store, found), found, days), found.strange))
            except StoreError as fault:
                store.set_aside("shipments", shipment, shipment, fault)
                unreadable.append(shipment)
        store.put_list_rows(made, marks, ctx.now(), unreadable=unreadable, voided=voided)
    return bool(made or voided)


def _end_days(ctx: Context, store: Store, most: int) -> bool:
    """Sort anew at most this many rows whose day is over at their store; True where there were any."""
    days = StoreDays(ctx.now())
    texts = store.ended_rows(ctx.now(), most)
    if texts:
        store.put_days([_record(from_text(text, ShipmentRow), days, text) for text in texts], ctx.now())
    return bool(texts)


def _decided(text: str, days: StoreDays) -> DispatchRow:
    made = from_text(text, ShipmentRow)
    return decide(made, days(made.terms))


def _followed(made: ShipmentRow, found: Snapshot, days: StoreDays) -> ListRowRecord:
    """The row to keep, with what it may follow from beside its own shipment and store."""
    by_patterns = max((patterns_tried(read.claim) for read in found.reads), default=0)
    return replace(_record(made, days), by_patterns=int(by_patterns), by_parts=made.looked_at and made.short)


def _record(made: ShipmentRow, days: StoreDays, text: str = "") -> ListRowRecord:
    decided = decide(made, days(made.terms))
    rank, distance, load, missing, shipment = list_key(decided)
    return ListRowRecord(
        shipment=shipment,
        store=made.store,
        words=words_of((made.shipment, made.store, made.store_name)),
        urgency=int(decided.urgency),
        rank=rank,
        distance=distance,
        load=load,
        missing=missing,
        visit=made.visit_date.isoformat() if made.visit_date else None,
        order_by=decided.latest_order.isoformat() if decided.latest_order and decided.unresolved else None,
        here=made.here / made.expected if made.expected else None,
        last_read=as_utc_text(made.last_read_at) if made.last_read_at else None,
        sections=json.dumps(made.sections),
        shipper=made.shipper,
        good_until=as_utc_text(_good_until(decided, days.now)),
        row=text or to_text(made),
        day=_row_day(decided),
    )


def _row_day(decided: DispatchRow) -> RowDay:
    row = decided.row
    latest = decided.latest_order if decided.unresolved else None
    return RowDay(
        row.shipment,
        decided.today.isoformat(),
        decided.urgency.name.lower(),
        decided.next_step.value,
        latest.isoformat() if latest else "",
        row.visit_date.isoformat() if row.visit_date else "",
        row.expected,
        row.here,
        row.missing,
        int(bool(row.replaces)),
    )


def list_key(decided: DispatchRow) -> tuple[int, int, int, int, str]:
    """Where a row stands: as `receiving.dispatch` orders rows, with what is long over after all else."""
    rank, distance, load, missing, shipment = order_key(decided)
    if _archived(decided) and decided.row.visit_date is not None:
        return _ARCHIVE_RANK, -decided.row.visit_date.toordinal(), load, missing, shipment
    return rank, distance, load, missing, shipment


def _archived(decided: DispatchRow) -> bool:
    days = decided.days_to_visit
    return decided.urgency is Urgency.CLOSED and days is not None and days < -ARCHIVE_DAYS


def _good_until(decided: DispatchRow, now: datetime) -> datetime:
    """When the day at the store, or its cut-off for orders, changes what is to be done."""
    if _archived(decided):
        return _FAR
    terms = decided.row.terms
    local = now.astimezone(find_zone(terms.time_zone))
    midnight = datetime.combine(local.date() + timedelta(days=1), day_time(), local.tzinfo)
    cut_off = datetime.combine(local.date(), terms.cut_off, local.tzinfo)
    return cut_off if local < cut_off else midnight


_SORTS = {SortKey.URGENCY: ""}


def _query(wanted: Selection, scope: DataScope, found: Mapping[str, frozenset[str]]) -> ListQuery:
    return ListQuery(
        scope=scope,
        words=tuple(wanted.words.casefold().split()),
        found=tuple(found.items()),
        urgencies=frozenset(map(int, wanted.states)),
        visit_from=wanted.visit_from.isoformat() if wanted.visit_from else "",
        visit_to=wanted.visit_to.isoformat() if wanted.visit_to else "",
        section=wanted.section,
        shipper=wanted.shipper,
        sort=_SORTS.get(wanted.sort, wanted.sort.value),
        descending=wanted.descending,
    )


@cache
def _maker() -> str:
    """By what rows are made: a mark of all code that they may follow from, so that a new version makes them anew."""
    whole = hashlib.sha256()
    root = Path(__file__).resolve().parent.parent
    for path in sorted((*root.rglob("*.py"), *root.rglob("*.toml"))):
        whole.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return whole.hexdigest()[:16]
