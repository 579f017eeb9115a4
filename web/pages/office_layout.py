"""The layout of a store: its bays and columns as a table, and its text to edit."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Message, Text, message, plural
from receiving.model import Bay, Layout
from receiving.service import aisle_before
from web.pages.office_texts import Editor
from web.units import both_lengths, distance, length, sizes, weight


@dataclass(frozen=True)
class BayLine:
    """One bay: the columns that hang in it, the floor kept for cartons before it, and its aisle."""

    bay: str
    section: str
    columns: tuple[int, ...]
    order: int
    width: Text
    floor: Text
    aisle: Text


@dataclass(frozen=True)
class LayoutPage:
    """A store's layout; ``assumed`` says what was assumed where the text is a proposal."""

    template: ClassVar[str] = "office_layout.html"

    store: str
    known: bool
    sentence: Text
    cart: Text
    bays: tuple[BayLine, ...]
    bays_words: Text
    assumed: tuple[Text, ...]
    editor: Editor

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Layout of store {store}", store=self.store)


def layout_page(
    store: str, layout: Layout | None, typed: Layout | None, editor: Editor, assumed: Iterable[Text] = ()
) -> LayoutPage:
    """The page of a store's layout; ``typed`` is that of the text in the editor, where it can be read."""
    shown = typed or layout
    lines = [_bay(bay, shown) for bay in sorted(shown.bays, key=lambda bay: bay.order)] if shown else []
    return LayoutPage(
        store=store,
        known=layout is not None,
        sentence=_sentence(layout),
        cart=_cart(layout) if layout else "",
        bays=tuple(lines),
        bays_words=message("Bays in use") if shown == layout else message("Bays of the text below, not saved yet"),
        assumed=tuple(assumed),
        editor=editor,
    )


def _sentence(layout: Layout | None) -> Message:
    if layout is None:
        return message("This store has no layout yet, so no bays can be named in its staging plans.")
    sections = len({bay.section.casefold() for bay in layout.bays})
    columns = sum(len(bay.columns) for bay in layout.bays)
    return message(
        "{bays}, {columns} in {sections}; {distance} from the back room.",
        bays=plural(len(layout.bays), "{number} bay", "{number} bays"),
        columns=plural(columns, "{number} column", "{number} columns"),
        sections=plural(sections, "{number} section", "{number} sections"),
        distance=distance(layout.walk_m),
    )


def _cart(layout: Layout) -> Message:
    cart = layout.cart
    return message(
        "The cart carries {weight} on {deck}, stacked up to {height}.",
        weight=weight(cart.max_load_kg),
        deck=sizes((cart.deck_length_cm, cart.deck_width_cm)),
        height=length(cart.stack_height_cm),
    )


def _bay(bay: Bay, layout: Layout) -> BayLine:
    floor = sizes((bay.staging_length_cm, bay.staging_depth_cm))
    return BayLine(bay.bay, bay.section, bay.columns, bay.order, length(bay.width_cm), floor, _aisle(bay, layout))


def _aisle(bay: Bay, layout: Layout) -> Message:
    """Its width, what must stay free, and what that leaves of the floor for cartons."""
    aisle = aisle_before(bay, layout)
    if aisle is None:
        return message("not measured")
    width, clear = length(aisle.width_cm), both_lengths(aisle.keep_clear_cm)
    if aisle.assumed:
        must = message("{width}; {clear} stay free, assumed", width=width, clear=clear)
    else:
        must = message("{width}; {clear} stay free", width=width, clear=clear)
    if aisle.floor_depth_cm < bay.staging_depth_cm:
        return message("{aisle}: cartons may take {depth} of depth", aisle=must, depth=length(aisle.floor_depth_cm))
    return must
