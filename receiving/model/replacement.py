"""The one request that brings a store everything that is missing, damaged or worn."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from receiving.model.expected import CartonKind
from receiving.model.identifiers import Address
from receiving.model.limits import check_moment


class RequestReason(StrEnum):
    """Why something must be sent again."""

    CARTON_MISSING = "carton_missing"
    CONTENT_MISSING = "content_missing"
    ARRIVED_DAMAGED = "arrived_damaged"
    DAMAGED_IN_WORK = "damaged_in_work"
    EXISTING_WORN = "existing_worn"
    EXISTING_MISSING = "existing_missing"
    WRONG_ITEM = "wrong_item"
    WRONG_SIDE = "wrong_side"

    @property
    def words(self) -> str:
        """The reason as the page says it."""
        return {
            "carton_missing": "carton did not arrive",
            "content_missing": "not in the carton",
            "arrived_damaged": "arrived damaged",
            "damaged_in_work": "damaged during the work",
            "existing_worn": "worn on the fixture",
            "existing_missing": "missing from the fixture",
            "wrong_item": "wrong item in the carton",
            "wrong_side": "made for the other side",
        }[self.value]


@dataclass(frozen=True)
class ReplacementLine:
    """One thing to send: what, how many pieces, for where, and why; ``carton`` is where it should have been."""

    shipment: str
    section: str
    address: Address | None
    kind: CartonKind
    item: str
    description: str
    qty: int
    reason: RequestReason
    carton: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        if self.qty < 1:
            raise ValueError(f"quantity {self.qty} of {self.item or self.description!r}: at least 1")

    @property
    def words(self) -> str:
        """What to send, as a person reads it."""
        return " ".join(part for part in (self.item, self.description) if part) or self.kind.words


@dataclass(frozen=True)
class Delivery:
    """Where replacements go, whom to call, and by when they are needed."""

    deliver_to: str
    contact: str
    phone: str = ""
    needed_by: date | None = None
    remarks: str = ""


@dataclass(frozen=True)
class ReplacementRequest:
    """One numbered request for a store, over all its shipments and sections; a change is a new revision of it.

    ``requested_at`` is aware, UTC.
    """

    number: int
    revision: int
    store: str
    requested_at: datetime
    requested_by: str
    delivery: Delivery
    lines: tuple[ReplacementLine, ...]

    def __post_init__(self) -> None:
        check_moment(f"request {self.number}: requested_at", self.requested_at)
        if self.number < 1 or self.revision < 1:
            raise ValueError(f"request {self.number}, revision {self.revision}: both count from 1")

    @property
    def reference(self) -> str:
        """The name that stands on papers and cartons."""
        return f"R-{self.store}-{self.number:03d}"

    @property
    def separate(self) -> int:
        """How many requests, one for each section of each shipment, this one replaces."""
        return len({(line.shipment, line.section) for line in self.lines})

    @property
    def pieces(self) -> int:
        """How many pieces are asked for."""
        return sum(line.qty for line in self.lines)
