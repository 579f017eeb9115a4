"""What opened cartons hold: content lines and their parts, counted, less what is damaged."""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from receiving.matching.ledger import notes_in_force, of_kind
from receiving.model import (
    Address,
    Carton,
    CartonState,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Manifest,
    Note,
    Reconciliation,
)
from receiving.model.contents import USUAL_PARTS, CountedLine, Part, PartsList, PositionNeed

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
        if not damage.usable and damage.reason not in OF_THE_FIXTURE:
            lines = _with_damage(lines, damage, manifest)
    return tuple(lines)


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
