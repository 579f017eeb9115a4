"""The layout of a store: its bays and columns as a table, and its text to edit."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text
from receiving.model import Bay, Layout
from receiving.service import aisle_before
from web.pages.office_texts import Editor
from web.pages.words import counted
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
    aisle: str


@dataclass(frozen=True)
class LayoutPage:
    """A store's layout; ``assumed`` says what was assumed where the text is a proposal."""

    template: ClassVar[str] = "office_layout.html"

    store: str
    known: bool
    sentence: str
    cart: str
    bays: tuple[BayLine, ...]
    bays_words: str
    assumed: tuple[str, ...]
    editor: Editor

    @property
    def title(self) -> str:
        """The page's title."""
        return f"Layout of store {self.store}"


def layout_page(
    store: str, layout: Layout | None, typed: Layout | None, editor: Editor, assumed: Iterable[str] = ()
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
        bays_words="Bays in use" if shown == layout else "Bays of the text below, not saved yet",
        assumed=tuple(assumed),
        editor=editor,
    )


def _sentence(layout: Layout | None) -> str:
    if layout is None:
        return "This store has no layout yet, so no bays can be named in its staging plans."
    sections = len({bay.section.casefold() for bay in layout.bays})
    columns = sum(len(bay.columns) for bay in layout.bays)
    return (
        f"{counted(len(layout.bays), 'bay')}, {counted(columns, 'column')} in {counted(sections, 'section')}; "
        f"{distance(layout.walk_m)} from the back room."
    )


def _cart(layout: Layout) -> str:
    cart = layout.cart
    deck, height = sizes((cart.deck_length_cm, cart.deck_width_cm)), length(cart.stack_height_cm)
    return f"The cart carries {weight(cart.max_load_kg)} on {deck}, stacked up to {height}."


def _bay(bay: Bay, layout: Layout) -> BayLine:
    floor = sizes((bay.staging_length_cm, bay.staging_depth_cm))
    return BayLine(bay.bay, bay.section, bay.columns, bay.order, length(bay.width_cm), floor, _aisle(bay, layout))


def _aisle(bay: Bay, layout: Layout) -> str:
    """Its width, what must stay free, and what that leaves of the floor for cartons."""
    aisle = aisle_before(bay, layout)
    if aisle is None:
        return "not measured"
    keep = both_lengths(aisle.keep_clear_cm)
    must = f"{length(aisle.width_cm)}; {keep} stay free{', assumed' if aisle.assumed else ''}"
    if aisle.floor_depth_cm < bay.staging_depth_cm:
        return f"{must}: cartons may take {length(aisle.floor_depth_cm)} of depth"
    return must
