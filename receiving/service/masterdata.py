"""What stores have layouts, what patterns make of an example, and a shipment's manifest as a file.

A store that has no layout is proposed a first one, made from what its manifests hang where; a person corrects it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from receiving.errors import NotFound
from receiving.expected import write_layout_toml, write_manifest_csv
from receiving.messages import Text, message
from receiving.model import (
    Bay,
    Layout,
    Manifest,
    Units,
)
from receiving.reading import PatternTrial, try_pattern
from receiving.reading.patterns import GROUPS
from receiving.service.context import Context
from receiving.service.counting import get_parts_table
from receiving.service.documents import KIT, PATTERNS, OpenText, get_text, get_value, name_layout, open_text, value_in
from receiving.service.manifest_revisions import VoidedShipment, list_voided_shipments
from receiving.staging import ASSUMED_CART
from receiving.store import DocumentKind
from receiving.wording import both_lengths_words, both_sizes_words, both_weights_words, distance_words

STORES_A_PAGE = 50


@dataclass(frozen=True)
class StoreLayout:
    """A store that shipments go to: their ids, and how many bays its layout has (None: it has no layout yet)."""

    store: str
    shipments: tuple[str, ...]
    bays: int | None


@dataclass(frozen=True)
class StoreLayouts:
    """A page of the stores that shipments go to: ``number`` of ``pages`` (from 1), ``wanted`` stores in all of them.

    ``without`` counts all stores that have no layout yet.
    """

    stores: tuple[StoreLayout, ...]
    number: int
    pages: int
    wanted: int
    without: int


@dataclass(frozen=True)
class OfficeView:
    """What the office keeps: whether patterns and parts list are the built-in ones, how many places the kit has."""

    layouts: StoreLayouts
    voided: tuple[VoidedShipment, ...]
    shipped_patterns: bool
    kit_places: int
    usual_parts: bool


def get_office_view(ctx: Context, words: str = "", page: int = 1) -> OfficeView:
    """The office at a glance, with the stores whose number or shipments hold these words, a page at a time."""
    with ctx.moment():
        kit = get_value(ctx, KIT)
        return OfficeView(
            list_store_layouts(ctx, words, page),
            list_voided_shipments(ctx),
            shipped_patterns=get_text(ctx, PATTERNS).shipped,
            kit_places=len(kit.places) if kit else 0,
            usual_parts=get_parts_table(ctx).usual,
        )


def list_store_layouts(ctx: Context, words: str = "", page: int = 1) -> StoreLayouts:
    """The stores whose number or shipments hold these words, those without a layout first, a page at a time."""
    with ctx.store() as store:
        going: dict[str, list[str]] = {}
        for record in store.shipments():
            going.setdefault(record.store, []).append(record.shipment)
        known = store.keys_of(DocumentKind.LAYOUT)
        asked = words.casefold().split()
        wanted = [name for name, ids in going.items() if _holds(asked, name, ids)]
        wanted.sort(key=lambda name: (name in known, name))
        pages = max(1, -(-len(wanted) // STORES_A_PAGE))
        page = min(max(page, 1), pages)
        shown = wanted[(page - 1) * STORES_A_PAGE : page * STORES_A_PAGE]
        layouts = {name: value_in(store, name_layout(name)) for name in shown}
    found = (StoreLayout(s, tuple(going[s]), len(kept.bays) if (kept := layouts[s]) else None) for s in shown)
    return StoreLayouts(tuple(found), page, pages, len(wanted), len(going.keys() - known))


def _holds(words: list[str], store: str, shipments: list[str]) -> bool:
    text = " ".join((store, *shipments)).casefold()
    return all(word in text for word in words)


def list_pattern_groups() -> tuple[str, ...]:
    """The named groups that a label pattern may have."""
    return GROUPS


def try_patterns(text: str, example: str) -> PatternTrial:
    """What these patterns make of a pasted example; stores nothing and raises nothing."""
    return try_pattern(text, example)


def make_manifest_csv(ctx: Context, shipment: str, revision: int | None = None) -> str:
    """The manifest of a shipment as CSV, of the current revision by default; imported again it changes nothing.

    Raises NotFound.
    """
    with ctx.store() as store:
        return write_manifest_csv([store.revision(shipment, revision).manifest])


COLUMNS_A_BAY = 3
BAY_WIDTH_CM, STAGING_LENGTH_CM, STAGING_DEPTH_CM = 122.0, 122.0, 60.0
WALK_M = 60.0
"""Sizes to be measured and corrected. A fixture bay of 4 ft (122 cm): common practice, no source."""
UNNAMED_SECTION = "Section"


@dataclass(frozen=True)
class LayoutProposal:
    """A layout as text to correct, and what was assumed in it, in sentences."""

    text: str
    assumed: tuple[Text, ...]


def open_layout(ctx: Context, store_id: str, number: int = 0) -> tuple[OpenText[Layout | None], tuple[Text, ...]]:
    """The layout of a store opened to edit, or where it never had one a proposal, with what was assumed in it.

    Raises NotFound for a version that never was.
    """
    with ctx.moment():
        found = open_text(ctx, name_layout(store_id), number)
        if found.versions:
            return found, ()
        try:
            proposal = get_layout_proposal(ctx, store_id)
        except NotFound:
            return found, ()
    return replace(found, text=proposal.text), proposal.assumed


def get_layout_proposal(ctx: Context, store_id: str) -> LayoutProposal:
    """A layout for this store, from the current manifests of its shipments; stores nothing. Raises NotFound."""
    with ctx.store() as store:
        own = [record.shipment for record in store.shipments() if record.store == store_id]
        manifests = tuple(store.revision(shipment).manifest for shipment in own)
    layout = propose_layout(store_id, manifests)
    if not layout.bays:
        raise NotFound(
            message("No manifest says what hangs in store {store_id}.", store_id=repr(store_id)),
            next_step=message("Import a manifest for it, or upload its layout."),
        )
    return LayoutProposal(write_layout_toml(layout), _assumed(layout))


def propose_layout(store_id: str, manifests: Iterable[Manifest]) -> Layout:
    """The sections that the manifests name, their columns split into bays; without bays where they name none."""
    bays = [
        Bay(f"B{order}", section, columns, order, BAY_WIDTH_CM, STAGING_LENGTH_CM, STAGING_DEPTH_CM)
        for order, (section, columns) in enumerate(
            ((section, bay) for section, used in _columns(manifests) for bay in _split(used)), start=1
        )
    ]
    return Layout(store_id, WALK_M, ASSUMED_CART, tuple(bays))


def _columns(manifests: Iterable[Manifest]) -> tuple[tuple[str, set[int]], ...]:
    """Each section with the columns that something hangs in; a section's first spelling counts."""
    found: dict[str, tuple[str, set[int]]] = {}
    for line in (line for manifest in manifests for carton in manifest for line in carton.contents):
        if line.section or line.address:
            name = line.section or UNNAMED_SECTION
            used = found.setdefault(name.casefold(), (name, set()))[1]
            used |= {line.address.column} if line.address else set()
    return tuple(found.values())


def _split(used: set[int]) -> tuple[tuple[int, ...], ...]:
    """Bays of three columns, counted from column 1, as far as the last column; one bay where no column is known."""
    last = max(used, default=1)
    starts = sorted({(column - 1) // COLUMNS_A_BAY * COLUMNS_A_BAY + 1 for column in used} or {1})
    return tuple(tuple(range(start, min(start + COLUMNS_A_BAY, last + 1))) for start in starts)


def _assumed(layout: Layout) -> tuple[Text, ...]:
    cart = layout.cart
    floor, deck = (
        both_sizes_words(sides)
        for sides in ((STAGING_LENGTH_CM, STAGING_DEPTH_CM), (cart.deck_length_cm, cart.deck_width_cm))
    )
    return (
        message("Up to {columns} columns hang in a bay, and bays are set in this order.", columns=COLUMNS_A_BAY),
        message(
            "A bay is {width} wide, with {floor} of floor in front of it.",
            width=both_lengths_words(BAY_WIDTH_CM),
            floor=floor,
        ),
        message(
            "The cart carries {load} on {deck}, stacked up to {height};"
            " the back room is {distance} ({distance_us}) away.",
            load=both_weights_words(cart.max_load_kg),
            deck=deck,
            height=both_lengths_words(cart.stack_height_cm),
            distance=distance_words(layout.walk_m),
            distance_us=distance_words(layout.walk_m, Units.US),
        ),
    )
