"""Before the visit: what is done about each missing carton, and whether the rep is sent."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, joined, message
from receiving.model import CartonState, FollowUp, ShortageFollowed, VisitDecided
from receiving.service import (
    CartonOutlook,
    CartonStatus,
    Decision,
    OptionKind,
    TakenSwap,
    advice_words,
    chance_words,
    costs_words,
    day_words,
    follow_up_words,
    list_option_reasons,
    option_cost_words,
    option_words,
    order_words,
    outlook_words,
    terms_words,
    weight_words,
)
from receiving.service import Option as Choice
from web.pages.cartons import CartonCard, Option, carton_card
from web.pages.notes import NoteLine, note_lines
from web.pages.programme import swap_value
from web.pages.words import visit_words


@dataclass(frozen=True)
class MissingLine:
    """A missing carton, what waits for it, what was done about it, and whether it need not hold the visit."""

    card: CartonCard
    waits: Text
    order: Text
    followed: Text
    resolved: bool
    overdue: bool


@dataclass(frozen=True)
class OptionCard:
    """A choice for the visit; ``kind``, ``until``, ``remark`` and ``brought`` are what taking it notes."""

    title: Text
    cost: Text
    reasons: tuple[Text, ...]
    suggested: bool
    kind: str
    until: str
    remark: Text
    bring: Text
    brought: tuple[str, ...]


@dataclass(frozen=True)
class FollowPage:
    """What a coordinator settles before the rep is sent."""

    template: ClassVar[str] = "follow.html"

    shipment: str
    store: str
    visit: Text
    advice: Text
    held: bool
    missing: tuple[MissingLine, ...]
    inside: int
    options: tuple[OptionCard, ...]
    terms: Text
    chance: Text
    costs: Text
    steps: tuple[Option, ...]
    latest_due: Text
    notes: tuple[NoteLine, ...]
    person: str

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Before the visit to store {store}", store=self.store)


def follow_page(decision: Decision, *, now: datetime, person: str) -> FollowPage:
    """The page of one shipment; ``decision`` holds its row of the overview and the choices."""
    view, decided = decision.view, decision.decided
    outlooks = {each.missing.carton: each for each in decided.outlooks}
    found = view.reconciliation
    stated = (note for note in view.notes if isinstance(note, ShortageFollowed | VisitDecided))
    return FollowPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        visit=visit_words(view.row.visit_date, decided.today),
        advice=advice_words(decided),
        held=view.row.held,
        missing=tuple(
            _missing_line(carton_card(f, {}), outlooks[f.carton.carton], decision)
            for f in found.in_state(CartonState.SHORT)
        ),
        inside=len(found.in_state(CartonState.INSIDE)),
        options=tuple(_option(option, decision, n == 0) for n, option in enumerate(decision.options)),
        terms=terms_words(view.row.terms, decision.calendar, decided.today),
        chance=chance_words(decision.chance),
        costs=costs_words(decision.costs),
        steps=tuple(Option(step.value, follow_up_words(step), False) for step in FollowUp),
        latest_due=day_words(decided.in_time_until),
        notes=note_lines(stated, view.notes, now),
        person=person,
    )


def _missing_line(card: CartonCard, outlook: CartonOutlook, decision: Decision) -> MissingLine:
    overdue = outlook.status is CartonStatus.OVERDUE and not outlook.resolved
    waits = weight_words(outlook.missing, decision.decided.row.positions)
    order = order_words(decision.orders[outlook.missing.carton], outlook, decision)
    return MissingLine(card, waits, order, outlook_words(outlook), outlook.resolved, overdue)


def _option(option: Choice, decision: Decision, suggested: bool) -> OptionCard:
    swaps = {swap.want.carton: swap for swap in decision.swaps}
    return OptionCard(
        title=option_words(option, decision),
        cost=option_cost_words(option, decision.costs),
        reasons=list_option_reasons(option, decision),
        suggested=suggested,
        kind=option.kind.value,
        until=option.until.isoformat() if option.until else "",
        remark=_set_words(option, decision) if option.kind is OptionKind.GO_AND_SET else "",
        bring=_bring_words(option) if option.brought else "",
        brought=tuple(swap_value(TakenSwap.of(swaps[carton])) for carton, _ in option.brought),
    )


def _set_words(option: Choice, decision: Decision) -> Message:
    positions = decision.decided.row.positions
    return message(
        "set {settable} of {positions} positions", settable=round(option.share * positions), positions=positions
    )


def _bring_words(option: Choice) -> Message:
    each = (message("{carton} from store {store}", carton=carton, store=store) for carton, store in option.brought)
    return message("Bring {cartons}", cartons=joined(*each, separator=", "))
