"""The kit of a programme: where each item hangs, as a table and as text to edit."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.service import KitPlace
from receiving.wording import term
from web.pages.office_texts import Editor
from web.pages.words import counted

MOST_SHOWN = 300


@dataclass(frozen=True)
class KitLine:
    """One place of one item; column and row are empty where it is for the whole section."""

    item: str
    description: str
    kind: str
    section: str
    column: str
    row: str
    open_first: bool


@dataclass(frozen=True)
class KitPage:
    """The kit in use; ``more`` counts the lines that the table leaves out."""

    template: ClassVar[str] = "office_kit.html"

    sentence: str
    lines_words: str
    lines: tuple[KitLine, ...]
    more: int
    editor: Editor

    title: ClassVar[str] = "Kit"


def kit_page(in_use: Iterable[KitPlace], typed: Iterable[KitPlace], editor: Editor) -> KitPage:
    """The page of the kit; ``typed`` are the places of the text in the editor, where it can be read."""
    in_use = tuple(in_use)
    places = tuple(typed) or in_use
    return KitPage(
        sentence=_sentence(in_use),
        lines_words="Items and their places" if places == in_use else "Items of the text below, not saved yet",
        lines=tuple(_line(place) for place in places[:MOST_SHOWN]),
        more=max(0, len(places) - MOST_SHOWN),
        editor=editor,
    )


def _sentence(places: tuple[KitPlace, ...]) -> str:
    if not places:
        return "No kit is loaded. A ship notice that carries no addresses gets them from it."
    items = len({place.item.casefold() for place in places})
    sections = len({place.section.casefold() for place in places if place.section})
    return f"{counted(items, 'item')} in {counted(len(places), 'place')} of {counted(sections, 'section')}."


def _line(place: KitPlace) -> KitLine:
    column, row = (str(place.address.column), str(place.address.row)) if place.address else ("", "")
    kind = str(term(place.kind)) if place.kind else ""
    return KitLine(place.item, place.description, kind, place.section, column, row, place.open_first)
