"""Cartons and shipments while the rows of a table are read."""

from dataclasses import dataclass, field, replace
from datetime import date

from receiving.expected.table import RowReader
from receiving.model import Carton, ContentLine, Manifest


@dataclass
class CartonRows:
    """One carton while its rows are read: its first row, what that row said, and its contents so far."""

    row: RowReader
    head: Carton
    contents: list[ContentLine] = field(default_factory=list)

    @property
    def line(self) -> int:
        """The line of its first row."""
        return self.row.line

    def done(self) -> Carton:
        """The carton with its contents."""
        return replace(self.head, contents=tuple(self.contents))


@dataclass
class ShipmentRows:
    """One shipment while its rows are read; what all its rows must agree in, with the line that said it first."""

    shipment: str
    line: int
    store: str
    dispatch_date: date | None
    references: tuple[tuple[str, str], ...]
    cartons: dict[str, CartonRows] = field(default_factory=dict)

    def done(self) -> Manifest:
        """The manifest; its rules must have been checked."""
        cartons = tuple(rows.done() for rows in self.cartons.values())
        return Manifest(self.shipment, self.store, cartons, self.dispatch_date, self.references)
