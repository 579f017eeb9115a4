"""Pieces of evidence: the reads of one physical label are one piece, whatever number of symbols it has."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from operator import lt

from receiving.model import Address, Claim, LabelRead, Quad, RawRead, SizeClass, Source


@dataclass(frozen=True)
class Piece:
    """The reads of one physical label in one photo, or one scan; never empty, oldest read first.

    ``read_ids``, ``claims`` and ``addresses`` (each address once) follow from the reads; ``ambiguous`` says that a
    guided read in it could not rule out another code. ``size`` is what a person said of the carton.
    """

    reads: tuple[LabelRead, ...]
    size: SizeClass | None = None
    read_ids: tuple[str, ...] = field(init=False, repr=False, compare=False)
    claims: tuple[Claim, ...] = field(init=False, repr=False, compare=False)
    addresses: tuple[Address, ...] = field(init=False, repr=False, compare=False)
    ambiguous: bool = field(init=False, repr=False, compare=False)

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
        """A stable name: the id of its oldest read."""
        return self.read_ids[0]

    @property
    def photo(self) -> str:
        """SHA-256 of its photo, or empty for a scan or typed text."""
        return self.reads[0].raw.photo

    @property
    def label(self) -> int:
        """The number of the physical label in the photo; 0 where the reader could not tell."""
        return self.reads[0].raw.label

    @property
    def size_said(self) -> SizeClass | None:
        """How large the carton is: as a person said, else as its label says."""
        return self.size or next((claim.size for claim in self.claims if claim.size is not None), None)

    def values(self, name: str) -> tuple[str, ...]:
        """What its claims state for one text field of `Claim`, each once, in reading order."""
        if len(self.claims) == 1:
            value = getattr(self.claims[0], name)
            return (str(value),) if value else ()
        return tuple(dict.fromkeys(str(value) for claim in self.claims if (value := getattr(claim, name))))

    def apart_from(self, other: "Piece") -> bool:
        """True when both are in one photo and surely are two physical labels: other number, other place."""
        if not self.photo or self.photo != other.photo or 0 in (self.label, other.label) or self.label == other.label:
            return False
        return not any(_overlap(a.raw.quad_px, b.raw.quad_px) for a in self.reads for b in other.reads)


def labels_of(reads: Iterable[LabelRead]) -> tuple[list[LabelRead], list[list[LabelRead]]]:
    """The reads by physical label: the labels of one read, and those of several; each read id once, oldest first."""
    alone: dict[object, LabelRead] = {}
    together: dict[object, list[LabelRead]] = {}
    for read in _in_order(_each_once(reads)):
        raw = read.raw
        key: object = (raw.photo, raw.label) if raw.label and raw.photo else raw.read_id
        first = alone.setdefault(key, read)
        if first is not read:
            together.setdefault(key, [first]).append(read)
    for key in together:
        del alone[key]
    return list(alone.values()), list(together.values())


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
    """Oldest first; they mostly come so, which takes less time to see than to sort."""
    times = [read.raw.read_at for read in reads]
    return reads if all(map(lt, times, times[1:])) else sorted(reads, key=lambda read: when(read.raw))


def is_typed(read: LabelRead) -> bool:
    """A person typed it."""
    return read.raw.source is Source.TYPED


def when(raw: RawRead) -> tuple[datetime, str]:
    """What reads are ordered by: their time, and at one time their id."""
    return (raw.read_at, raw.read_id)


def _overlap(one: Quad | None, two: Quad | None) -> bool:
    """True when the bounding boxes touch, or when a place is not known and the two may be the same."""
    if one is None or two is None:
        return True
    return all(
        min(p[axis] for p in one) <= max(p[axis] for p in two)
        and min(p[axis] for p in two) <= max(p[axis] for p in one)
        for axis in (0, 1)
    )
