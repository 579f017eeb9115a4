"""The planogram of a shipment: which cartons belong where, by section, column and row."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text, message, plural
from receiving.model import Carton, Manifest
from receiving.wording import term
from web.pages.words import where_words

MOST_EMPTY_COLUMNS = 60
"""A planogram with more columns than this between its first and its last shows those alone that hold something."""


@dataclass(frozen=True)
class CartonRef:
    """A carton at its place."""

    carton: str
    kind: Text
    where: Text
    open_first: bool


@dataclass(frozen=True)
class PlaceCell:
    """One place with its cartons; ``spoken`` says where it is."""

    spoken: Text
    cartons: tuple[CartonRef, ...]


@dataclass(frozen=True)
class PlaceRow:
    """One row of a section."""

    row: int
    cells: tuple[PlaceCell, ...]


@dataclass(frozen=True)
class SectionPlan:
    """One section: its grid, and the cartons for the whole of it."""

    section: Text
    words: Text
    columns: tuple[int, ...]
    rows: tuple[PlaceRow, ...]
    whole: tuple[CartonRef, ...]


@dataclass(frozen=True)
class PlanogramPage:
    """The planogram as the current manifest has it; ``unplaced`` cartons name no section."""

    template: ClassVar[str] = "office_planogram.html"

    shipment: str
    store: str
    revision: int
    sections: tuple[SectionPlan, ...]
    unplaced: tuple[CartonRef, ...]
    done: Text

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Planogram of {shipment}", shipment=self.shipment)


def planogram_page(manifest: Manifest, revision: int, *, done: Text = "") -> PlanogramPage:
    """The page of a shipment's planogram."""
    names = {a.section for carton in manifest for a in carton.addresses}
    ordered = dict.fromkeys(section for carton in manifest for section in carton.sections)
    if "" in names:
        ordered[""] = None
    return PlanogramPage(
        shipment=manifest.shipment,
        store=manifest.store,
        revision=revision,
        sections=tuple(_section(name, manifest.cartons) for name in ordered),
        unplaced=tuple(_ref(c) for c in manifest if not c.addresses and not c.sections),
        done=done,
    )


def _section(section: str, cartons: Iterable[Carton]) -> SectionPlan:
    held: dict[tuple[int, int], list[CartonRef]] = {}
    whole: list[CartonRef] = []
    for carton in cartons:
        places = [address for address in carton.addresses if address.section == section]
        for place in places:
            held.setdefault((place.column, place.row), []).append(_ref(carton))
        if not places and section in carton.sections:
            whole.append(_ref(carton))
    columns, rows = _span(column for column, _ in held), _span(row for _, row in held)
    return SectionPlan(
        section=section or message("Without a section"),
        words=plural(len(held), "{number} place", "{number} places"),
        columns=columns,
        rows=tuple(PlaceRow(row, tuple(_cell(held, column, row) for column in columns)) for row in rows),
        whole=tuple(whole),
    )


def _span(used: Iterable[int]) -> tuple[int, ...]:
    numbers = sorted(set(used))
    if not numbers or numbers[-1] - numbers[0] > MOST_EMPTY_COLUMNS:
        return tuple(numbers)
    return tuple(range(numbers[0], numbers[-1] + 1))


def _cell(held: dict[tuple[int, int], list[CartonRef]], column: int, row: int) -> PlaceCell:
    cartons = tuple(held.get((column, row), ()))
    if not cartons:
        return PlaceCell(message("column {column}, row {row}, no carton", column=column, row=row), ())
    return PlaceCell(message("column {column}, row {row}", column=column, row=row), cartons)


def _ref(carton: Carton) -> CartonRef:
    return CartonRef(carton.carton, term(carton.kind), where_words(carton), carton.open_first)
