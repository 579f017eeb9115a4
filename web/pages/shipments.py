"""The rep's list of shipments, and the line of one of them, which the coordinator's overview shows too."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Day, Text, joined, message, plural
from receiving.service import (
    URGENCY_WORDS,
    DispatchRow,
    ListPage,
    Selection,
    ShipmentRow,
    Urgency,
    advice_words,
    day_words,
    find_zone,
)
from web.pages.finding import Finder, finder_of
from web.pages.tone import Tone
from web.pages.words import moment_words, visit_words

URGENCY_TONES = {
    Urgency.OVERDUE: Tone.MISSING,
    Urgency.SHORT: Tone.MISSING,
    Urgency.HOLD_ENDED: Tone.QUESTION,
    Urgency.UNSEEN: Tone.QUESTION,
    Urgency.FOLLOWED: Tone.INSIDE,
    Urgency.TO_DECIDE: Tone.QUESTION,
    Urgency.AWAITED: Tone.INSIDE,
    Urgency.COMPLETE: Tone.HERE,
    Urgency.CLOSED: Tone.PLAIN,
}


@dataclass(frozen=True)
class ShipmentLine:
    """One shipment in a list. Shares are in thousandths of the expected cartons, to draw a bar."""

    shipment: str
    store: str
    store_name: str
    visit: Text
    visit_day: Text
    visit_date: str
    expected: int
    here: int
    missing: int
    order_by: Text
    order_short: Text
    also: Text
    here_share: int
    inside_share: int
    last_read: Text
    confirmed: bool
    to_resolve: bool
    tone: Tone
    word: Text
    advice: Text


@dataclass(frozen=True)
class ShipmentsPage:
    """The rep's list."""

    template: ClassVar[str] = "shipments.html"

    shipments: tuple[ShipmentLine, ...]
    finder: Finder
    person: str
    last: ShipmentLine | None

    title: ClassVar[Text] = message("Shipments")


def shipments_page(listed: ListPage, wanted: Selection, *, now: datetime, person: str) -> ShipmentsPage:
    """The list of shipments, the most pressing first, and the one that this browser had open last."""
    lines = tuple(shipment_line(row, now) for row in listed.rows)
    last = shipment_line(listed.last, now) if listed.last else None
    return ShipmentsPage(lines, finder_of(listed, wanted), person, last)


def shipment_line(decided: DispatchRow, now: datetime) -> ShipmentLine:
    """One shipment as the rep's list and the board show it, as of ``now``."""
    row: ShipmentRow = decided.row
    return ShipmentLine(
        shipment=row.shipment,
        store=row.store,
        store_name=row.store_name,
        visit=visit_words(row.visit_date, decided.today),
        visit_day=day_words(row.visit_date) or message("no visit"),
        visit_date=row.visit_date.isoformat() if row.visit_date else "",
        expected=row.expected,
        here=row.here,
        missing=row.missing,
        order_by=_order_by(decided),
        order_short=_order_short(decided),
        also=_also(row),
        here_share=1000 * row.here // row.expected if row.expected else 0,
        inside_share=1000 * row.inside // row.expected if row.expected else 0,
        last_read=moment_words(row.last_read_at, now.astimezone(find_zone(row.terms.time_zone))),
        confirmed=row.confirmed,
        to_resolve=(row.short or row.held) and decided.urgency is not Urgency.CLOSED,
        tone=URGENCY_TONES[decided.urgency],
        word=URGENCY_WORDS[decided.urgency],
        advice=advice_words(decided),
    )


def _order_by(decided: DispatchRow) -> Text:
    """Until when an order still helps the visit, empty where nothing has to be ordered."""
    latest, ordered = decided.latest_order, decided.order_day
    if not decided.row.looked_at or not decided.unresolved or latest is None or ordered is None:
        return ""
    if ordered > latest:
        return message("last day to order was {day}", day=Day(latest))
    return message("order today") if latest == decided.today else message("order by {day}", day=Day(latest))


def _order_short(decided: DispatchRow) -> Text:
    """The same where there is little room."""
    words, latest, ordered = _order_by(decided), decided.latest_order, decided.order_day
    too_late = latest is not None and ordered is not None and ordered > latest
    return message("too late to order") if words and too_late else words


def _also(row: ShipmentRow) -> Text:
    """What else there is to see: in an unopened outer box, extra, to be checked."""
    parts = (
        plural(row.inside, "{number} inside an outer box", "{number} inside an outer box") if row.inside else "",
        plural(row.extra, "{number} extra", "{number} extra") if row.extra else "",
        plural(row.to_check, "{number} to check", "{number} to check") if row.to_check else "",
    )
    return joined(*parts, separator=", ")
