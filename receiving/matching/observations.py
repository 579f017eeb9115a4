"""Label observations, and what one says by itself: the reads of one physical label in one photo, or one scan, are one.

Every reason that matching gives is here, as a fact; `receiving.wording` has the words.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum, auto
from typing import Any

from receiving.matching.catalogue import Listed
from receiving.model import Address, Claim, Fact, How, LabelRead, OverReason, Quad, RawRead, SizeClass, Source

CODE_FIELDS = ("sscc", "barcode", "gtin")


@dataclass(frozen=True, eq=False)
class Observation:
    """The reads of one physical label in one photo, or one scan; never empty, in the order of `read_order`.

    ``read_ids``, ``claims`` and ``addresses`` (each address once) follow from the reads; ``ambiguous`` says that a
    guided read in it could not rule out another code. ``size`` is what a person said of the carton.
    """

    reads: tuple[LabelRead, ...]
    size: SizeClass | None = None
    read_ids: tuple[str, ...] = field(init=False, repr=False)
    claims: tuple[Claim, ...] = field(init=False, repr=False)
    addresses: tuple[Address, ...] = field(init=False, repr=False)
    ambiguous: bool = field(init=False, repr=False)

    def __post_init__(self) -> None:
        # Worked out once, since every step of matching asks for them.
        claims = tuple([read.claim for read in self.reads])
        stated = [claim.address for claim in claims if claim.address is not None]
        object.__setattr__(self, "read_ids", tuple([read.raw.read_id for read in self.reads]))
        object.__setattr__(self, "claims", claims)
        object.__setattr__(self, "addresses", tuple(stated) if len(stated) < 2 else tuple(dict.fromkeys(stated)))
        object.__setattr__(self, "ambiguous", any(read.raw.alternatives for read in self.reads))

    @property
    def key(self) -> str:
        """A stable name: the id of its first read."""
        return self.read_ids[0]

    @property
    def order(self) -> tuple[Any, ...]:
        """What observations are ordered by; no name of a photo or a read decides while anything else can."""
        return read_order(self.reads[0].raw)

    @property
    def photo(self) -> str:
        """SHA-256 of its photo, or empty for a scan or typed text."""
        return self.reads[0].raw.photo

    @property
    def label(self) -> int:
        """The number of the physical label in the photo; 0 where the reader could not tell."""
        return self.reads[0].raw.label

    @property
    def typed(self) -> bool:
        """A person typed all of it."""
        return all(read.raw.source is Source.TYPED for read in self.reads)

    @property
    def stated_size(self) -> SizeClass | None:
        """How large the carton is: as a person said, else as its label says."""
        return self.size or next((claim.size for claim in self.claims if claim.size is not None), None)

    def values(self, name: str) -> tuple[str, ...]:
        """What its claims state for one text field of `Claim`, each once, in reading order."""
        if len(self.claims) == 1:
            value = getattr(self.claims[0], name)
            return (str(value),) if value else ()
        return tuple(dict.fromkeys(str(value) for claim in self.claims if (value := getattr(claim, name))))

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes on the whole label, symbol by symbol: SSCC, barcode, GTIN."""
        return tuple(code for claim in self.claims for code in codes_claimed(claim))

    @property
    def words(self) -> tuple[str, ...]:
        """Its texts, each once, sorted: two labels that say the same have the same."""
        return tuple(sorted({read.raw.raw for read in self.reads}))

    def apart_from(self, other: "Observation") -> bool:
        """True when both are in one photo and surely are two physical labels: other number, other place."""
        if not self.photo or self.photo != other.photo or 0 in (self.label, other.label) or self.label == other.label:
            return False
        return not any(_overlap(a.raw.quad_px, b.raw.quad_px) for a in self.reads for b in other.reads)


def codes_claimed(claim: Claim) -> tuple[str, ...]:
    """The codes that one symbol claims: SSCC, barcode, GTIN."""
    return tuple(str(value) for name in CODE_FIELDS if (value := getattr(claim, name)))


def text_reads(observation: Observation) -> tuple[LabelRead, ...]:
    """Its reads that are text, typed or read from print, and no symbol."""
    return tuple(read for read in observation.reads if not read.raw.symbology)


def group_by_label(reads: Iterable[LabelRead]) -> list[tuple[LabelRead, ...]]:
    """The reads by physical label, each read id once; the labels and the reads of each in the order of `read_order`."""
    labels: dict[object, list[LabelRead]] = {}
    for read in _in_order(_each_once(reads)):
        raw = read.raw
        # A scanner reads one label at a time: each of its reads is a label of its own.
        key: object = (raw.photo, raw.label) if raw.label and raw.photo else raw.read_id
        labels.setdefault(key, []).append(read)
    return [tuple(label) for label in labels.values()]


def read_order(raw: RawRead) -> tuple[Any, ...]:
    """What reads are ordered by: their time, then their place in the photo and their text, and at last their id.

    Ids of a photo's reads follow from the hash of its bytes, which must not decide anything.
    """
    return (raw.read_at, raw.quad_px or (), raw.raw, raw.symbology, raw.read_id)


def _each_once(reads: Iterable[LabelRead]) -> list[LabelRead]:
    given = list(reads)
    if len({read.raw.read_id for read in given}) == len(given):
        return given
    once = {read.raw.read_id: read for read in given}
    for read in given:
        known = once[read.raw.read_id]
        # One id with two contents is a fault of the sender; the choice must not hang on the order of arrival.
        if known is not read and known != read and repr(read) < repr(known):
            once[read.raw.read_id] = read
    return list(once.values())


def _in_order(reads: list[LabelRead]) -> list[LabelRead]:
    """Oldest first; reads of one instant, as those of one photo, are put in order among themselves."""
    # By time alone first: the full key, which is expensive to build, is needed for reads of one instant only.
    ordered = sorted(reads, key=_time)
    start = 0
    for end in range(1, len(ordered) + 1):
        if end == len(ordered) or ordered[end].raw.read_at != ordered[start].raw.read_at:
            if end - start > 1:
                ordered[start:end] = sorted(ordered[start:end], key=_when_read)
            start = end
    return ordered


def _time(read: LabelRead) -> datetime:
    return read.raw.read_at


def _when_read(read: LabelRead) -> tuple[Any, ...]:
    return read_order(read.raw)


def _overlap(one: Quad | None, two: Quad | None) -> bool:
    """True when the bounding boxes touch, or when a place is not known and the two may be the same."""
    # Not to know is to say "perhaps the same": only what is surely apart may count as two cartons.
    if one is None or two is None:
        return True
    return all(
        min(p[axis] for p in one) <= max(p[axis] for p in two)
        and min(p[axis] for p in two) <= max(p[axis] for p in one)
        for axis in (0, 1)
    )


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
