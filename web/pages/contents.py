"""What is in the cartons, and what can be set with it: counting, section state, bay sheets."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Text
from receiving.model import Address, CartonState, Damage, DamageNoted, Note, Reconciliation
from receiving.model.contents import BaySheet, CountedLine
from receiving.service import ContentsView, ShipmentView
from receiving.wording import term
from web.pages.cartons import Option, damage_options
from web.pages.notes import NoteLine, note_lines
from web.pages.tone import Tone
from web.pages.words import counted, listed, where_words

FIXTURE_REASONS = (Damage.EXISTING_WORN, Damage.EXISTING_MISSING, Damage.IN_WORK, Damage.WRONG_SIDE)


@dataclass(frozen=True)
class BayProgress:
    """How far a bay can be set now; ``share`` is in thousandths of its positions."""

    bay: str
    section: str
    words: str
    facings: str
    share: int


@dataclass(frozen=True)
class WaitLine:
    """A position that waits, and for what."""

    place: str
    lacks: str


@dataclass(frozen=True)
class CountCard:
    """A carton that is here, to be counted or counted."""

    carton: str
    kind: str
    where: Text
    words: str
    tone: Tone


@dataclass(frozen=True)
class ContentsPage:
    """Counting and section state of one shipment."""

    template: ClassVar[str] = "contents.html"

    shipment: str
    store: str
    percent: str
    sentence: str
    bays: tuple[BayProgress, ...]
    waiting: tuple[WaitLine, ...]
    order: tuple[WaitLine, ...]
    to_count: tuple[CountCard, ...]
    counted: tuple[CountCard, ...]
    proven: bool
    sections: tuple[str, ...]
    reasons: tuple[Option, ...]
    noted: tuple[NoteLine, ...]

    title: ClassVar[str] = "Contents and sections"


@dataclass(frozen=True)
class SheetRow:
    """One position of a bay sheet; ``tag`` is its number in the tag run."""

    tag: int
    column: int
    row: int
    trays: str
    parts: str
    graphics: str
    tags: str
    cartons: str
    tone: Tone
    state: str


@dataclass(frozen=True)
class SheetCard:
    """One bay's sheet."""

    bay: str
    section: str
    percent: str
    rows: tuple[SheetRow, ...]
    section_wide: tuple[str, ...]


@dataclass(frozen=True)
class SheetsPage:
    """The sheets of all bays."""

    template: ClassVar[str] = "bay_sheets.html"

    shipment: str
    store: str
    sheets: tuple[SheetCard, ...]

    title: ClassVar[str] = "Bay sheets"


def contents_page(view: ShipmentView, found: ContentsView, now: datetime) -> ContentsPage:
    """What can be set now, what waits, and the cartons to count."""
    section = found.section
    outers = {carton.outer for carton in view.manifest}
    cards = _count_cards(view.reconciliation, [line for line in found.lines if line.carton not in outers])
    positions = len(section.settable) + len(section.waiting)
    items = {line.item for carton in view.manifest for line in carton.contents if line.item}
    ordered: dict[Address, list[tuple[str, int]]] = {}
    for address, part, qty in section.order:
        ordered.setdefault(address, []).append((part, qty))
    return ContentsPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        percent=f"{section.percent:.0f} %",
        sentence=f"{len(section.settable)} of {counted(positions, 'position')} can be set now.",
        bays=tuple(
            BayProgress(
                bay.bay,
                bay.section,
                f"{bay.settable} of {bay.positions}",
                f"{bay.facings_percent:.0f} % of facings" if bay.facings else "",
                round(10 * bay.percent),
            )
            for bay in section.bays
        ),
        waiting=tuple(WaitLine(str(w.address), lacks_words(w.address, w.parts, items)) for w in section.waiting),
        order=tuple(WaitLine(str(at), lacks_words(at, parts, items)) for at, parts in ordered.items()),
        to_count=tuple(card for done, card in cards if not done),
        counted=tuple(card for done, card in cards if done),
        proven=section.proven,
        sections=tuple(dict.fromkeys(each for carton in view.manifest for each in carton.sections)),
        reasons=damage_options(FIXTURE_REASONS),
        noted=note_lines(filter(_of_fixture, view.notes), view.notes, now),
    )


def _of_fixture(note: Note) -> bool:
    return isinstance(note, DamageNoted) and not note.carton


def lacks_words(address: Address, parts: Iterable[tuple[str, int]], items: Collection[str]) -> str:
    """What a position lacks; the parts of one item stand together, and its own graphic is just the graphic.

    >>> lacks_words(Address("Oak", 1, 2), [("T-1 base", 1), ("T-1 rail", 2), ("hook", 1)], {"T-1"})
    'T-1 (base, 2 × rail) and hook'
    """
    whole, of_item = [], dict[str, list[str]]()
    for part, qty in parts:
        item = max((each for each in items if part.startswith(f"{each} ")), key=len, default="")
        if item:
            of_item.setdefault(item, []).append(_pieces(qty, part.removeprefix(f"{item} ")))
        else:
            whole.append(_pieces(qty, part.removesuffix(f" for {address}")))
    return listed((*(f"{item} ({', '.join(named)})" for item, named in of_item.items()), *whole))


def _pieces(qty: int, part: str) -> str:
    return f"{qty} × {part}" if qty > 1 else part


def _count_cards(reconciliation: Reconciliation, lines: Sequence[CountedLine]) -> tuple[tuple[bool, CountCard], ...]:
    """Each carton that is here with its card, and True where every line of it was counted."""
    by_carton: dict[str, list[CountedLine]] = {}
    for line in lines:
        by_carton.setdefault(line.carton, []).append(line)
    here = [f.carton for f in reconciliation.in_state(CartonState.RECEIVED) if f.carton.carton in by_carton]
    cards = []
    for carton in here:
        own = by_carton[carton.carton]
        done = all(line.counted for line in own)
        missing = sum(line.missing for line in own if line.counted)
        bad = sum(line.here - line.usable for line in own)
        tone, words = _count_words(done, missing, bad, own)
        cards.append((done, CountCard(carton.carton, str(term(carton.kind)), where_words(carton), words, tone)))
    return tuple(cards)


def _count_words(done: bool, missing: int, bad: int, lines: Sequence[CountedLine]) -> tuple[Tone, str]:
    if missing or bad:
        parts = (f"{missing} missing" if missing else "", f"{bad} not usable" if bad else "")
        return Tone.MISSING, listed(parts)
    if done:
        return Tone.HERE, "all there"
    counted_lines = sum(line.counted for line in lines)
    return Tone.PLAIN, f"{counted_lines} of {len(lines)} counted" if counted_lines else "not counted"


def sheets_page(view: ShipmentView, sheets: Sequence[BaySheet]) -> SheetsPage:
    """The bay sheets as a page."""
    return SheetsPage(view.manifest.shipment, view.manifest.store, tuple(map(_sheet, sheets)))


def _sheet(sheet: BaySheet) -> SheetCard:
    numbers: dict[Address, int] = {address: number for number, address in sheet.tag_run}
    return SheetCard(
        sheet.bay,
        sheet.section,
        f"{sheet.percent:.0f} % can be set now",
        tuple(
            SheetRow(
                numbers[row.address],
                row.address.column,
                row.address.row,
                listed(row.trays),
                listed(row.parts),
                listed(row.graphics),
                listed(row.tags),
                listed(row.cartons),
                Tone.MISSING if row.waits_for else Tone.HERE,
                f"waits for {listed(row.waits_for)}" if row.waits_for else "ready",
            )
            for row in sheet.rows
        ),
        sheet.section_wide,
    )
