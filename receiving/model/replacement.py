"""The one request that brings a store everything that is missing, damaged or worn."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from hashlib import sha256

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
    def key(self) -> str:
        """A short text that stands for this very line, quantity and all, in a form."""
        stated = (*(str(getattr(self, name)) for name in self.__dataclass_fields__),)
        return sha256("\x1f".join(stated).encode()).hexdigest()[:20]


class LeftOutReason(StrEnum):
    """Why something that the store lacks is not asked for."""

    SENT_AGAIN = "sent_again"
    ON_ITS_WAY = "on_its_way"
    DONE_WITHOUT = "done_without"
    IN_REQUEST = "in_request"
    CHOSEN = "chosen"


@dataclass(frozen=True)
class LeftOut:
    """A line that is not asked for. ``detail``: the request that asks for it, or what the coordinator wrote."""

    line: ReplacementLine
    reason: LeftOutReason
    detail: str = ""
    due: date | None = None


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

    ``requested_at`` is aware, UTC. ``left_out`` is what the store lacks and is not asked for, with the reason.
    ``numbers`` are those of the lines, from 1: a line keeps its own in every revision, and none is given twice.
    """

    number: int
    revision: int
    store: str
    requested_at: datetime
    requested_by: str
    delivery: Delivery
    lines: tuple[ReplacementLine, ...]
    left_out: tuple[LeftOut, ...] = ()
    numbers: tuple[int, ...] = ()
    last_number: int = 0

    def __post_init__(self) -> None:
        check_moment(f"request {self.number}: requested_at", self.requested_at)
        if self.number < 1 or self.revision < 1:
            raise ValueError(f"request {self.number}, revision {self.revision}: both count from 1")
        if not self.numbers:
            object.__setattr__(self, "numbers", tuple(range(1, len(self.lines) + 1)))
        if len(self.numbers) != len(self.lines) or len(set(self.numbers)) != len(self.numbers):
            raise ValueError(f"request {self.number}: {len(self.lines)} lines need a number each, not {self.numbers}")
        object.__setattr__(self, "last_number", max(self.last_number, *self.numbers, 0))

    @property
    def reference(self) -> str:
        """The name that stands on papers and cartons."""
        return f"R-{self.store}-{self.number:03d}"

    @property
    def cartons(self) -> tuple[tuple[str, ReplacementLine], ...]:
        """The lines, each with the id of the carton that brings it."""
        return tuple((f"{number:02d}", line) for number, line in zip(self.numbers, self.lines, strict=True))

    @property
    def separate(self) -> int:
        """How many requests, one for each section of each shipment, this one replaces."""
        return len({(line.shipment, line.section) for line in self.lines})

    @property
    def pieces(self) -> int:
        """How many pieces are asked for."""
        return sum(line.qty for line in self.lines)
