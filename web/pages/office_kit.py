"""The kit of a programme: where each item hangs, as a table and as text to edit."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Message, Text, message, plural
from receiving.service import KitPlace
from receiving.wording import term
from web.pages.office_texts import Editor

MOST_SHOWN = 300


@dataclass(frozen=True)
class KitLine:
    """One place of one item; column and row are empty where it is for the whole section."""

    item: str
    description: str
    kind: Text
    section: str
    column: str
    row: str
    open_first: bool


@dataclass(frozen=True)
class KitPage:
    """The kit in use; ``more`` counts the lines that the table leaves out."""

    template: ClassVar[str] = "office_kit.html"

    sentence: Text
    lines_words: Text
    lines: tuple[KitLine, ...]
    more: int
    editor: Editor

    title: ClassVar[Text] = message("Kit")


def kit_page(in_use: Iterable[KitPlace], typed: Iterable[KitPlace], editor: Editor) -> KitPage:
    """The page of the kit; ``typed`` are the places of the text in the editor, where it can be read."""
    in_use = tuple(in_use)
    places = tuple(typed) or in_use
    return KitPage(
        sentence=_sentence(in_use),
        lines_words=message("Items and their places")
        if places == in_use
        else message("Items of the text below, not saved yet"),
        lines=tuple(_line(place) for place in places[:MOST_SHOWN]),
        more=max(0, len(places) - MOST_SHOWN),
        editor=editor,
    )


def _sentence(places: tuple[KitPlace, ...]) -> Message:
    if not places:
        return message("No kit is loaded. A ship notice that carries no addresses gets them from it.")
    items = len({place.item.casefold() for place in places})
    sections = len({place.section.casefold() for place in places if place.section})
    return message(
        "{items} in {places} of {sections}.",
        items=plural(items, "{number} item", "{number} items"),
        places=plural(len(places), "{number} place", "{number} places"),
        sections=plural(sections, "{number} section", "{number} sections"),
    )


def _line(place: KitPlace) -> KitLine:
    column, row = (str(place.address.column), str(place.address.row)) if place.address else ("", "")
    kind = term(place.kind) if place.kind else ""
    return KitLine(place.item, place.description, kind, place.section, column, row, place.open_first)
