"""What is in a carton, and which planogram positions it lets a person set."""

from collections.abc import Mapping
from dataclasses import dataclass

from receiving.model.expected import CartonKind
from receiving.model.identifiers import Address


@dataclass(frozen=True)
class Part:
    """One part of a content line's item: ``qty`` of it in each.

    ``of_position``: made for one position and useless at another, as a graphic is; else one of its item fits all
    positions that take the item.
    """

    name: str
    qty: int = 1
    of_position: bool = False

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueError("a part has no name; name what it is, for example 'price rail'")
        if self.qty < 1:
            raise ValueError(f"quantity {self.qty} of part {self.name!r}: at least 1")


@dataclass(frozen=True)
class PartsList:
    """What the items in a carton of each kind are made of; a kind that is not listed is counted whole.

    ``spares`` says for a part which items of loose stock replace it, beside stock that bears the part's own name.
    """

    kinds: tuple[tuple[CartonKind, tuple[Part, ...]], ...] = ()
    spares: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def __post_init__(self) -> None:
        listed = [kind for kind, _ in self.kinds]
        twice = next((kind for kind in listed if listed.count(kind) > 1), None)
        if twice is not None:
            raise ValueError(f"the parts list has kind {twice.value!r} twice; give each kind once")

    def parts_of(self, kind: CartonKind) -> tuple[Part, ...]:
        """The parts of an item of this kind; empty where it is counted whole."""
        return dict(self.kinds).get(kind, ())

    def spares_for(self, part: str) -> tuple[str, ...]:
        """The items of loose stock that replace this part, beside its own name."""
        return dict(self.spares).get(part, ())

    def changed(self, kind: CartonKind, parts: tuple[Part, ...]) -> "PartsList":
        """This list with other parts for one kind."""
        kinds: Mapping[CartonKind, tuple[Part, ...]] = {**dict(self.kinds), kind: parts}
        return PartsList(tuple(kinds.items()), self.spares)


USUAL_PARTS = PartsList(
    kinds=(
        (CartonKind.TRAY, (Part("base"), Part("pusher set"), Part("price rail"), Part("graphic", of_position=True))),
        (CartonKind.REPLACEMENT_TRAY, (Part("base"), Part("pusher set"), Part("price rail"))),
    ),
)
"""A tray comes assembled and carries its graphic; a replacement tray does not. Common practice, no source."""


@dataclass(frozen=True)
class CountedLine:
    """One content line after opening: what should be there, what is, and how much of that can be used.

    ``line`` counts the carton's content lines from 0, ``stock`` names what the pieces are interchangeable with.
    ``here`` counts pieces found, usable or not; ``counted`` is False where nobody has counted and the carton's
    presence alone speaks.
    """

    carton: str
    line: int
    part: str
    stock: str
    wanted: int
    here: int
    usable: int
    counted: bool
    section: str = ""
    address: Address | None = None

    @property
    def missing(self) -> int:
        """How many pieces are not there."""
        return max(0, self.wanted - self.here)


@dataclass(frozen=True)
class PositionNeed:
    """What one position takes: for each part the quantity, and the stock that will do, the best first."""

    address: Address
    parts: tuple[tuple[str, int, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Used:
    """``qty`` of ``stock`` go to this position as ``part``."""

    address: Address
    part: str
    stock: str
    qty: int


@dataclass(frozen=True)
class Lacking:
    """A position that waits, and what it lacks: (part, quantity)."""

    address: Address
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Allocation:
    """The most positions that can be set completely with the stock, and the least that must be ordered for all.

    ``proven`` is False where the solver stopped at its time limit with a good but perhaps not best answer.
    """

    settable: tuple[Address, ...]
    waiting: tuple[Lacking, ...]
    used: tuple[Used, ...]
    order: tuple[tuple[Address, str, int], ...]
    proven: bool = True


@dataclass(frozen=True)
class BayState:
    """One bay (empty: no layout or not in it): positions and facings in it, and how many can be set now."""

    bay: str
    section: str
    positions: int
    settable: int
    facings: int
    settable_facings: int

    @property
    def percent(self) -> float:
        """The share of positions that can be set now, in percent."""
        return 100.0 * self.settable / self.positions if self.positions else 100.0

    @property
    def facings_percent(self) -> float:
        """The share of facings that can be set now, in percent."""
        return 100.0 * self.settable_facings / self.facings if self.facings else 100.0


@dataclass(frozen=True)
class SectionState:
    """How far the section can be set: per bay, which positions wait and for what."""

    bays: tuple[BayState, ...]
    settable: tuple[Address, ...]
    waiting: tuple[Lacking, ...]
    order: tuple[tuple[Address, str, int], ...]
    proven: bool = True

    @property
    def percent(self) -> float:
        """The share of all positions that can be set now, in percent."""
        positions = sum(bay.positions for bay in self.bays)
        return 100.0 * len(self.settable) / positions if positions else 100.0


@dataclass(frozen=True)
class SheetItem:
    """What a bay sheet lists: item and description as the manifest has them, how many, and the kind of its carton."""

    kind: CartonKind
    item: str
    description: str
    qty: int | None


@dataclass(frozen=True)
class BaySheetRow:
    """One position on a bay sheet: what goes there, from which cartons, and (part, how many) that it waits for."""

    address: Address
    trays: tuple[SheetItem, ...]
    parts: tuple[SheetItem, ...]
    graphics: tuple[SheetItem, ...]
    tags: tuple[SheetItem, ...]
    cartons: tuple[str, ...]
    waits_for: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class BaySheet:
    """One bay's positions, top to bottom and left to right, and what serves its whole section.

    ``tag_run`` numbers the positions in the order in which tags are put on, from 1; ``section_wide`` names each item
    with its carton.
    """

    shipment: str
    store: str
    bay: str
    section: str
    rows: tuple[BaySheetRow, ...]
    section_wide: tuple[tuple[SheetItem, str], ...]
    percent: float
    facings_percent: float

    @property
    def tag_run(self) -> tuple[tuple[int, Address], ...]:
        """(number, position) in the order of the tag run."""
        return tuple((n, row.address) for n, row in enumerate(self.rows, start=1))
