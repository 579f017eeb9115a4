"""What is in the cartons, and what can be set with it: counting, section state, bay sheets."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Listing, Message, Text, figure, joined, listing, message, plural
from receiving.model import Address, CartonState, Damage, DamageNoted, Note, Reconciliation
from receiving.model.contents import BaySheet, BaySheetRow, CountedLine, SheetItem
from receiving.service import BaySheets, ContentsView
from receiving.wording import address_words, item_words, part_words, stock_words, term
from web.pages.cartons import Option, damage_options
from web.pages.notes import NoteLine, note_lines
from web.pages.tone import Tone
from web.pages.words import where_words

FIXTURE_REASONS = (Damage.EXISTING_WORN, Damage.EXISTING_MISSING, Damage.IN_WORK, Damage.WRONG_SIDE)


@dataclass(frozen=True)
class BayProgress:
    """How far a bay can be set now; ``share`` is in thousandths of its positions."""

    bay: str
    section: str
    words: Text
    facings: Text
    share: int


@dataclass(frozen=True)
class WaitLine:
    """A position that waits, and for what."""

    place: Text
    lacks: Text


@dataclass(frozen=True)
class CountCard:
    """A carton that is here, to be counted or counted."""

    carton: str
    kind: Text
    where: Text
    words: Text
    tone: Tone
    begun: bool


@dataclass(frozen=True)
class ContentsPage:
    """Counting and section state of one shipment."""

    template: ClassVar[str] = "contents.html"

    shipment: str
    store: str
    percent: Text
    sentence: Text
    bays: tuple[BayProgress, ...]
    waiting: tuple[WaitLine, ...]
    order: tuple[WaitLine, ...]
    to_count: tuple[CountCard, ...]
    counted: tuple[CountCard, ...]
    proven: bool
    sections: tuple[str, ...]
    reasons: tuple[Option, ...]
    noted: tuple[NoteLine, ...]

    title: ClassVar[Text] = message("Contents and sections")


@dataclass(frozen=True)
class SheetRow:
    """One position of a bay sheet; ``tag`` is its number in the tag run."""

    tag: int
    column: int
    row: int
    trays: Text
    parts: Text
    graphics: Text
    tags: Text
    cartons: Text
    tone: Tone
    state: Text


@dataclass(frozen=True)
class SheetCard:
    """One bay's sheet."""

    bay: str
    section: str
    percent: Text
    rows: tuple[SheetRow, ...]
    section_wide: Text


@dataclass(frozen=True)
class BaySheetsPage:
    """The sheets of all bays."""

    template: ClassVar[str] = "bay_sheets.html"

    shipment: str
    store: str
    sheets: tuple[SheetCard, ...]

    title: ClassVar[Text] = message("Bay sheets")


def contents_page(found: ContentsView, now: datetime) -> ContentsPage:
    """What can be set now, what waits, and the cartons to count."""
    section = found.section
    outers = {carton.outer for carton in found.manifest}
    cards = _count_cards(found.reconciliation, [line for line in found.lines if line.carton not in outers])
    positions = len(section.settable) + len(section.waiting)
    items = {line.item for carton in found.manifest for line in carton.contents if line.item}
    ordered: dict[Address, list[tuple[str, int]]] = {}
    for address, part, qty in section.order:
        ordered.setdefault(address, []).append((part, qty))
    return ContentsPage(
        shipment=found.manifest.shipment,
        store=found.manifest.store,
        percent=message("{percent} %", percent=figure(section.percent)),
        sentence=plural(
            positions,
            "{settable} of {number} position can be set now.",
            "{settable} of {number} positions can be set now.",
            settable=len(section.settable),
        ),
        bays=tuple(
            BayProgress(
                bay.bay,
                bay.section,
                message("{number} of {all}", number=bay.settable, all=bay.positions),
                message("{percent} % of facings", percent=figure(bay.facings_percent)) if bay.facings else "",
                round(10 * bay.percent),
            )
            for bay in section.bays
        ),
        waiting=tuple(
            WaitLine(address_words(w.address), lacks_words(w.address, w.parts, items)) for w in section.waiting
        ),
        order=tuple(WaitLine(address_words(at), lacks_words(at, parts, items)) for at, parts in ordered.items()),
        to_count=tuple(card for done, card in cards if not done),
        counted=tuple(card for done, card in cards if done),
        proven=section.proven,
        sections=tuple(dict.fromkeys(each for carton in found.manifest for each in carton.sections)),
        reasons=damage_options(FIXTURE_REASONS),
        noted=note_lines(filter(_of_fixture, found.notes), found.notes, now),
    )


def _of_fixture(note: Note) -> bool:
    return isinstance(note, DamageNoted) and not note.carton


def lacks_words(address: Address, parts: Iterable[tuple[str, int]], items: Collection[str]) -> Listing:
    """What a position lacks; the parts of one item stand together, and its own graphic is just the graphic.

    >>> str(lacks_words(Address("Oak", 1, 2), [("T-1 base", 1), ("T-1 rail", 2), ("hook", 1)], {"T-1"}))
    'T-1 (base, 2 × rail) and hook'
    """
    whole: list[Text] = []
    of_item: dict[str, list[Text]] = {}
    for part, qty in parts:
        item = max((each for each in items if part.startswith(f"{each} ")), key=len, default="")
        if item:
            of_item.setdefault(item, []).append(_pieces(qty, part_words(part.removeprefix(f"{item} "))))
        else:
            whole.append(_pieces(qty, stock_words(part, address)))
    of_items = (
        message("{item} ({parts})", item=item, parts=joined(*named, separator=", ")) for item, named in of_item.items()
    )
    return listing((*of_items, *whole))


def _waited(row: BaySheetRow) -> tuple[Text, ...]:
    return tuple(joined(f"{qty} ×", stock_words(part, row.address)) for part, qty in row.waits_for)


def _pieces(qty: int, part: Text) -> Text:
    return joined(f"{qty} ×", part) if qty > 1 else part


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
        begun = any(line.counted for line in own)
        cards.append((done, CountCard(carton.carton, term(carton.kind), where_words(carton), words, tone, begun)))
    return tuple(cards)


def _count_words(done: bool, missing: int, bad: int, lines: Sequence[CountedLine]) -> tuple[Tone, Message]:
    if missing and bad:
        return Tone.MISSING, message("{missing} missing and {bad} not usable", missing=missing, bad=bad)
    if missing:
        return Tone.MISSING, message("{missing} missing", missing=missing)
    if bad:
        return Tone.MISSING, message("{bad} not usable", bad=bad)
    if done:
        return Tone.HERE, message("all there")
    counted = sum(line.counted for line in lines)
    if counted:
        return Tone.PLAIN, message("{number} of {all} counted", number=counted, all=len(lines))
    return Tone.PLAIN, message("not counted")


def sheets_page(found: BaySheets) -> BaySheetsPage:
    """The bay sheets as a page."""
    return BaySheetsPage(found.shipment, found.store, tuple(map(_sheet, found.sheets)))


def _wide_words(listed: tuple[SheetItem, str]) -> Message:
    return message("{item} (carton {carton})", item=item_words(listed[0]), carton=listed[1])


def _sheet(sheet: BaySheet) -> SheetCard:
    numbers: dict[Address, int] = {address: number for number, address in sheet.tag_run}
    return SheetCard(
        sheet.bay,
        sheet.section,
        message("{percent} % can be set now", percent=figure(sheet.percent)),
        tuple(
            SheetRow(
                numbers[row.address],
                row.address.column,
                row.address.row,
                listing(map(item_words, row.trays)),
                listing(map(item_words, row.parts)),
                listing(map(item_words, row.graphics)),
                listing(map(item_words, row.tags)),
                listing(row.cartons),
                Tone.MISSING if row.waits_for else Tone.HERE,
                message("waits for {items}", items=listing(_waited(row))) if row.waits_for else message("ready"),
            )
            for row in sheet.rows
        ),
        joined(*map(_wide_words, sheet.section_wide), separator="; ") if sheet.section_wide else "",
    )
