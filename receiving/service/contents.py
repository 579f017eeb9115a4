"""What is in the cartons, and which positions can be set with it."""

from dataclasses import dataclass

from receiving.closing import bay_sheets_pdf as print_bay_sheets
from receiving.matching import bay_sheets as sheets_of
from receiving.matching import counted_lines, section_state
from receiving.model.contents import USUAL_PARTS, BaySheet, CountedLine, PartsList, SectionState
from receiving.service.desk import Desk
from receiving.service.standing import standing
from receiving.store import DocumentKind, Store
from receiving.store.records import from_text, to_text


@dataclass(frozen=True)
class ContentsView:
    """Every content line of a shipment with its count, and how far its sections can be set."""

    lines: tuple[CountedLine, ...]
    section: SectionState
    parts: PartsList


def contents(desk: Desk, shipment: str) -> ContentsView:
    """What was counted in a shipment's cartons and what can be set with it. Raises NotFound."""
    with desk.store() as store:
        found, parts = standing(desk, store, store.shipment(shipment)), parts_of(store)
    return ContentsView(
        counted_lines(found.manifest, found.reconciliation, found.notes, parts),
        section_state(found.manifest, found.reconciliation, found.notes, found.layout, parts=parts),
        parts,
    )


def bay_sheets(desk: Desk, shipment: str) -> tuple[BaySheet, ...]:
    """One sheet for each bay: what hangs where, top to bottom, left to right. Raises NotFound."""
    with desk.store() as store:
        found, parts = standing(desk, store, store.shipment(shipment)), parts_of(store)
    return sheets_of(found.manifest, found.reconciliation, found.notes, found.layout, parts=parts)


def bay_sheets_pdf(desk: Desk, shipment: str, *, paper: str = "A4") -> bytes:
    """The bay sheets on paper. Raises NotFound."""
    return print_bay_sheets(bay_sheets(desk, shipment), paper=paper)


def parts_list(desk: Desk) -> PartsList:
    """What an item of each kind is made of."""
    with desk.store() as store:
        return parts_of(store)


def keep_parts_list(desk: Desk, parts: PartsList) -> None:
    """Store the parts list as the current one."""
    with desk.store() as store:
        store.add_document(DocumentKind.PARTS, "", to_text(parts), file_name="parts list", added_at=desk.now())


def parts_of(store: Store) -> PartsList:
    """The current parts list, the usual one where nobody has changed it."""
    document = store.document(DocumentKind.PARTS)
    return from_text(document.body, PartsList) if document else USUAL_PARTS
