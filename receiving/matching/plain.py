"""The common label, answered at once: one symbol whose code one carton has, and nothing on it that contradicts."""

from collections.abc import Container, Sequence

from receiving.matching.catalogue import Catalogue, compared
from receiving.matching.evidence import Plain
from receiving.matching.pieces import Piece
from receiving.matching.verdicts import said
from receiving.model import How, LabelRead, Source

# Looking a member up in its class takes longer than all else that is done with a plain label.
TYPED, SSCC, BARCODE = Source.TYPED, How.SSCC, How.BARCODE


def plain_labels(
    labels: Sequence[Sequence[LabelRead]], catalogue: Catalogue, spoken_of: Container[str]
) -> tuple[dict[str, Plain], list[Piece]]:
    """The labels sorted into plain ones, by carton, and pieces that must be judged; both oldest first.

    ``spoken_of`` are the ids of reads that a person said something about: they are never plain.
    """
    finder = Finder(catalogue)
    pieces = []
    for reads in labels:
        read = reads[0]
        found = finder.find(read) if len(reads) == 1 and read.raw.read_id not in spoken_of else None
        if found is None:
            pieces.append(Piece(tuple(reads)))
        else:
            found.reads.append(read)
    return {found.carton: found for found in finder.of_carton.values() if found.reads}, pieces


class Finder:
    """Finds the carton of a plain label; each code of the manifest is looked into once."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.of_carton: dict[str, Plain] = {}
        self.by_sscc: dict[str, Plain | None] = {}
        self.by_barcode: dict[str, Plain | None] = {}

    def find(self, read: LabelRead) -> Plain | None:
        """The labels that this one belongs to, or None where more than its code must be looked at."""
        raw, claim = read.raw, read.claim
        if raw.source is TYPED or raw.guided or raw.alternatives or claim.gtin or claim.carton:
            return None
        if claim.sscc is None:
            code, how, known = claim.barcode, BARCODE, self.by_barcode
        else:
            code, how, known = claim.sscc.digits, SSCC, self.by_sscc
            if claim.barcode and claim.barcode != code:
                return None
        if code not in known:
            known[code] = self._of_code(code, how)
        found = known[code]
        if found is None or claim.address is None or not found.addresses or claim.address in found.addresses:
            return found
        return None

    def _of_code(self, code: str, how: How) -> Plain | None:
        """Its one carton; a carton found by another code as well is left to be judged."""
        cartons = self.catalogue.with_code(code)
        if len(cartons) != 1 or compared(code) != code or cartons[0] in self.of_carton:
            return None
        carton = self.catalogue.by_id[cartons[0]]
        start = f"SSCC {code}" if how is SSCC else said(code, how)
        sentence = f"{start} is carton {carton.carton} on the manifest"
        addresses = [line.address for line in carton.contents if line.address is not None]
        found = Plain(carton.carton, how, sentence, addresses, [])
        self.of_carton[carton.carton] = found
        return found
