"""The receiving advice: what a confirmed receipt says in facts, for the standard messages that go out."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from receiving.model.findings import OverReason
from receiving.model.identifiers import Sscc
from receiving.model.reads import Place


class AdvisedState(StrEnum):
    """What became of an advised carton; ``UNSEEN`` is inside an outer box that nobody has opened."""

    RECEIVED = "received"
    DAMAGED = "damaged"
    UNSEEN = "unseen"
    MISSING = "missing"


@dataclass(frozen=True)
class AdvisedItem:
    """One content line: pieces despatched, pieces received, and how many of those cannot be used.

    ``counted`` is False where nobody has opened the carton: the pieces are then what the manifest says.
    """

    item: str
    description: str
    unit: str
    despatched: int
    received: int
    damaged: int
    counted: bool

    def __post_init__(self) -> None:
        if not 0 <= self.damaged <= self.received:
            raise ValueError(f"item {self.item!r}: {self.damaged} damaged of {self.received} received")

    @property
    def short(self) -> int:
        """Pieces that were despatched and not received."""
        return max(0, self.despatched - self.received)

    @property
    def over(self) -> int:
        """Pieces that were received and not despatched."""
        return max(0, self.received - self.despatched)


@dataclass(frozen=True)
class AdvisedCarton:
    """One carton of the manifest. ``seen_at`` is when the first read showed it (aware, UTC), None without a read."""

    carton: str
    state: AdvisedState
    sscc: Sscc | None = None
    number: str = ""
    outer: str = ""
    place: Place | None = None
    seen_at: datetime | None = None
    items: tuple[AdvisedItem, ...] = ()

    @property
    def here(self) -> bool:
        """The carton itself was seen here, sound or damaged."""
        return self.state in (AdvisedState.RECEIVED, AdvisedState.DAMAGED)


@dataclass(frozen=True)
class AdvisedOver:
    """A carton that came and is not on the manifest."""

    raw: str
    why: OverReason
    sscc: Sscc | None = None


@dataclass(frozen=True)
class ReceivingAdvice:
    """All that a receipt confirms, in manifest order. ``number`` counts the shipment's receipts from 1."""

    shipment: str
    store: str
    number: int
    confirmed_at: datetime
    references: tuple[tuple[str, str], ...]
    cartons: tuple[AdvisedCarton, ...]
    over: tuple[AdvisedOver, ...] = ()

    @property
    def document(self) -> str:
        """The number under which messages name this advice.

        >>> from datetime import UTC
        >>> ReceivingAdvice("S-1", "0417", 2, datetime(2026, 12, 1, tzinfo=UTC), (), ()).document
        'S-1-R2'
        """
        return f"{self.shipment}-R{self.number}"

    @property
    def replaces(self) -> str:
        """The number of the advice that this one takes the place of; empty for a shipment's first."""
        return f"{self.shipment}-R{self.number - 1}" if self.number > 1 else ""
