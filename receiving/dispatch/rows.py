"""One shipment as a row of facts: made from what is stored, the same whatever day it is."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from receiving.dispatch.calendar import StoreTerms
from receiving.dispatch.naming import carton_item
from receiving.model import (
    Carton,
    CartonKind,
    CartonState,
    Note,
    Reconciliation,
    ShortageFollowed,
    VisitDecided,
)

CAN_FOLLOW = frozenset(
    {CartonKind.TAGS, CartonKind.INSTRUCTIONS, CartonKind.GRAPHIC, CartonKind.HEADER, CartonKind.LIGHTING}
)
"""What serves a whole section and can be put on after it is set. Common practice, no source."""


class Weight(StrEnum):
    """What waits for a missing carton; the heaviest first."""

    SECTION = "section"
    POSITIONS = "positions"
    NOTHING = "nothing"


@dataclass(frozen=True)
class MissingCarton:
    """A carton that is missing: what it blocks, and the last that was done about it.

    ``request`` is the replacement request that asks for it, empty where none does; ``replaced``: what the request
    sends for it is here. ``positions`` wait for it; ``whole_section``: a section cannot be set without it.
    ``item`` says what is in it, the same for cartons that can stand in for each other; empty where nobody can say.
    """

    carton: str
    followed: ShortageFollowed | None = None
    request: str = ""
    kind: CartonKind = CartonKind.OTHER
    replaced: bool = False
    positions: int = 0
    whole_section: bool = False
    item: str = ""

    @property
    def weight(self) -> Weight:
        """What waits for it."""
        if self.whole_section:
            return Weight.SECTION
        return Weight.POSITIONS if self.positions else Weight.NOTHING


@dataclass(frozen=True)
class Wait:
    """A carton that was missing at the first count, this many days before the visit, and the day before it was found.

    ``found`` is None for one that was never found, and 0 or less for one that was found too late.
    """

    counted: int
    found: int | None


@dataclass(frozen=True)
class ShipmentRow:
    """One shipment in a list: its counts as of the last read (aware, UTC).

    ``planned_visit`` is the day for which the manifest plans the rep's visit; ``visit`` is the coordinator's last
    decision on it, and ``inside_covered``: it was made knowing all that is inside an unopened outer box.
    ``followed`` are the missing cartons. ``positions`` of the planogram, of which ``settable`` can be set.
    It was ``delivered`` on this day, and first ``counted`` on that one, at the store.
    ``waits`` are the cartons that were missing at the first count. ``spares`` are extra cartons, each by what is in it;
    ``brought`` names the shipments that cartons of this one were promised from, each with what is in it.
    ``sections`` and ``shipper`` are those that the manifest names; shipments of one ``kit`` hold the same, and those
    of one ``lane`` come from one shipper, by one carrier, to one region. ``to_check`` is how many things a person
    should look at, open questions and damaged cartons among them.
    ``replaces`` are the shipments that a replacement shipment serves, and ``due`` the day by which it should be here.
    """

    shipment: str
    store: str
    planned_visit: date | None
    expected: int
    here: int
    inside: int
    missing: int
    extra: int
    questions: int
    damaged: int
    revision: int
    last_read_at: datetime | None
    confirmed: bool
    followed: tuple[MissingCarton, ...] = ()
    visit: VisitDecided | None = None
    inside_covered: bool = False
    positions: int = 0
    settable: int = 0
    replaces: tuple[str, ...] = ()
    due: date | None = None
    waits: tuple[Wait, ...] = ()
    delivered: date | None = None
    counted: date | None = None
    spares: tuple[str, ...] = ()
    brought: tuple[tuple[str, str], ...] = ()
    store_name: str = ""
    sections: tuple[str, ...] = ()
    shipper: str = ""
    kit: str = ""
    lane: str = ""
    terms: StoreTerms = field(default_factory=StoreTerms)
    to_check: int = 0

    @property
    def looked_at(self) -> bool:
        """True once anything of the shipment was read, noted as seen, or confirmed."""
        return self.last_read_at is not None or self.here > 0 or self.confirmed

    @property
    def odd(self) -> bool:
        """True when something is to be looked at though every expected carton may be here."""
        return bool(self.extra or self.questions or self.damaged or self.to_check)

    @property
    def short(self) -> bool:
        """True when a carton is missing or not yet seen."""
        return bool(self.missing or self.inside)

    @property
    def held(self) -> bool:
        """True while the coordinator holds the visit."""
        return self.visit is not None and not self.visit.go

    @property
    def visit_date(self) -> date | None:
        """The day of the visit: the planned one, or the one that it is held until."""
        return self.visit.until if self.held and self.visit and self.visit.until else self.planned_visit


def missing_cartons(
    reconciliation: Reconciliation,
    notes: Iterable[Note],
    *,
    requested: Mapping[str, str],
    replaced: Collection[str] = (),
    blocked: Mapping[str, int] | None = None,
) -> tuple[MissingCarton, ...]:
    """The missing cartons with what is done about each, in manifest order.

    ``notes`` are those that count, oldest first; ``requested`` gives the replacement request by carton, ``replaced``
    names those whose replacement is here, and ``blocked`` says how many positions wait for each.
    """
    last = {note.carton: note for note in notes if isinstance(note, ShortageFollowed)}
    waiting = blocked or {}
    return tuple(
        MissingCarton(
            carton.carton,
            last.get(carton.carton),
            requested.get(carton.carton, ""),
            carton.kind,
            carton.carton in replaced,
            waiting.get(carton.carton, 0),
            _serves_a_section(carton),
            carton_item(carton),
        )
        for carton in (finding.carton for finding in reconciliation.in_state(CartonState.SHORT))
    )


def _serves_a_section(carton: Carton) -> bool:
    return not carton.addresses and carton.kind not in CAN_FOLLOW


def shipment_row(
    reconciliation: Reconciliation,
    *,
    planned_visit: date | None,
    revision: int,
    last_read_at: datetime | None,
    confirmed: bool,
    visit: VisitDecided | None = None,
) -> ShipmentRow:
    """The counts of one shipment, and the last decision on its visit."""
    inside = reconciliation.in_state(CartonState.INSIDE)
    covered = visit is not None and visit.go and {f.carton.carton for f in inside} <= set(visit.cartons)
    return ShipmentRow(
        shipment=reconciliation.shipment,
        store=reconciliation.store,
        planned_visit=planned_visit,
        expected=reconciliation.expected,
        here=len(reconciliation.received),
        inside=len(inside),
        missing=len(reconciliation.short) - len(inside),
        extra=len(reconciliation.extra),
        questions=len(reconciliation.questions),
        damaged=sum(bool(f.damage) for f in reconciliation.cartons),
        revision=revision,
        last_read_at=last_read_at,
        confirmed=confirmed,
        visit=visit,
        inside_covered=covered,
    )
