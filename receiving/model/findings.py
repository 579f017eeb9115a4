"""The result of matching: every manifest carton in one state, every read explained."""

from dataclasses import dataclass
from enum import StrEnum

from receiving.model.expected import Carton
from receiving.model.facts import Fact
from receiving.model.identifiers import Sscc
from receiving.model.notes import DamageNoted
from receiving.model.reads import Place, Quad, SizeClass


class CartonState(StrEnum):
    """The one state of a manifest carton."""

    RECEIVED = "received"
    INSIDE = "inside"
    SHORT = "short"


class How(StrEnum):
    """By what a carton was found here."""

    SSCC = "sscc"
    BARCODE = "barcode"
    ADDRESS = "address"
    GUIDED = "guided"
    TYPED = "typed"
    INSIDE_OUTER = "inside_outer"


class OverReason(StrEnum):
    """Why something that was read is not on this manifest."""

    OTHER_STORE = "other_store"
    OTHER_SHIPMENT = "other_shipment"
    NOT_ON_MANIFEST = "not_on_manifest"
    NOT_A_CARTON_LABEL = "not_a_carton_label"


@dataclass(frozen=True, slots=True)
class CartonFinding:
    """One manifest carton: its state, by what, the reads that show it (ids), and the reason.

    ``asked_in`` are the ids of the questions whose answer may be this carton, where nothing shows it for sure.
    """

    carton: Carton
    state: CartonState
    why: Fact
    how: How | None = None
    evidence: tuple[str, ...] = ()
    place: Place | None = None
    confidence: float = 1.0
    damage: tuple[DamageNoted, ...] = ()
    asked_in: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Over:
    """Something read that is not on this manifest; ``belongs_to`` says whose it is, where known."""

    raw: str
    why: OverReason
    read_ids: tuple[str, ...]
    belongs_to: Fact | None = None
    shipment: str = ""
    store: str = ""
    carton: str = ""
    sscc: Sscc | None = None

    @property
    def code(self) -> str:
        """The code as it stands in print: the SSCC where it has one, else the text as read."""
        return f"SSCC {self.sscc}" if self.sscc else self.raw


@dataclass(frozen=True, slots=True)
class Duplicate:
    """Two physical labels that carry the code of one carton."""

    carton: str
    raw: str
    read_ids: tuple[str, ...]
    why: Fact


@dataclass(frozen=True, slots=True)
class Question:
    """Reads of one label that fits more than one carton (or none surely): a person must say which.

    ``cartons`` are the missing ones that it may be, ``again`` those that are here and of which it may be a second
    look. ``sizes`` are what a person may say of the carton's size to tell the cartons apart, ``size`` what was said.
    """

    question_id: str
    read_ids: tuple[str, ...]
    cartons: tuple[str, ...]
    why: Fact
    sizes: tuple[SizeClass, ...] = ()
    size: SizeClass | None = None
    again: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Unclear:
    """Text that says too little to name a carton: part of a label, or a typing mistake. Nobody signs for it."""

    raw: str
    read_ids: tuple[str, ...]
    why: Fact


@dataclass(frozen=True, slots=True)
class OtherShipment:
    """The open shipment that the labels in this pile fit better, and by how much: natural logarithm of the odds.

    ``labels`` is how many labels are that shipment's, ``own`` how many are this one's.
    """

    shipment: str
    store: str
    log_odds: float
    labels: int
    own: int


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A label on a photo (SHA-256) that could not be read."""

    photo: str
    quad_px: Quad
    advice: str


class Outcome(StrEnum):
    """What became of one read."""

    MATCHED = "matched"
    DUPLICATE = "duplicate"
    OVER = "over"
    QUESTION = "question"
    REJECTED = "rejected"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class Explanation:
    """What became of one read, with the reason, which a person can check; ``carton`` where matched.

    ``odds`` say how many times likelier the answer is than the next best one, where likelihood decided.
    """

    read_id: str
    outcome: Outcome
    why: Fact
    carton: str = ""
    odds: float | None = None


@dataclass(frozen=True)
class Reconciliation:
    """The state of one shipment. ``cartons`` has every manifest carton once, in manifest order.

    ``explanations`` has every read once, in order of read id. ``looks_like`` is set where the pile seems to be another
    shipment's.
    """

    shipment: str
    store: str
    cartons: tuple[CartonFinding, ...]
    over: tuple[Over, ...] = ()
    duplicates: tuple[Duplicate, ...] = ()
    questions: tuple[Question, ...] = ()
    unreadable: tuple[Unreadable, ...] = ()
    explanations: tuple[Explanation, ...] = ()
    unclear: tuple[Unclear, ...] = ()
    looks_like: OtherShipment | None = None

    @property
    def expected(self) -> int:
        """How many cartons the manifest holds."""
        return len(self.cartons)

    def in_state(self, state: CartonState) -> tuple[CartonFinding, ...]:
        """The cartons in this state, in manifest order."""
        return tuple(f for f in self.cartons if f.state is state)

    @property
    def received(self) -> tuple[CartonFinding, ...]:
        """The cartons that are proven to be here."""
        return self.in_state(CartonState.RECEIVED)

    @property
    def short(self) -> tuple[CartonFinding, ...]:
        """The cartons that are not proven to be here: missing ones, and those inside an unopened outer box."""
        return tuple(f for f in self.cartons if f.state is not CartonState.RECEIVED)

    @property
    def extra(self) -> tuple[Over, ...]:
        """Overs that are cartons (a product's own barcode in view is not an extra carton)."""
        return tuple(o for o in self.over if o.why is not OverReason.NOT_A_CARTON_LABEL)

    @property
    def complete(self) -> bool:
        """Nothing short and no extra carton."""
        return not self.short and not self.extra
