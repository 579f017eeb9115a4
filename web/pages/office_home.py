"""The office: the way to every list that people keep, and to the papers of each shipment."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.service import StoreLayout, VoidedShipment
from web.pages.office_void import voided_words
from web.pages.tone import Tone
from web.pages.words import counted


@dataclass(frozen=True)
class StoreLine:
    """A store with its shipments, and whether its layout is known."""

    store: str
    shipments: tuple[str, ...]
    tone: Tone
    word: str


@dataclass(frozen=True)
class VoidedLine:
    """A voided shipment, and since when, by whom and why."""

    shipment: str
    words: str


@dataclass(frozen=True)
class OfficePage:
    """Where the office starts; ``without`` counts the stores that have no layout yet."""

    template: ClassVar[str] = "office_home.html"

    patterns: str
    kit: str
    parts_list: str
    stores: tuple[StoreLine, ...]
    without: int
    voided: tuple[VoidedLine, ...]

    title: ClassVar[str] = "Office"


def office_page(
    stores: Iterable[StoreLayout],
    voided: Iterable[VoidedShipment],
    *,
    shipped: bool,
    kit_places: int,
    usual_parts: bool,
    now: datetime,
) -> OfficePage:
    """The office at a glance."""
    lines = tuple(_store(store) for store in stores)
    return OfficePage(
        patterns="The shipped ones are in use." if shipped else "Your own are in use.",
        kit=f"{counted(kit_places, 'place')} of items." if kit_places else "No kit is loaded.",
        parts_list="The usual one is in use." if usual_parts else "Your own is in use.",
        stores=lines,
        without=sum(line.tone is Tone.QUESTION for line in lines),
        voided=tuple(VoidedLine(each.shipment, voided_words(each, now)) for each in voided),
    )


def _store(store: StoreLayout) -> StoreLine:
    if store.bays is None:
        return StoreLine(store.store, store.shipments, Tone.QUESTION, "No layout yet")
    return StoreLine(store.store, store.shipments, Tone.HERE, f"Layout: {counted(store.bays, 'bay')}")
