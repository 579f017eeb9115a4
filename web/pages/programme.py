"""Pages over all stores: the programme by week, the list to call, swaps between stores."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar
from urllib.parse import urlencode

from receiving.errors import BadRequest
from receiving.messages import Message, Text, figure, joined, message, plural
from receiving.service import (
    DispatchRow,
    ProgrammeView,
    ReadinessDay,
    Share,
    SwapsView,
    TakenSwap,
    day_words,
    name_words,
    share_words,
)
from web.pages.words import visit_words

MOST_SHARES = 20


@dataclass(frozen=True)
class WeekLine:
    """The visits of a week; the widths are in thousandths of a full bar."""

    monday: Text
    visits: int
    ready: int
    followed: int
    short: int
    unseen: int
    ready_width: int
    followed_width: int
    short_width: int


@dataclass(frozen=True)
class DayBar:
    """The visits to come on one day, a column of 100 units: ready from below, followed up, short, not counted."""

    day: Text
    visits: int
    ready: int
    followed: int
    short: int
    unseen: int
    x: int
    ready_y: int
    followed_y: int
    followed_height: int
    short_y: int
    short_height: int
    frame_y: int
    frame_height: int


@dataclass(frozen=True)
class History:
    """Readiness over time; ``width`` of the drawing, in which a day takes 10 units, and its highest number."""

    days: tuple[DayBar, ...]
    width: int
    most: int


@dataclass(frozen=True)
class ShareLine:
    """A name with how much of it is missing; the width is in thousandths of the worst.

    ``href`` shows its shipments.
    """

    name: Text
    words: Text
    width: int
    href: str = ""


@dataclass(frozen=True)
class ProgrammePage:
    """How ready the programme is."""

    template: ClassVar[str] = "programme.html"
    title: ClassVar[Text] = message("Programme")

    history: History
    weeks: tuple[WeekLine, ...]
    shippers: tuple[ShareLine, ...]
    sections: tuple[ShareLine, ...]
    kits: tuple[ShareLine, ...]
    lanes: tuple[ShareLine, ...]
    items: tuple[ShareLine, ...]
    waits: tuple[ShareLine, ...]


@dataclass(frozen=True)
class CallLine:
    """A store that has not counted."""

    store: str
    name: str
    shipment: str
    visit: Text
    delivered: Text
    cartons: int


@dataclass(frozen=True)
class CallListPage:
    """The stores to call."""

    template: ClassVar[str] = "call_list.html"
    title: ClassVar[Text] = message("Stores to call")

    sentence: Text
    days: int
    lines: tuple[CallLine, ...]


@dataclass(frozen=True)
class SwapLine:
    """A carton to bring from one store to another; ``value`` is what choosing it sends."""

    value: str
    item: Text
    spare_store: str
    spare_shipment: str
    store: str
    shipment: str
    carton: str
    visit: Text
    arrives: Text
    cost: Text


@dataclass(frozen=True)
class SwapsPage:
    """Swaps between stores, and what choices are taken to cost; ``taken`` says how many were just noted."""

    template: ClassVar[str] = "swaps.html"
    title: ClassVar[Text] = message("Swaps between stores")

    sentence: Text
    lines: tuple[SwapLine, ...]
    second_visit: str
    day: str
    swap: str
    lanes: Text
    taken: Text
    person: str


def programme_page(view: ProgrammeView) -> ProgrammePage:
    """The programme by week and by what is missing."""
    found = view.figures
    worst = max((missing for _, missing in found.items), default=1)
    most = max((shipments for _, shipments in found.days_to_count), default=1)
    return ProgrammePage(
        history=_history(view.days),
        weeks=tuple(
            WeekLine(
                day_words(week.monday),
                week.visits,
                week.ready,
                week.followed,
                week.short,
                week.unseen,
                *(1000 * part // week.visits for part in (week.ready, week.followed, week.short)),
            )
            for week in found.weeks
        ),
        shippers=_shares(found.shippers, "shipper"),
        sections=_shares(found.sections, "section"),
        kits=_shares(found.kits, ""),
        lanes=_shares(found.lanes, ""),
        waits=tuple(
            ShareLine(
                plural(days, "{number} day", "{number} days"), _shipments_words(shipments), 1000 * shipments // most
            )
            for days, shipments in found.days_to_count
        ),
        items=tuple(
            ShareLine(
                name_words(name), plural(missing, "{number} missing", "{number} missing"), 1000 * missing // worst
            )
            for name, missing in found.items
        ),
    )


HEIGHT, STEP = 100, 10


def _history(days: Sequence[ReadinessDay]) -> History:
    most = max((day.visits for day in days), default=0)
    return History(tuple(_bar(n, day, most or 1) for n, day in enumerate(days)), STEP * len(days), most)


def _bar(number: int, day: ReadinessDay, most: int) -> DayBar:
    """Heights are rounded from the bottom, so that the parts of a column meet."""
    tops = [0]
    for part in (day.ready, day.followed, day.short, day.unseen):
        tops.append(tops[-1] + part)
    ready, followed, short, whole = (HEIGHT * top // most for top in tops[1:])
    return DayBar(
        day_words(day.day),
        day.visits,
        day.ready,
        day.followed,
        day.short,
        day.unseen,
        STEP * number,
        HEIGHT - ready,
        HEIGHT - followed,
        followed - ready,
        HEIGHT - short,
        short - followed,
        HEIGHT - whole,
        whole,
    )


def _shares(shares: Sequence[Share], field: str) -> tuple[ShareLine, ...]:
    worst = max((each.share for each in shares), default=0) or 1
    return tuple(
        ShareLine(
            name_words(each.name) if each.name else message("no shipper named"),
            _share_words(each),
            round(1000 * each.share / worst),
            f"/overview?{urlencode({field: each.name})}" if each.name and field else "",
        )
        for each in shares[:MOST_SHARES]
    )


def _share_words(each: Share) -> Message:
    return message(
        "{percent}%: {missing} of {cartons} in {shipments}",
        percent=figure(100 * each.share, 1),
        missing=each.missing,
        cartons=_cartons_words(each.expected),
        shipments=_shipments_words(each.shipments),
    )


def _shipments_words(number: int) -> Message:
    return plural(number, "{number} shipment", "{number} shipments")


def _cartons_words(number: int) -> Message:
    return plural(number, "{number} carton", "{number} cartons")


def call_page(rows: Sequence[DispatchRow], days: int) -> CallListPage:
    """The stores that have not counted with at most this many working days left."""
    left = plural(days, "{number} working day", "{number} working days")
    sentence = plural(
        len(rows),
        "{number} shipment not counted yet, with the visit in {days} or less.",
        "{number} shipments not counted yet, with the visit in {days} or less.",
        days=left,
    )
    return CallListPage(
        sentence,
        days,
        tuple(
            CallLine(
                each.row.store,
                each.row.store_name,
                each.row.shipment,
                visit_words(each.row.visit_date, each.today),
                message("delivered {day}", day=day_words(each.row.delivered)) if each.row.delivered else "",
                each.row.expected,
            )
            for each in rows
        ),
    )


def swap_value(swap: TakenSwap) -> str:
    """What a form sends of a swap that is chosen; ids hold no tab."""
    return "\t".join((swap.shipment, swap.carton, swap.spare_of))


def swap_sent(text: str) -> TakenSwap:
    """The swap that a form sent. Raises BadRequest."""
    parts = text.split("\t")
    if len(parts) != 3:
        raise BadRequest(message("The swap cannot be read."), next_step=message("Reload the page and choose it again."))
    return TakenSwap(*parts)


def swaps_page(found: SwapsView, *, taken: int, person: str) -> SwapsPage:
    """The swaps that let the fewest visits fail, the nearest visit first."""
    ordered = sorted(found.swaps, key=lambda swap: (swap.want.visit, swap.want.shipment, swap.want.carton))
    lines = tuple(
        SwapLine(
            value=swap_value(TakenSwap.of(swap)),
            item=name_words(swap.want.item),
            spare_store=swap.spare.store,
            spare_shipment=swap.spare.shipment,
            store=swap.want.store,
            shipment=swap.want.shipment,
            carton=swap.want.carton,
            visit=day_words(swap.want.visit),
            arrives=day_words(swap.arrives),
            cost=share_words(swap.cost),
        )
        for swap in ordered
    )
    helped = len({line.shipment for line in lines})
    visits = plural(helped, "{number} visit", "{number} visits")
    sentence = (
        plural(
            len(lines),
            "{number} carton to bring, for {visits}.",
            "{number} cartons to bring, for {visits}.",
            visits=visits,
        )
        if lines
        else message("No extra carton of one store would help the visit of another.")
    )
    known = (
        plural(found.lanes, "{number} lane known.", "{number} lanes known.")
        if found.lanes
        else message("No lane is known.")
    )
    noted = plural(
        taken,
        "{number} carton noted as on the way; tell the stores that have them.",
        "{number} cartons noted as on the way; tell the stores that have them.",
    )
    return SwapsPage(
        sentence,
        lines,
        f"{found.costs.second_visit:g}",
        f"{found.costs.day:g}",
        f"{found.costs.swap:g}",
        joined(known, message("Between other stores a swap takes 2 working days (assumed).")),
        noted if taken > 0 else "",
        person,
    )
