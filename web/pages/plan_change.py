"""A change of the plan by hand: what it would cost, before it is kept."""

from dataclasses import dataclass, fields
from typing import ClassVar

from receiving.messages import Message, Text, message
from receiving.model import ChangeCost
from receiving.service import ShipmentView
from receiving.wording import term
from web.pages.cartons import bays_by_carton
from web.pages.tone import Tone


@dataclass(frozen=True)
class Wanted:
    """The change that a person wants; ``trip`` and ``bay`` are empty where they stay to the plan."""

    carton: str
    trip: str
    bay: str

    @property
    def fields(self) -> dict[str, str]:
        """The fields of the note that would keep it."""
        return {name: value for name, value in vars(self).items() if value}


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


def wanted_change(view: ShipmentView, carton: str, trip: str, bay: str) -> Wanted:
    """The change as chosen in the form: what is chosen as planned stays to the plan, unless nothing else was chosen."""
    planned_trip = next((str(each.trip) for each in view.plan.trips if carton in each.cartons), "")
    planned_bay = bays_by_carton(view.plan).get(carton, "")
    changed = Wanted(carton, trip if trip != planned_trip else "", bay if bay != planned_bay else "")
    return changed if changed.trip or changed.bay else Wanted(carton, trip, bay)


def change_page(view: ShipmentView, wanted: Wanted, cost: ChangeCost) -> ChangePage:
    """The cost of a change as a page."""
    tone, word = _verdict(cost)
    return ChangePage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        carton=wanted.carton,
        trip=wanted.trip,
        bay=wanted.bay,
        sentence=_sentence(view, wanted),
        tone=tone,
        word=word,
        cost=cost.words,
        cautions=tuple(caution.text for caution in cost.cautions),
    )


def change_part(page: ChangePage) -> ChangePart:
    """The same change, to be shown in the plan's page."""
    return ChangePart(**{each.name: getattr(page, each.name) for each in fields(page)})


def _sentence(view: ShipmentView, wanted: Wanted) -> Message:
    known = view.manifest.find(wanted.carton)
    carton: Text = message("{carton} ({kind})", carton=wanted.carton, kind=term(known.kind)) if known else wanted.carton
    trip, bay = wanted.trip, wanted.bay
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
