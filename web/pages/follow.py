"""Before the visit: what is done about each missing carton, and whether the rep is sent."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.model import CartonState, FollowUp, ShortageFollowed, VisitDecided
from receiving.service import (
    CartonOutlook,
    CartonStatus,
    DispatchRow,
    ShipmentView,
    advice_words,
    day_words,
    follow_up_words,
    outlook_words,
    weight_words,
)
from web.pages.cartons import CartonCard, Option, carton_card
from web.pages.notes import NoteLine, note_lines
from web.pages.words import visit_words


@dataclass(frozen=True)
class MissingLine:
    """A missing carton, what waits for it, what was done about it, and whether it need not hold the visit."""

    card: CartonCard
    waits: str
    followed: str
    settled: bool
    overdue: bool


@dataclass(frozen=True)
class FollowPage:
    """What a coordinator settles before the rep is sent."""

    template: ClassVar[str] = "follow.html"

    shipment: str
    store: str
    visit: str
    advice: str
    held: bool
    missing: tuple[MissingLine, ...]
    inside: int
    steps: tuple[Option, ...]
    latest_due: str
    notes: tuple[NoteLine, ...]
    person: str

    @property
    def title(self) -> str:
        """The page's title."""
        return f"Before the visit to store {self.store}"


def follow_page(view: ShipmentView, decided: DispatchRow, *, now: datetime, person: str) -> FollowPage:
    """The page of one shipment; ``decided`` is its row of the overview."""
    outlooks = {each.missing.carton: each for each in decided.outlooks}
    found = view.reconciliation
    said = (note for note in view.notes if isinstance(note, ShortageFollowed | VisitDecided))
    return FollowPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        visit=visit_words(view.row.visit_date, decided.today),
        advice=advice_words(decided),
        held=view.row.held,
        missing=tuple(
            _missing_line(carton_card(f, {}), outlooks[f.carton.carton], view.row.positions)
            for f in found.in_state(CartonState.SHORT)
        ),
        inside=len(found.in_state(CartonState.INSIDE)),
        steps=tuple(Option(step.value, follow_up_words(step), False) for step in FollowUp),
        latest_due=day_words(decided.in_time_until),
        notes=note_lines(said, view.notes, now),
        person=person,
    )


def _missing_line(card: CartonCard, outlook: CartonOutlook, positions: int) -> MissingLine:
    overdue = outlook.status is CartonStatus.OVERDUE and not outlook.settled
    waits = weight_words(outlook.missing, positions)
    return MissingLine(card, waits, outlook_words(outlook), outlook.settled, overdue)
