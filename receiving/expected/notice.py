"""An advance ship notice once its messages are understood: packages, what is in them, and for which store."""

from dataclasses import dataclass, field

Ids = tuple[tuple[str, str], ...]
"""Identifiers of an item: (qualifier, value) as the message gives them."""


NO_ORDERS: list[str] = []
"""What packages without an order share; it stays empty."""


@dataclass(slots=True)
class NoticeLine:
    """One line of goods: its identifiers, description, quantity and unit, and its segment in the file."""

    segment: int
    ids: Ids = ()
    description: str = ""
    qty: str = ""
    unit: str = ""

    @property
    def words(self) -> str:
        """The line as a list of things not understood shows it."""
        named = ", ".join(f"{qualifier} {value}".strip() for qualifier, value in self.ids) or "no item"
        counted = f"{self.qty} {self.unit}".strip()
        return " ".join(part for part in (counted, named, self.description) if part)


@dataclass(slots=True)
class Package:
    """One package: SSCCs and other marks on it, the package that it travels in, its store and its goods.

    ``fallback`` is its id where the message gives it no number. Weight in kilograms, sizes in centimetres.
    ``shared``: how many packages the goods are spread over; those then hold one and the same list.
    """

    segment: int
    fallback: str
    ssccs: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    printed: str = ""
    outer: "Package | None" = None
    store: str = ""
    lines: list[NoticeLine] = field(default_factory=list)
    weight_kg: float | None = None
    length_cm: float | None = None
    width_cm: float | None = None
    height_cm: float | None = None
    holds_packages: bool = False
    shared: int = 1
    orders: list[str] = field(default_factory=lambda: NO_ORDERS)

    @property
    def is_box(self) -> bool:
        """False for a mere grouping: it holds packages, and has neither a number nor goods of its own."""
        return not self.holds_packages or bool(self.ssccs or self.marks or self.printed or self.lines)

    @property
    def box_around(self) -> "Package | None":
        """The nearest package around this one that is a box."""
        around = self.outer
        while around is not None and not around.is_box:
            around = around.outer
        return around


@dataclass
class Notice:
    """One message: shipment number, purpose, references, packages in file order, and goods without a package."""

    segment: int
    shipment: str = ""
    cancels: bool = False
    replaces: bool = False
    references: list[tuple[str, str]] = field(default_factory=list)
    packages: list[Package] = field(default_factory=list)
    loose: list[NoticeLine] = field(default_factory=list)
    store: str = ""
