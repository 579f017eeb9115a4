"""The office: the way to every list that people keep, and to the papers of each shipment."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar
from urllib.parse import urlencode

from receiving.messages import Text, message, plural
from receiving.service import OfficeView, StoreLayout
from web.pages.office_manifest import voided_words
from web.pages.tone import Tone


@dataclass(frozen=True)
class StoreLine:
    """A store with its shipments, and whether its layout is known."""

    store: str
    shipments: tuple[str, ...]
    tone: Tone
    word: Text


@dataclass(frozen=True)
class VoidedLine:
    """A voided shipment, and since when, by whom and why."""

    shipment: str
    words: Text


@dataclass(frozen=True)
class OfficeHomePage:
    """Where the office starts; ``without`` counts the stores that have no layout yet.

    ``found`` stores hold the ``words``; ``before`` and ``after`` are the addresses of the pages around this one.
    """

    template: ClassVar[str] = "office_home.html"

    patterns: Text
    kit: Text
    parts_list: Text
    stores: tuple[StoreLine, ...]
    without: int
    found: int
    words: str
    before: str
    after: str
    voided: tuple[VoidedLine, ...]

    title: ClassVar[Text] = message("Office")


def office_page(
    found: OfficeView,
    *,
    now: datetime,
    words: str = "",
) -> OfficeHomePage:
    """The office at a glance."""
    listed = found.layouts
    return OfficeHomePage(
        patterns=message("The built-in ones are in use.")
        if found.shipped_patterns
        else message("Your own are in use."),
        kit=plural(found.kit_places, "{number} place of items.", "{number} places of items.")
        if found.kit_places
        else message("No kit is loaded."),
        parts_list=message("The usual one is in use.") if found.usual_parts else message("Your own is in use."),
        stores=tuple(_store(store) for store in listed.stores),
        without=listed.without,
        found=listed.wanted,
        words=words,
        before=_address(words, listed.number - 1) if listed.number > 1 else "",
        after=_address(words, listed.number + 1) if listed.number < listed.pages else "",
        voided=tuple(VoidedLine(each.shipment, voided_words(each, now)) for each in found.voided),
    )


def _address(words: str, page: int) -> str:
    fields = {"q": words, "page": str(page)}
    return f"?{urlencode({name: value for name, value in fields.items() if value})}#stores"


def _store(store: StoreLayout) -> StoreLine:
    if store.bays is None:
        return StoreLine(store.store, store.shipments, Tone.QUESTION, message("No layout yet"))
    bays = plural(store.bays, "Layout: {number} bay", "Layout: {number} bays")
    return StoreLine(store.store, store.shipments, Tone.HERE, bays)
