"""The staging plan: what rides on which trip, where it stands, and what to be careful of."""

from dataclasses import dataclass


@dataclass(frozen=True)
class OpenFirst:
    """A carton that must be opened before the others, and whether it is here."""

    carton: str
    found: bool
    why: str = ""


@dataclass(frozen=True)
class Trip:
    """One cart trip from the back room, cartons in loading order (first loaded first, at the bottom)."""

    trip: int
    cartons: tuple[str, ...]
    load_kg: float
    stops: tuple[str, ...] = ()


@dataclass(frozen=True)
class BayStaging:
    """The cartons that stand in front of one bay, in the order in which they are opened."""

    bay: str
    cartons: tuple[str, ...]


@dataclass(frozen=True)
class Caution:
    """A caution for the people who carry; it defers to store management and local codes."""

    text: str
    carton: str = ""


@dataclass(frozen=True)
class Held:
    """A carton that stays in the back room, and why."""

    carton: str
    why: str


@dataclass(frozen=True)
class StagingPlan:
    """Where every received carton goes. ``open_first`` also lists open-first cartons not found."""

    open_first: tuple[OpenFirst, ...] = ()
    trips: tuple[Trip, ...] = ()
    bays: tuple[BayStaging, ...] = ()
    cautions: tuple[Caution, ...] = ()
    held: tuple[Held, ...] = ()
