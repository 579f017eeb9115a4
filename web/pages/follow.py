"""Before the visit: what is done about each missing carton, and whether the rep is sent."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.model import CartonState, FollowUp, ShortageFollowed, VisitDecided
from receiving.service import DispatchRow, ShipmentView, day_words
from web.pages.cartons import CartonCard, Option, carton_card
from web.pages.notes import NoteLine, note_lines
from web.pages.words import visit_words

STEPS = (
    (FollowUp.ON_ITS_WAY, "Found, on its way"),
    (FollowUp.SENT_AGAIN, "Sent again"),
    (FollowUp.NOT_COMING, "Will not come"),
    (FollowUp.DONE_WITHOUT, "Do without"),
)


@dataclass(frozen=True)
class MissingLine:
    """A missing carton, what was done about it in words, and whether it need not hold the visit."""

    card: CartonCard
    followed: str
    settled: bool


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
    followed = {each.carton: each for each in view.row.followed}
    found = view.reconciliation
    said = (note for note in view.notes if isinstance(note, ShortageFollowed | VisitDecided))
    return FollowPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        visit=visit_words(view.row.visit_date, now.date()),
        advice=decided.advice,
        held=view.row.held,
        missing=tuple(
            MissingLine(carton_card(f, {}), followed[f.carton.carton].words, followed[f.carton.carton].settled)
            for f in found.in_state(CartonState.SHORT)
        ),
        inside=len(found.in_state(CartonState.INSIDE)),
        steps=tuple(Option(step.value, words, False) for step, words in STEPS),
        latest_due=day_words(view.row.visit_date),
        notes=note_lines(said, view.notes, now),
        person=person,
    )
