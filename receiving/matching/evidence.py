"""By what each carton is shown: plain labels as bare reads, all else as proven pieces."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from receiving.matching.pieces import Piece, when
from receiving.matching.verdicts import Proven
from receiving.model import Address, How, LabelRead, RawRead


@dataclass(slots=True)
class Plain:
    """The plain labels of one carton: one symbol each, read by a machine, all with one code of this carton alone.

    ``reads`` are oldest first; ``sentence`` is true of each. ``addresses`` are those that its label may
    state, ``at`` the first of them.
    """

    carton: str
    how: How
    sentence: str
    at: Address | None
    addresses: Sequence[Address]
    reads: list[LabelRead]

    def proven(self) -> list[Proven]:
        """The same as pieces, to be weighed against others."""
        return [Proven(Piece((read,)), self.carton, self.how, self.sentence) for read in self.reads]


class Evidence:
    """What shows each carton. Nearly all labels are plain: they are made into pieces only where something asks."""

    def __init__(self, plain: Mapping[str, Plain] | None = None, proven: Iterable[Proven] = ()) -> None:
        self.plain = dict(plain or {})
        self.proven: dict[str, list[Proven]] = {}
        for found in proven:
            self.add(found)

    def of(self, carton: str) -> Sequence[Proven]:
        """All pieces that show this carton, whole labels first."""
        labels = self.plain.pop(carton, None)
        if labels is not None:
            self.proven[carton] = labels.proven()
        return self.proven.get(carton, ())

    def raws(self, carton: str) -> list[RawRead]:
        """The raw reads that show this carton, oldest first."""
        labels = self.plain.get(carton)
        if labels is not None:
            return [read.raw for read in labels.reads]
        return sorted((read.raw for found in self.proven.get(carton, ()) for read in found.piece.reads), key=when)

    def in_photo(self, carton: str, photo: str) -> Sequence[Proven]:
        """The pieces of one photo that show this carton; none where ``photo`` is empty."""
        labels = self.plain.get(carton)
        if not photo or (labels is not None and all(read.raw.photo != photo for read in labels.reads)):
            return ()
        return [found for found in self.of(carton) if found.piece.photo == photo]

    def add(self, found: Proven) -> None:
        """Record one more piece."""
        self.of(found.carton)
        self.proven.setdefault(found.carton, []).append(found)

    def __contains__(self, carton: str) -> bool:
        return carton in self.plain or carton in self.proven

    def __iter__(self) -> Iterator[str]:
        yield from (*self.plain, *self.proven)
