"""What hangs where in each bay, as the sheet that lies in front of it."""

from collections import defaultdict
from collections.abc import Iterable

from receiving.matching.section import section_state
from receiving.model import Address, CartonKind, ContentLine, Layout, Manifest, Note, Reconciliation
from receiving.model.contents import USUAL_PARTS, BaySheet, BaySheetRow, PartsList, SectionState

TRAYS = (CartonKind.TRAY, CartonKind.REPLACEMENT_TRAY)
GRAPHICS = (CartonKind.GRAPHIC, CartonKind.HEADER)
Listing = dict[CartonKind, list[tuple[str, ContentLine]]]


def bay_sheets(
    manifest: Manifest,
    reconciliation: Reconciliation,
    notes: Iterable[Note] = (),
    layout: Layout | None = None,
    *,
    parts: PartsList = USUAL_PARTS,
) -> tuple[BaySheet, ...]:
    """One sheet for each bay in setting order; without a layout, one for each section."""
    state = section_state(manifest, reconciliation, notes, layout, parts=parts)
    at: dict[Address, Listing] = defaultdict(lambda: defaultdict(list))
    wide: dict[str, list[str]] = defaultdict(list)
    for carton in manifest:
        for line in carton.contents:
            if line.address is not None:
                at[line.address][carton.kind].append((carton.carton, line))
            else:
                wide[line.section].append(f"{_words(line, carton.kind)} (carton {carton.carton})")
    addresses = [*state.settable, *(w.address for w in state.waiting)]
    sheets = []
    for bay in state.bays:
        own = [a for a in addresses if a.section == bay.section and _bay_of(a, layout) == bay.bay]
        rows = tuple(_row(a, at.get(a, {}), state) for a in sorted(own, key=lambda a: (a.row, a.column)))
        serving = tuple(wide[bay.section]) + (tuple(wide[""]) if bay.section else ())
        sheets.append(
            BaySheet(
                manifest.shipment,
                manifest.store,
                bay.bay,
                bay.section,
                rows,
                serving,
                bay.percent,
                bay.facings_percent,
            )
        )
    return tuple(sheets)


def _bay_of(address: Address, layout: Layout | None) -> str:
    bay = layout.bay_of(address) if layout is not None else None
    return bay.bay if bay is not None else ""


def _row(address: Address, listing: Listing, state: SectionState) -> BaySheetRow:
    def named(*kinds: CartonKind) -> tuple[str, ...]:
        return tuple(_words(line, kind) for kind in kinds for _, line in listing.get(kind, ()))

    others = tuple(kind for kind in CartonKind if kind not in (*TRAYS, *GRAPHICS, CartonKind.TAGS))
    lacking = next((w.parts for w in state.waiting if w.address == address), ())
    return BaySheetRow(
        address,
        named(*TRAYS),
        named(*others),
        named(*GRAPHICS),
        named(CartonKind.TAGS),
        tuple(dict.fromkeys(carton for found in listing.values() for carton, _ in found)),
        tuple(f"{qty} × {part}" for part, qty in lacking),
    )


def _words(line: ContentLine, kind: CartonKind) -> str:
    name = " ".join(part for part in (line.item, line.description) if part) or kind.words
    return f"{line.qty} × {name}" if line.qty and line.qty > 1 else name
