"""What stores have layouts, what patterns make of an example, and a shipment's manifest as a file."""

from dataclasses import dataclass

from receiving.expected import write_manifest_csv
from receiving.reading import PatternTrial, try_pattern
from receiving.reading.patterns import GROUPS
from receiving.service.context import Context
from receiving.service.counting import get_parts_table
from receiving.service.documents import KIT, PATTERNS, get_text, get_value, name_layout, value_in
from receiving.service.manifest_revisions import VoidedShipment, list_voided_shipments
from receiving.store import DocumentKind

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
    """What the office keeps: whether patterns and parts list are the shipped ones, how many places the kit has."""

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
