"""How far a section can be set now, per bay, what hangs where, and which positions wait for which missing carton."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from receiving.matching.allocation import settable_positions
from receiving.matching.contents import counted_lines, position_needs, stock_of
from receiving.model import Address, CartonKind, CartonState, ContentLine, Layout, Manifest, Note, Reconciliation
from receiving.model.contents import (
    USUAL_PARTS,
    BaySheet,
    BaySheetRow,
    BayState,
    CountedLine,
    PartsList,
    PositionNeed,
    SectionState,
    SheetItem,
)

FACING_UNITS = ("facing", "facings")


def section_state(
    manifest: Manifest,
    reconciliation: Reconciliation,
    notes: Iterable[Note] = (),
    layout: Layout | None = None,
    *,
    parts: PartsList = USUAL_PARTS,
) -> SectionState:
    """Which positions can be set now and which wait, per bay, and the least to order so that all can.

    Where stock must be shared, the bay that is set first has it; in a bay top to bottom, left to right (a row
    counts from the top). A position's facings are its lines with unit "facings", or one where no line says so.
    """
    noted = tuple(notes)
    needs = sorted(position_needs(manifest, noted, parts), key=lambda need: _setting_order(need.address, layout))
    stock = stock_of(counted_lines(manifest, reconciliation, noted, parts))
    allocation = settable_positions(needs, stock)
    bays = _bays(needs, set(allocation.settable), _facings(manifest), layout)
    return SectionState(bays, allocation.settable, allocation.waiting, allocation.order, allocation.proven)


def _setting_order(address: Address, layout: Layout | None) -> tuple[float, str, str, int, int]:
    bay = layout.bay_of(address) if layout is not None else None
    order = bay.order if bay is not None else float("inf")
    return (order, bay.bay if bay is not None else "", address.section, address.row, address.column)


def _facings(manifest: Manifest) -> dict[Address, int]:
    found: dict[Address, int] = defaultdict(int)
    for line in (line for carton in manifest for line in carton.contents):
        if line.address is not None and line.unit.casefold() in FACING_UNITS:
            found[line.address] += line.qty or 1
    return found


def _bays(
    needs: Iterable[PositionNeed], settable: set[Address], facings: dict[Address, int], layout: Layout | None
) -> tuple[BayState, ...]:
    sums: dict[tuple[str, str], list[int]] = {}
    for need in needs:
        bay = layout.bay_of(need.address) if layout is not None else None
        key = (bay.bay if bay is not None else "", need.address.section)
        total = sums.setdefault(key, [0, 0, 0, 0])
        faces, done = facings.get(need.address) or 1, need.address in settable
        for n, value in enumerate((1, int(done), faces, faces if done else 0)):
            total[n] += value
    return tuple(BayState(bay, section, *total) for (bay, section), total in sums.items())


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
    wide: dict[str, list[tuple[SheetItem, str]]] = defaultdict(list)
    for carton in manifest:
        for line in carton.contents:
            if line.address is not None:
                at[line.address][carton.kind].append((carton.carton, line))
            else:
                wide[line.section].append((_sheet_item(line, carton.kind), carton.carton))
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
    def named(*kinds: CartonKind) -> tuple[SheetItem, ...]:
        return tuple(_sheet_item(line, kind) for kind in kinds for _, line in listing.get(kind, ()))

    others = tuple(kind for kind in CartonKind if kind not in (*TRAYS, *GRAPHICS, CartonKind.TAGS))
    lacking = next((w.parts for w in state.waiting if w.address == address), ())
    return BaySheetRow(
        address,
        named(*TRAYS),
        named(*others),
        named(*GRAPHICS),
        named(CartonKind.TAGS),
        tuple(dict.fromkeys(carton for found in listing.values() for carton, _ in found)),
        lacking,
    )


def _sheet_item(line: ContentLine, kind: CartonKind) -> SheetItem:
    return SheetItem(kind, line.item, line.description, line.qty)


# Which missing carton which planogram positions wait for.


def blocked_positions(
    state: SectionState,
    manifest: Manifest,
    reconciliation: Reconciliation,
    notes: Iterable[Note] = (),
    parts: PartsList = USUAL_PARTS,
) -> Mapping[str, int]:
    """How many waiting positions lack what is in each missing carton.

    A position waits for the carton that was packed for it, else for every carton that holds what it lacks or what
    will do for it: any of them would do.
    """
    noted = tuple(notes)
    gone = {finding.carton.carton for finding in reconciliation.in_state(CartonState.SHORT)}
    lines = [line for line in counted_lines(manifest, reconciliation, noted, parts) if line.carton in gone]
    waiting = Counter[str]()
    by_stock: dict[str, list[CountedLine]] = defaultdict(list)
    for line in lines:
        by_stock[line.stock].append(line)
    if not lines:
        return waiting
    serving = {need.address: _alternatives(need) for need in position_needs(manifest, noted, parts)}
    for lacking in state.waiting:
        own = serving.get(lacking.address, {})
        held = ([line for stock in own.get(part, (part,)) for line in by_stock[stock]] for part, _ in lacking.parts)
        waiting.update({carton for found in held for carton in _holders(found, lacking.address)})
    return waiting


def _alternatives(need: PositionNeed) -> dict[str, tuple[str, ...]]:
    return {stock: will_do for stock, _, will_do in need.parts}


def _holders(lines: list[CountedLine], address: Address) -> set[str]:
    own = {line.carton for line in lines if line.address == address}
    return own or {line.carton for line in lines}
