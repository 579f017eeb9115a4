"""A change of the plan by hand: what it would cost, before it is kept."""

from dataclasses import dataclass, fields
from typing import ClassVar

from receiving.messages import Message, Text, message
from receiving.model import ChangeCost
from receiving.service import PlanChange
from receiving.wording import term
from web.pages.tone import Tone


@dataclass(frozen=True)
class ChangePage:
    """What a change would cost, with the choice to keep it."""

    template: ClassVar[str] = "plan_change.html"

    shipment: str
    store: str
    carton: str
    trip: str
    bay: str
    sentence: Text
    tone: Tone
    word: Text
    cost: Text
    cautions: tuple[Text, ...]

    title: ClassVar[Text] = message("Change of the plan")


@dataclass(frozen=True)
class ChangePart(ChangePage):
    """The same as a part of the plan's page."""

    template: ClassVar[str] = "_plan_change.html"


def change_page(change: PlanChange) -> ChangePage:
    """The cost of a change as a page."""
    cost = change.cost
    tone, word = _verdict(cost)
    return ChangePage(
        shipment=change.manifest.shipment,
        store=change.manifest.store,
        carton=change.carton,
        trip=change.trip,
        bay=change.bay,
        sentence=_sentence(change),
        tone=tone,
        word=word,
        cost=cost.words,
        cautions=tuple(caution.text for caution in cost.cautions),
    )


def change_part(page: ChangePage) -> ChangePart:
    """The same change, to be shown in the plan's page."""
    return ChangePart(**{each.name: getattr(page, each.name) for each in fields(page)})


def _sentence(change: PlanChange) -> Message:
    known = change.manifest.find(change.carton)
    carton: Text = message("{carton} ({kind})", carton=change.carton, kind=term(known.kind)) if known else change.carton
    trip, bay = change.trip, change.bay
    if trip and bay:
        return message(
            "Carton {carton} rides on trip {trip} and stands at bay {bay}.", carton=carton, trip=trip, bay=bay
        )
    if trip:
        return message("Carton {carton} rides on trip {trip}.", carton=carton, trip=trip)
    return message("Carton {carton} stands at bay {bay}.", carton=carton, bay=bay)


def _verdict(cost: ChangeCost) -> tuple[Tone, Message]:
    if cost.cautions:
        return Tone.DAMAGED, message("Take care")
    if max(cost.trips, cost.stops, cost.walk_m) > 0:
        return Tone.QUESTION, message("More work")
    less = min(cost.trips, cost.stops, cost.walk_m) < 0
    return Tone.HERE, message("Less work") if less else message("No more work")
