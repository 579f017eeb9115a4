"""Many shipments: the rep's list and the coordinator's overview."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar

from receiving.service import DispatchRow, ShipmentRow, Urgency
from web.pages.finding import Finder, narrow
from web.pages.tone import Tone
from web.pages.words import moment_words, visit_words

URGENCY_TONES = {
    Urgency.SHORT: (Tone.MISSING, "Short"),
    Urgency.UNSEEN: (Tone.QUESTION, "Not seen yet"),
    Urgency.FOLLOWED: (Tone.INSIDE, "Followed up"),
    Urgency.TO_DECIDE: (Tone.QUESTION, "To decide"),
    Urgency.COMPLETE: (Tone.HERE, "Complete"),
    Urgency.VISITED: (Tone.PLAIN, "Closed"),
}


@dataclass(frozen=True)
class ShipmentLine:
    """One shipment in a list. Shares are in thousandths of the expected cartons, to draw a bar."""

    shipment: str
    store: str
    visit: str
    visit_date: str
    expected: int
    here: int
    inside: int
    missing: int
    extra: int
    questions: int
    here_share: int
    inside_share: int
    last_read: str
    confirmed: bool
    to_settle: bool
    tone: Tone
    word: str
    advice: str


@dataclass(frozen=True)
class Notice:
    """How many shipments must be acted on before their visit, and why."""

    number: int
    words: str
    tone: Tone


@dataclass(frozen=True)
class ShipmentsPage:
    """The rep's list."""

    template: ClassVar[str] = "shipments.html"

    shipments: tuple[ShipmentLine, ...]
    finder: Finder
    person: str

    title: ClassVar[str] = "Shipments"


@dataclass(frozen=True)
class OverviewPage:
    """The coordinator's overview."""

    template: ClassVar[str] = "overview.html"

    shipments: tuple[ShipmentLine, ...]
    finder: Finder
    notices: tuple[Notice, ...]
    today: str

    title: ClassVar[str] = "Dispatch overview"


def shipments_page(
    rows: Sequence[DispatchRow], *, now: datetime, person: str, query: str = "", page: int = 1
) -> ShipmentsPage:
    """The list of shipments, the most pressing first."""
    shown, finder = narrow(rows, query, page)
    return ShipmentsPage(tuple(_line(row, now) for row in shown), finder, person)


def overview_page(rows: Sequence[DispatchRow], *, now: datetime, query: str = "", page: int = 1) -> OverviewPage:
    """The coordinator's overview."""
    shown, finder = narrow(rows, query, page)
    today: date = now.date()
    said = f"{today:%A} {today.day} {today:%B %Y}"
    return OverviewPage(tuple(_line(row, now) for row in shown), finder, _notices(rows), said)


def _notices(rows: Sequence[DispatchRow]) -> tuple[Notice, ...]:
    kinds = (
        (Urgency.SHORT, "short with the visit still to come."),
        (Urgency.UNSEEN, "that nobody has looked at yet."),
    )
    counts = ((urgency, words, sum(row.urgency is urgency for row in rows)) for urgency, words in kinds)
    return tuple(Notice(number, words, URGENCY_TONES[urgency][0]) for urgency, words, number in counts if number)


def _line(decided: DispatchRow, now: datetime) -> ShipmentLine:
    row: ShipmentRow = decided.row
    tone, word = URGENCY_TONES[decided.urgency]
    return ShipmentLine(
        shipment=row.shipment,
        store=row.store,
        visit=visit_words(row.visit_date, now.date()),
        visit_date=row.visit_date.isoformat() if row.visit_date else "",
        expected=row.expected,
        here=row.here,
        inside=row.inside,
        missing=row.missing,
        extra=row.extra,
        questions=row.questions,
        here_share=1000 * row.here // row.expected if row.expected else 0,
        inside_share=1000 * row.inside // row.expected if row.expected else 0,
        last_read=moment_words(row.last_read_at, now),
        confirmed=row.confirmed,
        to_settle=(row.short or row.held) and decided.urgency is not Urgency.VISITED,
        tone=tone,
        word=word,
        advice=decided.advice,
    )
