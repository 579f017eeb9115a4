"""A section drawn as columns and rows, each cell with its state in colour and word."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from receiving.messages import Message, Text, listing, message
from receiving.model import Address, CartonFinding, CartonKind, CartonState, Layout, Reconciliation
from receiving.wording import term
from web.pages.cartons import CartonCard, carton_card
from web.pages.latest import hash_once
from web.pages.tone import Tone

MAX_SIDE = 60
"""More columns or rows than this are a fault of the data, not a section; they are listed, not drawn."""


@dataclass(frozen=True)
class BayHead:
    """A bay over the columns that it spans; ``bay`` is empty where the layout names none."""

    bay: str
    span: int


@dataclass(frozen=True)
class Cell:
    """One place: its state, and the cartons that are for it. ``spoken`` says all of it for a screen reader."""

    tone: Tone
    word: Text
    cartons: tuple[str, ...]
    spoken: Text

    __hash__ = hash_once


@dataclass(frozen=True)
class GridRow:
    """One row, from the first column to the last."""

    row: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class SectionGrid:
    """One section; ``whole`` are the cartons that are for all of it."""

    section: str
    columns: tuple[int, ...]
    bays: tuple[BayHead, ...]
    rows: tuple[GridRow, ...]
    whole: tuple[CartonCard, ...]
    here: int
    wanted: int


def section_grids(
    reconciliation: Reconciliation, layout: Layout | None, bays: Mapping[str, str]
) -> tuple[SectionGrid, ...]:
    """Every section that the manifest names, in manifest order."""
    sections = dict.fromkeys(s for f in reconciliation.cartons for s in f.carton.sections or _unnamed(f))
    return tuple(_grid(section, reconciliation, layout, bays) for section in sections)


def _unnamed(finding: CartonFinding) -> tuple[str, ...]:
    return ("",) if finding.carton.addresses else ()


def _grid(section: str, reconciliation: Reconciliation, layout: Layout | None, bays: Mapping[str, str]) -> SectionGrid:
    places = _places(section, reconciliation)
    columns = _columns(section, places, layout)
    rows = sorted({address.row for address in places})
    row_span = range(1, rows[-1] + 1) if rows and rows[-1] <= MAX_SIDE else rows
    whole = tuple(
        carton_card(f, bays) for f in reconciliation.cartons if section in f.carton.sections and _is_whole(section, f)
    )
    cells = [GridRow(row, tuple(_cell(places.get(Address(section, c, row), ())) for c in columns)) for row in row_span]
    here = sum(all(f.state is CartonState.RECEIVED for f in found) for found in places.values())
    return SectionGrid(section, columns, _bay_heads(section, columns, layout), tuple(cells), whole, here, len(places))


def _places(section: str, reconciliation: Reconciliation) -> dict[Address, tuple[CartonFinding, ...]]:
    places: dict[Address, tuple[CartonFinding, ...]] = {}
    for finding in reconciliation.cartons:
        for address in finding.carton.addresses:
            if address.section == section:
                places[address] = (*places.get(address, ()), finding)
    return places


def _is_whole(section: str, finding: CartonFinding) -> bool:
    return any(line.section == section and line.address is None for line in finding.carton.contents)


def _columns(section: str, places: Mapping[Address, object], layout: Layout | None) -> tuple[int, ...]:
    named = {address.column for address in places}
    bays = [bay for bay in layout.bays if bay.section.casefold() == section.casefold()] if layout else []
    named |= {column for bay in bays for column in bay.columns}
    if not named or max(named) > MAX_SIDE:
        return tuple(sorted(named))
    return tuple(range(1, max(named) + 1))


def _bay_heads(section: str, columns: Sequence[int], layout: Layout | None) -> tuple[BayHead, ...]:
    if layout is None:
        return ()
    heads: list[BayHead] = []
    for column in columns:
        bay = layout.bay_of(Address(section, column, 1))
        name = bay.bay if bay else ""
        if heads and heads[-1].bay == name:
            heads[-1] = BayHead(name, heads[-1].span + 1)
        else:
            heads.append(BayHead(name, 1))
    return tuple(heads) if any(head.bay for head in heads) else ()


def _cell(found: Sequence[CartonFinding]) -> Cell:
    return _cell_of(
        tuple((f.carton.carton, f.carton.kind, f.state, any(not n.usable for n in f.damage)) for f in found)
    )


@lru_cache(maxsize=8192)  # a scan changes one or two cells of a section
def _cell_of(found: tuple[tuple[str, CartonKind, CartonState, bool], ...]) -> Cell:
    """The cell of these cartons: number, kind, state, and whether it is damaged so that it is of no use."""
    if not found:
        return Cell(Tone.PLAIN, "", (), message("nothing planned"))
    states = [state for _, _, state, _ in found]
    here, missing = states.count(CartonState.RECEIVED), CartonState.SHORT in states
    if here == len(found):
        damaged = any(useless for *_, useless in found)
        tone, word = (Tone.DAMAGED, message("damaged")) if damaged else (Tone.HERE, message("here"))
    elif here:
        tone = Tone.MISSING if missing else Tone.INSIDE
        word = message("{here} of {all} here", here=here, all=len(found))
    else:
        tone, word = (Tone.MISSING, message("missing")) if missing else (Tone.INSIDE, message("inside"))
    cartons = tuple(carton for carton, *_ in found)
    return Cell(tone, word, cartons, listing(_spoken(carton, kind, state) for carton, kind, state, _ in found))


def _spoken(carton: str, kind: CartonKind, state: CartonState) -> Message:
    return message("carton {carton} {kind} {state}", carton=carton, kind=term(kind), state=term(state))
