"""What a person says beside the reads, and which of it still counts. Notes are added, never changed or removed."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from receiving.model.limits import LARGEST_POSITION, MOST_PIECES, MOST_TRIPS, check_count, check_day, check_moment
from receiving.model.reads import Place, SizeClass

_PHOTO = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True)
class Note:
    """What every note has: its id (UUID), when (aware, UTC), who, and the action (UUID) that one tap made it with.

    ``seq`` is its place in the order in which notes were stored, 0 before: of two notes, the one stored later is the
    later word, whatever the clock said.
    """

    note_id: str
    noted_at: datetime
    by: str
    action_id: str = field(default="", kw_only=True)
    seq: int = field(default=0, kw_only=True, compare=False, repr=False)

    def __post_init__(self) -> None:
        check_moment("the time", self.noted_at)

    @property
    def order(self) -> tuple[int, datetime, bool, str]:
        """What notes are sorted by, oldest first.

        Of two of one instant a withdrawal is the later one: it can only answer something already said.
        """
        return self.seq, self.noted_at, isinstance(self, NoteWithdrawn), self.note_id


STORED_AS = {"SizeStated": "size_said", "RegionResolved": "region_settled"}
"""Kinds that were stored under a name before the class had its present one; what is stored keeps it."""


def note_kind(kind: type[Note]) -> str:
    """The word for a kind of note in the store, in requests and in files: its name in small letters.

    >>> note_kind(ReadRejected)
    'read_rejected'
    """
    return STORED_AS.get(kind.__name__) or re.sub(r"(?<!^)(?=[A-Z])", "_", kind.__name__).lower()


@dataclass(frozen=True)
class ReadRejected(Note):
    """This read is wrong or of no use: leave it out of the matching."""

    read_id: str
    reason: str = ""


@dataclass(frozen=True)
class ReadAssigned(Note):
    """A person says which carton this read is; ``carton`` empty: none of this shipment."""

    read_id: str
    carton: str


@dataclass(frozen=True)
class SizeStated(Note):
    """A person says how large the carton is whose label this read is; of two such notes the later one counts."""

    read_id: str
    size: SizeClass


@dataclass(frozen=True)
class NoteWithdrawn(Note):
    """The earlier note ``withdrawn`` no longer counts."""

    withdrawn: str


@dataclass(frozen=True)
class CartonSeen(Note):
    """A person confirms without a label that this carton is here."""

    carton: str
    reason: str = ""


@dataclass(frozen=True)
class RegionResolved(Note):
    """A person looked at a region of a photo that was not read: it is this carton's label, or no label (empty).

    ``region`` counts from 1 in the order in which the photo's reading lists them. It only closes the region: that the
    carton is here is a note of its own.
    """

    photo: str
    region: int
    carton: str = ""


@dataclass(frozen=True)
class CartonPlace(Note):
    """Where this carton stands now."""

    carton: str
    place: Place


@dataclass(frozen=True)
class PlaceSearched(Note):
    """A person looked for this missing carton here, and it was not there."""

    carton: str
    place: Place


@dataclass(frozen=True)
class ShortDeclared(Note):
    """This carton is declared short: it was looked for everywhere, or for this reason it was not."""

    carton: str
    reason: str = ""


@dataclass(frozen=True)
class OuterOpened(Note):
    """This outer box was opened. ``all_inside``: everything that the manifest puts in it was found."""

    carton: str
    all_inside: bool = False
    by_store: bool = False


class Damage(StrEnum):
    """Why a carton, an item or a position cannot be used as it is."""

    ARRIVED = "arrived_damaged"
    IN_WORK = "damaged_in_work"
    EXISTING_WORN = "existing_worn"
    EXISTING_MISSING = "existing_missing"
    WRONG_ITEM = "wrong_item"
    WRONG_SIDE = "wrong_side"


@dataclass(frozen=True)
class DamageNoted(Note):
    """Damage to a carton, one of its items, or a planogram position; ``usable`` says if it can be hung all the same."""

    carton: str
    reason: Damage
    usable: bool
    item: str = ""
    section: str = ""
    column: int | None = None
    row: int | None = None
    qty: int = 1
    photo: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        check_count("qty", self.qty, least=1, most=MOST_PIECES)
        _check_position(self.column, self.row)
        if self.photo and not _PHOTO.fullmatch(self.photo):
            raise ValueError(f"the photo {self.photo[:80]!r} is not the SHA-256 of a photo (64 hexadecimal digits)")


@dataclass(frozen=True)
class ContentCounted(Note):
    """What was found in an opened carton: ``item`` empty means that every line is all there."""

    carton: str
    item: str = ""
    qty: int | None = None
    column: int | None = None
    row: int | None = None
    section: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        check_count("qty", self.qty, least=0, most=MOST_PIECES)
        _check_position(self.column, self.row)


@dataclass(frozen=True)
class CartonMoved(Note):
    """This carton was taken to a bay (``bay`` empty: back to the back room), on this trip of the plan where known.

    ``along`` are the cartons that were on the cart with it.
    """

    carton: str
    bay: str = ""
    trip: int | None = None
    along: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        check_count("trip", self.trip, least=1, most=MOST_TRIPS)


@dataclass(frozen=True)
class StagingChanged(Note):
    """A person moved this carton in the plan: to a trip, a bay or both; it stays so in the next plan."""

    carton: str
    trip: int | None = None
    bay: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        check_count("trip", self.trip, least=1, most=MOST_TRIPS)


class FollowUp(StrEnum):
    """What is done about a carton that is missing."""

    ON_ITS_WAY = "on_its_way"
    SENT_AGAIN = "sent_again"
    NOT_COMING = "not_coming"
    DONE_WITHOUT = "done_without"


@dataclass(frozen=True)
class ShortageFollowed(Note):
    """What is done about this missing carton, and the day by which it should be at the store, where that is known.

    ``spare_of`` is the shipment whose extra carton is brought in its place; empty where it comes from elsewhere.
    """

    carton: str
    step: FollowUp
    due: date | None = None
    remark: str = ""
    spare_of: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        check_day("due", self.due)


@dataclass(frozen=True)
class VisitDecided(Note):
    """The rep is sent (``go``) though ``cartons`` are missing, or the visit is held, ``until`` a day if one is known.

    ``cartons`` are those that were not here when it was decided; it says nothing about one found missing later.
    """

    go: bool
    until: date | None = None
    remark: str = ""
    cartons: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        check_day("until", self.until)


@dataclass(frozen=True)
class ShipmentDelivered(Note):
    """The carrier says that the shipment was delivered on this day; the last such note holds."""

    day: date

    def __post_init__(self) -> None:
        super().__post_init__()
        check_day("day", self.day)


@dataclass(frozen=True)
class ShipmentVoided(Note):
    """The shipment was imported by mistake (``voided``), or it counts again; the last such note holds."""

    voided: bool
    reason: str = ""


def _check_position(column: int | None, row: int | None) -> None:
    check_count("column", column, least=1, most=LARGEST_POSITION)
    check_count("row", row, least=1, most=LARGEST_POSITION)


NOTE_KINDS: dict[str, type[Note]] = {note_kind(kind): kind for kind in Note.__subclasses__()}
"""Every kind of note by its word; a kind that is added here is stored, read back and taken from requests."""


# Which notes still count, after everything that was withdrawn and withdrawn again: one rule for every room.


def notes_in_force(notes: Iterable[Note]) -> tuple[Note, ...]:
    """The notes that count, oldest first: each id once, without withdrawals and what they withdrew.

    A withdrawal can itself be withdrawn, which brings the first note back.
    """
    once = {note.note_id: note for note in sorted(notes, key=repr)}
    gone: set[str] = set()
    counting: list[Note] = []
    for note in sorted(once.values(), key=lambda note: note.order, reverse=True):
        if note.note_id in gone:
            continue
        if isinstance(note, NoteWithdrawn):
            gone.add(note.withdrawn)
        else:
            counting.append(note)
    return tuple(reversed(counting))
