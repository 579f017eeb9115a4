"""What one label observation says by itself: a carton, one of several, something over, or too little."""

from dataclasses import dataclass

from receiving.matching.catalogue import Listed
from receiving.matching.facts import Fact
from receiving.matching.observations import Observation
from receiving.model import How, OverReason


@dataclass(frozen=True, eq=False)
class Matched:
    """It is this carton; ``how`` says by what the label shows it, ``odds`` how far ahead of the next best."""

    observation: Observation
    carton: str
    how: How
    why: Fact
    by_person: bool = False
    odds: float | None = None


@dataclass(frozen=True, eq=False)
class Shared:
    """It carries a code that all these cartons have, and nothing else that tells them apart."""

    observation: Observation
    cartons: tuple[str, ...]
    code: str


@dataclass(frozen=True, eq=False)
class OverLabel:
    """It is of no carton of the manifest. Observations with one ``key`` are one thing."""

    observation: Observation
    key: str
    raw: str
    reason: OverReason
    why: Fact
    listed: Listed | None = None
    store: str = ""


@dataclass(frozen=True, eq=False)
class UnclearLabel:
    """It says too little, or nothing that this manifest knows."""

    observation: Observation
    why: Fact


@dataclass(frozen=True, eq=False)
class Candidates:
    """It fits these cartons (none, one or several), sorted by id; the other evidence must decide.

    ``costs`` say in nats how ill each fits. ``shown`` is what it shows, for the sentence. ``ask`` is set where nothing
    but a person may decide, and says why; ``otherwise`` is what it is where none of these cartons is missing.
    """

    observation: Observation
    cartons: tuple[str, ...]
    costs: tuple[float, ...]
    shown: tuple[tuple[str, object], ...]
    how: How = How.ADDRESS
    ask: Fact | None = None
    otherwise: OverLabel | UnclearLabel | None = None


Judgement = Matched | Shared | Candidates | OverLabel | UnclearLabel
