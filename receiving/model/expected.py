"""What should arrive: cartons, their contents, and the store that they go into; what differs between two revisions."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum

from receiving.model.identifiers import Address, Sscc


class CartonKind(StrEnum):
    """What a carton holds, in the words of the manifest."""

    TRAY = "tray"
    REPLACEMENT_TRAY = "replacement_tray"
    HEADER = "header"
    GRAPHIC = "graphic"
    PARTS = "parts"
    LIGHTING = "lighting"
    TAGS = "tags"
    INSTRUCTIONS = "instructions"
    OUTER = "outer"
    OTHER = "other"

    @property
    def printed(self) -> str:
        """As labels print it and files write it, which is English whatever the reader's language."""
        return self.value.replace("_", " ")


@dataclass(frozen=True, slots=True)
class ContentLine:
    """One line of a carton's contents. ``section`` without ``address`` means section-wide.

    ``item_numbers`` are other numbers of the same item: its GTIN, the buyer's number.
    """

    section: str = ""
    address: Address | None = None
    item: str = ""
    description: str = ""
    qty: int | None = None
    unit: str = ""
    item_numbers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.address is not None and self.address.section != self.section:
            raise ValueError(f"content line names section {self.section!r} and address {self.address}")
        if self.qty is not None and self.qty < 1:
            raise ValueError(f"quantity {self.qty} of item {self.item!r}: at least 1")


@dataclass(frozen=True, slots=True)
class Carton:
    """One carton of a manifest. Weights in kilograms, sizes in centimetres, of the closed carton.

    ``numbers`` are further numbers that its labels may show: a parcel carrier's, a license plate. Any of its codes
    receives it.
    """

    carton: str
    kind: CartonKind
    sscc: Sscc | None = None
    barcode: str = ""
    outer: str = ""
    open_first: bool = False
    contents: tuple[ContentLine, ...] = ()
    weight_kg: float | None = None
    length_cm: float | None = None
    width_cm: float | None = None
    height_cm: float | None = None
    numbers: tuple[str, ...] = ()

    @property
    def codes(self) -> tuple[str, ...]:
        """Every code that a label of it may carry, SSCC first, each once."""
        sscc = (self.sscc.digits,) if self.sscc else ()
        return tuple(dict.fromkeys(code for code in (*sscc, self.barcode, *self.numbers) if code))

    @property
    def plain_code(self) -> str:
        """What a label without an SSCC carries as its symbol: the barcode, else the first other number."""
        return self.barcode or next(iter(self.numbers), "")

    @property
    def addresses(self) -> tuple[Address, ...]:
        """The planogram addresses of its content lines, sorted, each once."""
        return tuple(sorted({line.address for line in self.contents if line.address is not None}))

    @property
    def sections(self) -> tuple[str, ...]:
        """The sections that its content lines name, in file order, each once."""
        return tuple(dict.fromkeys(line.section for line in self.contents if line.section))


@dataclass(frozen=True)
class Manifest:
    """The cartons of one shipment to one store. Carton ids and SSCCs are unique in it.

    ``references`` are what papers call it, in pairs of name and value: purchase order, bill of lading, carrier ...
    """

    shipment: str
    store: str
    cartons: tuple[Carton, ...]
    dispatch_date: date | None = None
    references: tuple[tuple[str, str], ...] = ()

    @property
    def programme(self) -> str:
        """The programme that it belongs to: its reference of that name, else empty."""
        return next((value.strip() for name, value in self.references if name.strip().casefold() == "programme"), "")

    def __post_init__(self) -> None:
        for name, values in (
            ("carton id", [c.carton for c in self.cartons]),
            ("SSCC", [str(c.sscc) for c in self.cartons if c.sscc]),
        ):
            twice = sorted({v for v in values if values.count(v) > 1}) if len(set(values)) != len(values) else []
            if twice:
                raise ValueError(f"shipment {self.shipment!r}: {name} {twice[0]!r} is on two cartons")

    def __iter__(self) -> Iterator[Carton]:
        return iter(self.cartons)

    def find(self, carton: str) -> Carton | None:
        """The carton with this id, or None."""
        return next((c for c in self.cartons if c.carton == carton), None)

    def inside(self, outer: str) -> tuple[Carton, ...]:
        """The cartons that travel in this outer box."""
        return tuple(c for c in self.cartons if c.outer == outer)


@dataclass(frozen=True)
class Cart:
    """The cart that the store lends: load in kilograms, sizes in centimetres."""

    max_load_kg: float
    deck_length_cm: float
    deck_width_cm: float
    stack_height_cm: float


@dataclass(frozen=True)
class Bay:
    """One fixture bay: the section columns that hang in it and the floor kept for cartons before it.

    ``aisle_width_cm`` is the aisle from the fixture to what faces it, and ``keep_clear_cm`` the width of it that must
    stay free; None where the layout does not say.
    """

    bay: str
    section: str
    columns: tuple[int, ...]
    order: int
    width_cm: float
    staging_length_cm: float
    staging_depth_cm: float
    aisle_width_cm: float | None = None
    keep_clear_cm: float | None = None


@dataclass(frozen=True)
class Layout:
    """A store's bays and cart; ``walk_m`` is the way from the back room to the section, one way.

    ``keep_clear_cm`` is the width of every aisle that must stay free, unless a bay has its own. ``time_zone`` is an
    IANA name; ``country`` and ``region`` (ISO 3166-1 and 3166-2) say which public holidays the store keeps;
    ``lead_days`` are the working days from an order to its arrival, and an order after ``order_cut_off`` (local time)
    counts from the next working day. Empty or None where the layout does not say.
    """

    store: str
    walk_m: float
    cart: Cart
    bays: tuple[Bay, ...]
    keep_clear_cm: float | None = None
    name: str = ""
    time_zone: str = ""
    country: str = ""
    region: str = ""
    lead_days: int | None = None
    order_cut_off: time | None = None

    def bay_of(self, address: Address) -> Bay | None:
        """The bay that holds this address; an address without a section fits any one bay alone."""
        holding = [b for b in self.bays if address.column in b.columns]
        if address.section:
            holding = [b for b in holding if b.section.casefold() == address.section.casefold()]
        return holding[0] if len(holding) == 1 else None

    def first_bay(self, section: str) -> Bay | None:
        """The bay of this section that is set first."""
        of_section = [b for b in self.bays if b.section.casefold() == section.casefold()]
        return min(of_section, key=lambda b: b.order) if of_section else None


@dataclass(frozen=True)
class StoreDetails:
    """What a list of stores says about one; each field as in `Layout`, empty or None where it does not say."""

    store: str
    name: str = ""
    time_zone: str = ""
    country: str = ""
    region: str = ""
    lead_days: int | None = None
    order_cut_off: time | None = None


References = tuple[tuple[str, str], ...]


class What(StrEnum):
    """The kind of a change."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"
    STORE = "store"
    VISIT = "visit"
    REFERENCES = "references"


@dataclass(frozen=True)
class ManifestChange:
    """One change between two revisions; ``carton`` is empty where the shipment itself changed.

    ``before`` and ``after`` are the carton, the store, the day of the visit, or the references; None where there was
    or is none.
    """

    carton: str
    what: What
    before: Carton | str | date | References | None
    after: Carton | str | date | References | None
