"""What is in the cartons, and which positions can be set with it."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving import closing
from receiving.errors import BadRequest
from receiving.matching import bay_sheets as sheets_of
from receiving.matching import counted_lines, parts_rows, section_state
from receiving.matching import parts_list as list_of_rows
from receiving.messages import ENGLISH, Speaker, message
from receiving.model import Manifest, Note, Reconciliation
from receiving.model.contents import USUAL_PARTS, BaySheet, CountedLine, PartsList, SectionState
from receiving.service.context import Context
from receiving.service.documents import TextDocument, add_text, get_value, list_text_versions, value_in
from receiving.service.snapshot import snapshot
from receiving.store import DocumentKind, Store
from receiving.store.records import from_text, to_text

MAX_PARTS = 300


def _read_parts(_: str, data: bytes) -> PartsList:
    return from_text(data.decode(), PartsList)


PARTS: TextDocument[PartsList] = TextDocument(DocumentKind.PARTS, _read_parts, lambda: USUAL_PARTS)


@dataclass(frozen=True)
class PartsTable:
    """The parts list as rows to edit: kind, part, quantity, and "yes" where the part is made for one position.

    ``usual`` while nobody has changed it; ``version`` is what a save has to follow.
    """

    rows: tuple[tuple[str, str, str, str], ...]
    usual: bool
    version: int


@dataclass(frozen=True)
class ContentsView:
    """Every content line of a shipment with its count, and how far its sections can be set."""

    manifest: Manifest
    reconciliation: Reconciliation
    notes: tuple[Note, ...]
    lines: tuple[CountedLine, ...]
    section: SectionState
    parts: PartsList


@dataclass(frozen=True)
class BaySheets:
    """The sheets of a shipment's bays, and the store that they hang in."""

    shipment: str
    store: str
    sheets: tuple[BaySheet, ...]


def get_contents(ctx: Context, shipment: str) -> ContentsView:
    """What was counted in a shipment's cartons and what can be set with it. Raises NotFound."""
    with ctx.moment() as store:
        found, parts = snapshot(ctx, store, store.shipment(shipment)), parts_of(store)
    return ContentsView(
        found.manifest,
        found.reconciliation,
        found.notes,
        counted_lines(found.manifest, found.reconciliation, found.notes, parts),
        section_state(found.manifest, found.reconciliation, found.notes, found.layout, parts=parts),
        parts,
    )


def list_bay_sheets(ctx: Context, shipment: str) -> BaySheets:
    """One sheet for each bay: what hangs where, top to bottom, left to right. Raises NotFound."""
    with ctx.moment() as store:
        found, parts = snapshot(ctx, store, store.shipment(shipment)), parts_of(store)
    sheets = sheets_of(found.manifest, found.reconciliation, found.notes, found.layout, parts=parts)
    return BaySheets(shipment, found.manifest.store, sheets)


def make_bay_sheets_pdf(ctx: Context, shipment: str, *, paper: str = "A4", speaker: Speaker = ENGLISH) -> bytes:
    """The bay sheets on paper. Raises NotFound."""
    return closing.bay_sheets_pdf(list_bay_sheets(ctx, shipment).sheets, paper=paper, speaker=speaker)


def get_parts_list(ctx: Context) -> PartsList:
    """What an item of each kind is made of."""
    return get_value(ctx, PARTS)


def save_parts_list(ctx: Context, parts: PartsList, *, follows: int | None = None) -> None:
    """Store the parts list as the current one. Raises Conflict when there are more versions than ``follows``."""
    add_text(ctx, PARTS, "parts list", to_text(parts).encode(), follows=follows)


def get_parts_table(ctx: Context) -> PartsTable:
    """The parts list in use, as rows to edit."""
    with ctx.moment():
        parts, version = get_value(ctx, PARTS), len(list_text_versions(ctx, PARTS))
    return PartsTable(parts_rows(parts), parts == USUAL_PARTS, version)


def save_parts_table(ctx: Context, rows: Iterable[tuple[str, str, str, str]], *, follows: int) -> None:
    """Store the parts list of these rows; which loose stock replaces a part stays as it was.

    Raises BadRequest that names every faulty row, and Conflict when somebody saved meanwhile.
    """
    rows = tuple(rows)
    if len(rows) > MAX_PARTS:
        raise BadRequest(
            message("The parts list has {number} parts.", number=len(rows)),
            next_step=message("Use {max_parts} at most.", max_parts=MAX_PARTS),
        )
    with ctx.transaction() as store:
        save_parts_list(ctx, list_of_rows(rows, parts_of(store).spares), follows=follows)


def reset_parts_list(ctx: Context, *, follows: int) -> None:
    """Use the usual parts list again. Raises Conflict when somebody saved meanwhile."""
    save_parts_list(ctx, USUAL_PARTS, follows=follows)


def parts_of(store: Store) -> PartsList:
    """The current parts list, the usual one where nobody has changed it."""
    return value_in(store, PARTS)
