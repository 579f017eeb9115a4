"""What one label says by itself, and every reason that matching gives; `receiving.wording` has the words."""

from dataclasses import dataclass
from enum import StrEnum, auto

from receiving.matching.catalogue import Listed
from receiving.matching.observations import Observation
from receiving.model import Fact, How, OverReason


class Reason(StrEnum):
    """Every reason that matching gives; `receiving.wording.matching` has its parameters beside its words."""

    # A label, or a person, names a carton.
    CODE_OF_CARTON = auto()
    PERSON_ASSIGNED = auto()
    FITS_AGAIN = auto()
    FITS_ALONE = auto()
    FITS_LAST_OPEN = auto()
    FITS_BEST = auto()
    ONLY_ONE_THERE = auto()
    POSITION_BESIDE_CODE = auto()
    BLUR_LEAVES_ONE = auto()
    COUNTED_IN_PHOTO = auto()
    COUNTED_ONCE = auto()
    # It fits cartons that are all here.
    ALL_HERE = auto()
    # Something is not on the manifest.
    ON_OTHER_MANIFEST = auto()
    ON_OTHER_MANIFESTS = auto()
    NAMES_STORE = auto()
    NAMES_SHIPMENT = auto()
    NOT_LISTED = auto()
    FITS_ELSEWHERE = auto()
    FITS_NO_CARTON = auto()
    PERSON_SAYS_NONE = auto()
    NO_CARTON_LABEL = auto()
    OPEN_FIRST_STICKER = auto()
    FAULTY_DATA = auto()
    # It says too little.
    FITS_TOO_MANY = auto()
    NOT_UNDERSTOOD = auto()
    OF_ANOTHER_SHIPMENT = auto()
    BLURRED_ELSEWHERE = auto()
    # A person must decide.
    NOTHING_ELSE_LEGIBLE = auto()
    SHARED_CODE = auto()
    CODES_OF_SEVERAL = auto()
    CODE_AND_PRINT_DIFFER = auto()
    UNLISTED_SSCC = auto()
    BLURRED = auto()
    ONE_SLIP_AWAY = auto()
    ITEM_OF_SEVERAL = auto()
    SWAPPED_DIGITS = auto()
    WHICH_CARTON = auto()
    # A read is left out.
    PERSON_REJECTED = auto()
    # A carton is here, or not, whatever its label says.
    OPENED = auto()
    OPENED_COMPLETE = auto()
    COUNTED = auto()
    CONFIRMED = auto()
    BROKEN_DOWN = auto()
    NOTHING_SHOWS_IT = auto()
    OUTER_NOT_HERE = auto()
    NOT_IN_OPENED_OUTER = auto()
    OTHERS_OF_OUTER_SEEN = auto()
    IN_CLOSED_OUTER = auto()
    LABEL_WAITS = auto()
    # Two labels carry one code.
    TWICE_IN_PHOTO = auto()
    AT_TWO_PLACES = auto()


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
