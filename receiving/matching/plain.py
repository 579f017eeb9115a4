"""The common label, answered at once: one symbol whose code one carton has, and nothing on it that contradicts."""

from collections.abc import Container, Iterable

from receiving.matching.catalogue import Catalogue, compared
from receiving.matching.evidence import Plain
from receiving.model import Address, How, LabelRead, Source

# Looking a member up in its class takes longer than all else that is done with a plain label.
TYPED, SSCC, BARCODE = Source.TYPED, How.SSCC, How.BARCODE


def plain_labels(
    labels: Iterable[LabelRead], catalogue: Catalogue, spoken_of: Container[str]
) -> tuple[dict[str, Plain], list[LabelRead]]:
    """The labels of one symbol sorted into plain ones, by carton, and those that must be judged.

    A plain label is what `identify` would find proven, and says so in the same words: read by a machine and not
    guessed, with a code that only one carton has, no other code, and no place that is not this carton's.
    ``spoken_of`` are the ids of reads that a person said something about: they are never plain.
    """
    by_sscc, by_barcode = _by_own_code(catalogue)
    judged = []
    for read in labels:
        raw, claim = read.raw, read.claim
        sscc, said = claim.sscc, claim.address
        found = by_barcode.get(claim.barcode) if sscc is None else by_sscc.get(sscc.digits)
        if (
            found is None
            or (said is not None and _elsewhere(said, found))
            or (sscc is not None and claim.barcode and claim.barcode != sscc.digits)
            or claim.gtin
            or claim.carton
            or raw.source is TYPED
            or raw.guided
            or raw.alternatives
            or raw.read_id in spoken_of
        ):
            judged.append(read)
        else:
            found.reads.append(read)
            found.photos.add(raw.photo)
    places = (*by_sscc.values(), *by_barcode.values())
    return {found.carton.carton: found for found in places if found.reads}, judged


def _by_own_code(catalogue: Catalogue) -> tuple[dict[str, Plain], dict[str, Plain]]:
    """A place for the plain labels of each carton by its SSCC, or by its barcode where it has none."""
    by_sscc: dict[str, Plain] = {}
    by_barcode: dict[str, Plain] = {}
    for carton in catalogue.manifest.cartons:
        sscc, code, contents = carton.sscc, carton.barcode, carton.contents
        at = contents[0].address if contents else None
        if sscc is not None:
            if len(catalogue.by_code[sscc.digits]) == 1:
                by_sscc[sscc.digits] = Plain(carton, SSCC, at, [], set())
        elif code and compared(code) == code and len(catalogue.by_code[code]) == 1:
            by_barcode[code] = Plain(carton, BARCODE, at, [], set())
    return by_sscc, by_barcode


def _elsewhere(said: Address, labels: Plain) -> bool:
    """The label does not state, to the letter, one of the carton's addresses, where it has any."""
    at = labels.at
    # Field by field, since comparing two addresses as values takes several times as long.
    if at is not None and said.column == at.column and said.row == at.row and said.section == at.section:
        return False
    stated = labels.carton.addresses
    return bool(stated) and said not in stated
