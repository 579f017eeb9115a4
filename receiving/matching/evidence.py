"""By what each carton is shown: plain labels as bare reads, all else as proven pieces."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from receiving.matching.pieces import Piece, when
from receiving.matching.verdicts import Proven
from receiving.model import Address, Carton, How, LabelRead, RawRead

SSCC = How.SSCC


@dataclass(slots=True)
class Plain:
    """The plain labels of one carton: one symbol each, read by a machine, all with one code of this carton alone.

    ``at`` is the carton's first address; ``reads`` are oldest first, ``photos`` where they were seen.
    """

    carton: Carton
    how: How
    at: Address | None
    reads: list[LabelRead]
    photos: set[str]

    @property
    def sentence(self) -> str:
        """What each of the labels shows."""
        carton = self.carton
        code = f"SSCC {carton.sscc}" if self.how is SSCC else f"Barcode {carton.barcode}"
        return f"{code} is carton {carton.carton} on the manifest"

    def proven(self) -> list[Proven]:
        """The same as pieces, to be weighed against others."""
        name, sentence = self.carton.carton, self.sentence
        return [Proven(Piece((read,)), name, self.how, sentence) for read in self.reads]


class Evidence:
    """What shows each carton: plain labels as bare reads, all else as pieces.

    Nearly all labels are plain; they are made into pieces only where something must be weighed against them.
    """

    def __init__(self, plain: Mapping[str, Plain] | None = None, proven: Iterable[Proven] = ()) -> None:
        self.plain = plain or {}
        self.proven: dict[str, list[Proven]] = {}
        self._as_pieces: dict[str, list[Proven]] = {}
        for found in proven:
            self.add(found)

    def of(self, carton: str) -> Sequence[Proven]:
        """All pieces that show this carton, plain labels first."""
        labels, others = self.plain.get(carton), self.proven.get(carton, ())
        if labels is None:
            return others
        if carton not in self._as_pieces:
            self._as_pieces[carton] = labels.proven()
        return [*self._as_pieces[carton], *others]

    def raws(self, carton: str) -> list[RawRead]:
        """The raw reads that show this carton, oldest first."""
        labels, others = self.plain.get(carton), self.proven.get(carton)
        raws = [read.raw for read in labels.reads] if labels is not None else []
        if others is None:
            return raws
        return sorted([*raws, *(read.raw for found in others for read in found.piece.reads)], key=when)

    def in_photo(self, carton: str, photo: str) -> Sequence[Proven]:
        """The pieces of one photo that show this carton; none where ``photo`` is empty."""
        labels, others = self.plain.get(carton), self.proven.get(carton, ())
        if not photo or not ((labels and photo in labels.photos) or any(f.piece.photo == photo for f in others)):
            return ()
        return [found for found in self.of(carton) if found.piece.photo == photo]

    def add(self, found: Proven) -> None:
        """Record one more piece."""
        self.proven.setdefault(found.carton, []).append(found)

    def __contains__(self, carton: str) -> bool:
        return carton in self.plain or carton in self.proven

    def __iter__(self) -> Iterator[str]:
        yield from self.plain
        yield from (carton for carton in self.proven if carton not in self.plain)
