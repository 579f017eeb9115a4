"""What opened cartons hold, and how far a section can be set with it now.

Content lines and their parts are counted, less what is damaged; per bay, what hangs where, and which positions wait for
which missing carton. The parts list is given as rows that a person edits, and back, with every fault named.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from receiving.errors import BadRequest, FieldFault
from receiving.matching.allocation import settable_positions
from receiving.matching.presence import notes_in_force, of_kind
from receiving.messages import figure, message, plural
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    CartonState,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Layout,
    Manifest,
    Note,
    Reconciliation,
)
from receiving.model.contents import (
    USUAL_PARTS,
    BaySheet,
    BaySheetRow,
    BayState,
    CountedLine,
    Part,
    PartsList,
    PositionNeed,
    SectionState,
    SheetItem,
)

PACK = re.compile(r"pack of ([1-9]\d{0,4})", re.IGNORECASE)
OF_THE_FIXTURE = (Damage.EXISTING_WORN, Damage.EXISTING_MISSING)


def counted_lines(
    manifest: Manifest, reconciliation: Reconciliation, notes: Iterable[Note] = (), parts: PartsList = USUAL_PARTS
) -> tuple[CountedLine, ...]:
    """Every part of every content line: wanted, here, usable, in manifest order.

    A carton that is here and was not counted is taken to hold what the manifest says; ``counted`` tells the two
    apart. The last count of a line holds. Damage that leaves a thing unusable takes it from ``usable``.
    """
    in_force = notes_in_force(notes)
    here = {f.carton.carton for f in reconciliation.cartons if f.state is CartonState.RECEIVED}
    lines = [line for carton in manifest for line in _lines(carton, carton.carton in here, parts)]
    for note in of_kind(in_force, ContentCounted):
        lines = _with_count(lines, note, manifest)
    for damage in of_kind(in_force, DamageNoted):
        if _breaks(damage):
            lines = _with_damage(lines, damage, manifest)
    return tuple(lines)


def last_damage(line: CountedLine, damages: Sequence[DamageNoted], manifest: Manifest) -> DamageNoted:
    """The last damage noted of a line that has unusable things: arrived damaged, then found to be the wrong item."""
    return next(
        damage
        for damage in reversed(damages)
        if _breaks(damage) and _chosen([line], manifest, damage.carton, damage.item, _address(damage))
    )


def _breaks(damage: DamageNoted) -> bool:
    """It leaves what came unusable, not what the fixture has already."""
    return not damage.usable and damage.reason not in OF_THE_FIXTURE


def position_needs(
    manifest: Manifest, notes: Iterable[Note] = (), parts: PartsList = USUAL_PARTS
) -> tuple[PositionNeed, ...]:
    """What each planogram position takes: all content lines addressed to it, and what is worn or gone there.

    Sorted by section, column, row.
    """
    needs: dict[Address, dict[str, tuple[int, tuple[str, ...]]]] = defaultdict(dict)
    for carton in manifest:
        for line in carton.contents:
            if line.address is not None:
                for part, stock, qty in _parts_of(carton, line, parts):
                    _add(needs[line.address], stock, qty, _will_do(stock, part, parts))
    for note in of_kind(notes_in_force(notes), DamageNoted):
        if note.reason in OF_THE_FIXTURE and note.column and note.row and not note.usable:
            address = _one_of(needs, Address(note.section, note.column, note.row))
            item = note.item or "fixture part"
            _add(needs[address], item, note.qty, _will_do(item, item.casefold(), parts))
    return tuple(
        PositionNeed(address, tuple((stock, qty, will_do) for stock, (qty, will_do) in needs[address].items()))
        for address in sorted(needs)
    )


def stock_of(lines: Iterable[CountedLine]) -> tuple[tuple[str, int], ...]:
    """How many usable pieces of each stock are here, sorted by name."""
    found: dict[str, int] = defaultdict(int)
    for line in lines:
        found[line.stock] += line.usable
    return tuple(sorted((stock, qty) for stock, qty in found.items() if qty))


def pack_size(line: ContentLine) -> int:
    """How many pieces one counted thing of this line is: N for the unit "pack of N", else 1.

    >>> pack_size(ContentLine(item="CC-1", qty=2, unit="pack of 12"))
    12
    """
    pack = PACK.fullmatch(line.unit.strip())
    return int(pack[1]) if pack else 1


def _lines(carton: Carton, is_here: bool, parts: PartsList) -> Iterable[CountedLine]:
    for number, line in enumerate(carton.contents):
        for part, stock, qty in _parts_of(carton, line, parts):
            found = qty if is_here else 0
            yield CountedLine(carton.carton, number, part, stock, qty, found, found, False, line.section, line.address)


def _parts_of(carton: Carton, line: ContentLine, parts: PartsList) -> Iterable[tuple[str, str, int]]:
    """Each part of a content line: its name, the stock that it belongs to, and how many."""
    qty = (line.qty or 1) * pack_size(line)
    made_of = parts.parts_of(carton.kind)
    if not made_of:
        yield _whole(carton, line, parts), _whole(carton, line, parts), qty
    for part in made_of:
        yield part.name, _part_stock(line, part), qty * part.qty


def _whole(carton: Carton, line: ContentLine, parts: PartsList) -> str:
    """The stock of a line that is counted whole; loose parts go by the part's name, so that they serve as spares."""
    name = line.description.strip().casefold()
    known = {part.name.casefold() for _, made_of in parts.kinds for part in made_of if not part.of_position}
    if line.address is None and (name in known or name.removesuffix("s") in known):
        return name if name in known else name.removesuffix("s")
    where = f" for {line.address}" if line.address is not None else f" of {line.section}" if line.section else ""
    return line.item or line.description or f"{carton.kind.printed}{where}"


def _part_stock(line: ContentLine, part: Part) -> str:
    """Parts of one item are interchangeable; what is made for a position, or is of no known item, is not."""
    if (part.of_position or not line.item) and line.address is not None:
        return f"{part.name} for {line.address}"
    return f"{line.item} {part.name}".strip()


def _will_do(stock: str, part: str, parts: PartsList) -> tuple[str, ...]:
    """The stock that fills a need, the best first: its own, loose parts of that name, listed spares."""
    bound = any(p.of_position and p.name == part for _, made_of in parts.kinds for p in made_of)
    loose = () if bound else (part,)
    return tuple(dict.fromkeys((stock, *loose, *parts.spares_for(part), *parts.spares_for(stock))))


def _add(needs: dict[str, tuple[int, tuple[str, ...]]], stock: str, qty: int, will_do: tuple[str, ...]) -> None:
    before = needs[stock][0] if stock in needs else 0
    needs[stock] = (before + qty, will_do)


def _one_of(needs: Iterable[Address], address: Address) -> Address:
    """The manifest's own address for one that leaves the section out, where only one fits."""
    fitting = [own for own in needs if own.fits(address)]
    return fitting[0] if len(fitting) == 1 else address


def _with_count(lines: Sequence[CountedLine], note: ContentCounted, manifest: Manifest) -> list[CountedLine]:
    chosen = _chosen(lines, manifest, note.carton, note.item, _address(note))
    if not note.item and note.qty is None:
        full = {n: lines[n].wanted for n in chosen}
        return [replace(x, here=full[n], usable=full[n], counted=True) if n in full else x for n, x in enumerate(lines)]
    counts = _shared_out([(n, _each(lines[n], note.item, manifest)) for n in chosen], lines, note.qty or 0)
    return [
        replace(x, here=counts[n], usable=counts[n], counted=True) if n in counts else x for n, x in enumerate(lines)
    ]


def _shared_out(chosen: Sequence[tuple[int, int]], lines: Sequence[CountedLine], qty: int) -> dict[int, int]:
    """A count of items shared over the lines in order, each filled before the next; any surplus on the last."""
    counts: dict[int, int] = {}
    left: dict[str, int] = {}
    last: dict[str, int] = {}
    for n, each in chosen:
        part = lines[n].part
        have = left.get(part, qty * each)
        counts[n] = min(have, lines[n].wanted)
        left[part], last[part] = have - counts[n], n
    for part, n in last.items():
        counts[n] += left[part]
    return counts


def _with_damage(lines: Sequence[CountedLine], note: DamageNoted, manifest: Manifest) -> list[CountedLine]:
    address = _address(note)
    result = list(lines)
    whole_carton = not note.item and address is None
    left: dict[str, int] = {}
    for n in _chosen(lines, manifest, note.carton, note.item, address):
        line = result[n]
        broken = line.usable if whole_carton else left.get(line.part, note.qty * _each(line, note.item, manifest))
        taken = min(line.usable, broken)
        left[line.part] = broken - taken
        result[n] = replace(line, usable=line.usable - taken)
    return result


def _chosen(
    lines: Sequence[CountedLine], manifest: Manifest, carton: str, item: str, address: Address | None
) -> list[int]:
    """The lines that a note speaks of: by carton, by item or part, by address, as far as each is given."""
    wanted = item.casefold()
    return [
        n
        for n, line in enumerate(lines)
        if (not carton or line.carton == carton)
        and (carton or address is not None)
        and (not item or wanted in (_item(line, manifest), line.part.casefold(), line.stock.casefold()))
        and (address is None or (line.address is not None and line.address.fits(address)))
    ]


def _item(line: CountedLine, manifest: Manifest) -> str:
    carton = manifest.find(line.carton)
    return carton.contents[line.line].item.casefold() if carton is not None else ""


def _each(line: CountedLine, item: str, manifest: Manifest) -> int:
    """How many of this part one counted thing has: counting trays counts their parts, counting a part only itself."""
    carton = manifest.find(line.carton)
    if carton is None or not item or item.casefold() != _item(line, manifest):
        return 1
    return max(1, line.wanted // (carton.contents[line.line].qty or 1))


def _address(note: ContentCounted | DamageNoted) -> Address | None:
    return Address(note.section, note.column, note.row) if note.column and note.row else None


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


Row = tuple[str, str, str, str]
"""Kind of carton, part, quantity in each item, "yes" when the part is made for one position."""


def parts_rows(parts: PartsList) -> tuple[Row, ...]:
    """The parts list as rows, in its own order; spares are not in them."""
    return tuple(
        (kind.value, part.name, str(part.qty), "yes" if part.of_position else "no")
        for kind, made_of in parts.kinds
        for part in made_of
    )


def parts_list(rows: Iterable[Row], spares: tuple[tuple[str, tuple[str, ...]], ...] = ()) -> PartsList:
    """The parts list of these rows; raises `BadRequest` that names every faulty row.

    >>> parts_rows(parts_list([("tray", "clear cover", "2", "no")]))
    (('tray', 'clear cover', '2', 'no'),)
    """
    kinds: dict[CartonKind, list[Part]] = {}
    faults: list[FieldFault] = []
    for number, row in enumerate(rows, start=1):
        found = _wrong(row)
        faults += [FieldFault(each.field, each.message, str(number)) for each in found]
        if found:
            continue
        kind, part = _part(row)
        if any(part.name.casefold() == other.name.casefold() for other in kinds.get(kind, ())):
            twice = message(
                "part {part} of kind {kind} is listed twice; add the quantities up",
                part=repr(part.name),
                kind=repr(kind.printed),
            )
            faults.append(FieldFault("part", twice, str(number)))
        kinds.setdefault(kind, []).append(part)
    if faults:
        raise BadRequest(
            plural(len(faults), "The parts list has {number} fault.", "The parts list has {number} faults."),
            next_step=message("Correct the rows named; nothing was changed."),
            fields=tuple(
                FieldFault(each.field, message("Row {row}: {fault}.", row=each.which, fault=each.message), each.which)
                for each in faults
            ),
        )
    return PartsList(tuple((kind, tuple(made_of)) for kind, made_of in kinds.items()), spares)


_KINDS = {kind.value: kind for kind in CartonKind} | {kind.printed: kind for kind in CartonKind}
MOST_QTY = 999_999


def _wrong(row: Row) -> list[FieldFault]:
    """What is wrong with a row, at which cell."""
    kind, name, qty, of_position = (cell.strip() for cell in row)
    faults = []
    if kind.casefold() not in _KINDS:
        known = ", ".join(each.printed for each in CartonKind)
        faults.append(FieldFault("kind", message("kind {kind} is not one of {known}", kind=repr(kind), known=known)))
    if not name:
        faults.append(FieldFault("part", message("the part has no name")))
    if not (qty.isascii() and qty.isdigit() and 1 <= int(qty[:7]) <= MOST_QTY):
        words = message("quantity {qty} is not a whole number from 1 to {most}", qty=repr(qty), most=figure(MOST_QTY))
        faults.append(FieldFault("qty", words))
    if of_position.casefold() not in ("yes", "no", ""):
        words = message("{said} for 'made for one position' is neither yes nor no", said=repr(of_position))
        faults.append(FieldFault("of_position", words))
    return faults


def _part(row: Row) -> tuple[CartonKind, Part]:
    kind, name, qty, of_position = (cell.strip() for cell in row)
    return _KINDS[kind.casefold()], Part(name, int(qty), of_position.casefold() == "yes")
