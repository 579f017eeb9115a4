"""The kit of a programme: where each item hangs, as a table and as text to edit, and what it would move.

What it would move is in shipments that are loaded already.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from receiving.messages import Message, Text, message, plural
from receiving.service import KitMove, KitMoves, KitPlace
from receiving.wording import term
from web.pages.office_texts import Editor
from web.pages.words import visit_words

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
        lines=tuple(_kit_line(place) for place in places[:MOST_SHOWN]),
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


def _kit_line(place: KitPlace) -> KitLine:
    column, row = (str(place.address.column), str(place.address.row)) if place.address else ("", "")
    kind = term(place.kind) if place.kind else ""
    return KitLine(place.item, place.description, kind, place.section, column, row, place.open_first)


@dataclass(frozen=True)
class MoveLine:
    """One shipment; ``ticked`` where its visit is still to come and the store has not confirmed it."""

    shipment: str
    store: str
    visit: Text
    confirmed: bool
    heading: Text
    changes: tuple[Text, ...]
    unclear: tuple[Text, ...]
    ticked: bool


@dataclass(frozen=True)
class KitMovesPage:
    """All shipments that the kit would change; ``seen`` stands for exactly this page."""

    template: ClassVar[str] = "office_kit_moves.html"

    lines: tuple[MoveLine, ...]
    seen: str
    movable: int
    done: Text

    title: ClassVar[Text] = message("New places from the kit")


def kit_moves_page(found: KitMoves, today: date, *, moved: int = 0) -> KitMovesPage:
    """The page of what the kit would change; ``moved`` shipments were changed just now."""
    return KitMovesPage(
        lines=tuple(_move_line(move, today) for move in found.moves),
        seen=found.seen,
        movable=sum(bool(move.changes) for move in found.moves),
        done=_done(moved) if moved else "",
    )


def _done(moved: int) -> Message:
    return plural(
        moved,
        "{number} shipment changed; each has a new revision.",
        "{number} shipments changed; each has a new revision.",
    )


def _move_line(move: KitMove, today: date) -> MoveLine:
    to_come = move.dispatch_date is None or move.dispatch_date >= today
    return MoveLine(
        shipment=move.shipment,
        store=move.store,
        visit=visit_words(move.dispatch_date, today),
        confirmed=move.confirmed,
        heading=plural(len(move.changes), "{number} carton changes", "{number} cartons change"),
        changes=move.changes,
        unclear=move.unclear,
        ticked=to_come and not move.confirmed,
    )
