"""Sections half here, counted and damaged, with what can be set and what is asked for as it was found right.

What is asked for is sent and paid for, so no upgrade may ask for more, for less or twice. Each section is drawn: trays
of four items in two bays, replacement trays, a header, spares, graphics; cartons that did not come, counts and damages
as people note them. Where a change is meant and better, look at the new ones and keep them with
``python tests/matching/approved_sections.py``.
"""

import random
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.matching import (
    IssuedRequest,
    bay_sheets,
    counted_lines,
    propose_request,
    reconcile,
    replacement_lines,
    section_state,
    stock_of,
)
from receiving.model import (
    Address,
    Bay,
    Cart,
    Carton,
    CartonKind,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Delivery,
    Layout,
    Manifest,
    Note,
)
from receiving.model.contents import BaySheetRow, SheetItem
from receiving.model.replacement import ReplacementLine, ReplacementRequest
from tests.matching.scenes import NOON, at, read, sscc

FOLDER = Path(__file__).with_name("approved_sections")
NAMES = [f"section-{n:02}" for n in range(16)]
LAYOUT = Layout(
    "0417",
    60,
    Cart(110, 120, 60, 100),
    (Bay("B1", "Oak", (1, 2), 2, 122, 200, 60), Bay("B2", "Oak", (3, 4), 1, 122, 200, 60)),
)


def _manifest(rng: random.Random) -> Manifest:
    def tray(number: int) -> Carton:
        cells = [at(rng.randint(1, 5), rng.randint(1, 3)) for _ in range(rng.randint(1, 3))]
        kind = rng.choice((CartonKind.TRAY, CartonKind.TRAY, CartonKind.REPLACEMENT_TRAY, CartonKind.HEADER))
        unit = rng.choice(("", "", "facings"))
        lines = (
            ContentLine("Oak", cell, f"TR-{rng.randint(1, 4)}", "tray", rng.choice((None, 1, 1, 2, 4)), unit)
            for cell in cells
        )
        return Carton(f"{number:02}", kind, sscc(1000 + number), contents=tuple(lines))

    spares = (
        ContentLine("Oak", item="PR-1", description="Price rails", qty=rng.randint(1, 4)),
        ContentLine("Oak", item="CL-9", description="Clips", qty=rng.choice((None, 1, 2)), unit="pack of 12"),
    )
    graphics = tuple(ContentLine("Oak", at(n, 1), f"GR-{n}", "graphic", 1) for n in rng.sample(range(1, 5), 2))
    return Manifest(
        "SH-1",
        "0417",
        (
            *map(tray, range(1, 7)),
            Carton("07", CartonKind.PARTS, sscc(1007), contents=spares),
            Carton("08", CartonKind.GRAPHIC, sscc(1008), contents=graphics),
            Carton("09", CartonKind.OTHER, sscc(1009)),
            Carton(
                "10",
                CartonKind.TAGS,
                sscc(1010),
                contents=(ContentLine("Oak", item="TAG", description="tag run", qty=30),),
            ),
        ),
    )


def _note(rng: random.Random, number: int, manifest: Manifest) -> Note:
    """A count or a damage of something of a carton, of one position or of all of it."""
    carton = rng.choice(manifest.cartons)
    line = rng.choice(carton.contents) if carton.contents else ContentLine()
    item = rng.choice((line.item, line.item, "", "graphic", "price rail", "base"))
    when, where = NOON + timedelta(minutes=number), line.address if rng.random() < 0.6 else None
    place = {"section": where.section, "column": where.column, "row": where.row} if where else {}
    if rng.random() < 0.5:
        return ContentCounted(f"n{number}", when, "Ana", carton.carton, item, rng.choice((None, 0, 1, 2)), **place)
    worn = rng.random() < 0.3 and where is not None
    reasons = (
        (Damage.EXISTING_WORN, Damage.EXISTING_MISSING) if worn else (Damage.ARRIVED, Damage.IN_WORK, Damage.WRONG_ITEM)
    )
    return DamageNoted(
        f"n{number}",
        when,
        "Ana",
        "" if worn else carton.carton,
        rng.choice(reasons),
        rng.random() < 0.2,
        item="LED strip" if worn else item,
        qty=rng.randint(1, 3),
        remark=rng.choice(("", "left end")),
        **place,
    )


def _line(line: ReplacementLine) -> str:
    place = _place(line.address) if line.address else line.section or "-"
    words = (f"{line.qty} ×", line.kind.value, line.item or "-", repr(line.description), place, line.reason.value)
    return " ".join((*words, f"carton {line.carton or '-'}", line.remark)).rstrip()


def _noted(note: Note) -> str:
    place = f"{note.column}/{note.row}" if getattr(note, "column", None) else "-"
    match note:
        case ContentCounted(carton=carton, item=item, qty=qty):
            return f"counted: carton {carton} {item or 'all'} at {place}: {qty}"
        case DamageNoted(carton=carton, item=item, qty=qty, reason=reason, usable=usable):
            return f"damaged: carton {carton or '-'} {item or '-'} at {place}: {qty}, {reason}, usable {usable}"
    raise AssertionError(note)


def _item(item: SheetItem) -> str:
    return f"{item.qty} × {item.kind} {item.item or '-'} {item.description!r}"


def _row(row: BaySheetRow) -> str:
    lists = (("trays", row.trays), ("parts", row.parts), ("graphics", row.graphics), ("tags", row.tags))
    held = "; ".join(f"{name}: {', '.join(map(_item, items))}" for name, items in lists if items)
    return f"{_place(row.address)} {held}; of {' '.join(row.cartons)}; waits for {_parts(row.waits_for) or 'nothing'}"


def _parts(parts: tuple[tuple[str, int], ...]) -> str:
    return ", ".join(f"{qty} × {part}" for part, qty in parts)


def _place(address: Address) -> str:
    return f"{address.column}/{address.row}"


def in_lines(name: str) -> Iterator[str]:
    """What is there, what can be set, and what is asked for, alone and beside a request that asks for half of it."""
    rng = random.Random(NAMES.index(name))
    manifest = _manifest(rng)
    reads = [read(n, sscc=carton.sscc) for n, carton in enumerate(manifest, 1) if rng.random() < 0.75]
    notes = tuple(_note(rng, n, manifest) for n in range(rng.randint(0, 5)))
    layout = LAYOUT if rng.random() < 0.8 else None
    found = reconcile(manifest, reads, notes)
    yield from map(_noted, notes)
    for line in counted_lines(manifest, found, notes):
        place = _place(line.address) if line.address else "-"
        counted = ", counted" if line.counted else ""
        figures = f"{line.wanted} wanted, {line.here} here, {line.usable} usable{counted}"
        yield f"carton {line.carton} {line.line} {line.part} as {line.stock} for {place}: {figures}"
    yield f"stock {dict(stock_of(counted_lines(manifest, found, notes)))}"
    state = section_state(manifest, found, notes, layout)
    yield f"can be set: {' '.join(map(_place, state.settable))}; {state.percent:.1f} %, proven {state.proven}"
    for bay in state.bays:
        yield f"bay {bay.bay}: {bay.settable} of {bay.positions}, facings {bay.settable_facings} of {bay.facings}"
    yield from (f"waits {_place(each.address)}: {_parts(each.parts)}" for each in state.waiting)
    yield from (f"lacking {_place(place)}: {qty} × {part}" for place, part, qty in state.order)
    for sheet in bay_sheets(manifest, found, notes, layout):
        yield f"sheet {sheet.bay} {sheet.section}: {sheet.percent:.1f} %, facings {sheet.facings_percent:.1f} %"
        yield from (f"    {_row(row)}" for row in sheet.rows)
        yield from (f"    for the section {_item(item)} of {carton}" for item, carton in sheet.section_wide)
    lacking = replacement_lines(manifest, found, notes)
    yield from (f"asked for {_line(line)}" for line in lacking)
    half = tuple(replace(line, qty=max(1, line.qty // 2)) for line in lacking[::2])
    if not half:
        return
    request = ReplacementRequest(1, 1, "0417", NOON, "Ada", Delivery("Store", "Bo"), half)
    for what, here, is_open in (
        ("open", (), True),
        ("come", {c for c, _ in request.cartons}, False),
        ("given up", (), False),
    ):
        proposal = propose_request(lacking, [IssuedRequest(request, here, is_open)], {})
        yield from (f"beside one that is {what} {_line(line)}" for line in proposal.lines)
        yield from (f"left out: {_line(left.line)}: {left.reason.value} {left.detail}" for left in proposal.left_out)
        yield from (
            f"still needed of {number}: {_line(line)}" for number, own in proposal.needed.items() for line in own
        )


def approved(name: str) -> str:
    """All of it, one line a fact."""
    return "\n".join(in_lines(name)) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for each in NAMES:
        (FOLDER / f"{each}.txt").write_text(approved(each), encoding="utf-8")
