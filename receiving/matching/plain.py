"""The common label, answered at once: one symbol whose code one carton has, and nothing on it that contradicts."""

from collections.abc import Container, Iterable

from receiving.matching.catalogue import Catalogue, compared
from receiving.matching.evidence import Plain
from receiving.matching.verdicts import said
from receiving.model import Address, Carton, How, LabelRead, Source

# Looking a member up in its class takes longer than all else that is done with a plain label.
TYPED = Source.TYPED


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
        sscc = claim.sscc
        found = by_barcode.get(claim.barcode) if sscc is None else by_sscc.get(sscc.digits)
        if (
            found is None
            or (found.at is not None and claim.address is not None and _elsewhere(claim.address, found))
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
    read_by = (*by_sscc.values(), *by_barcode.values())
    return {found.carton: found for found in read_by if found.reads}, judged


def _by_own_code(catalogue: Catalogue) -> tuple[dict[str, Plain], dict[str, Plain]]:
    """A place for the plain labels of each carton by its SSCC, or by its barcode where it has none."""
    by_sscc: dict[str, Plain] = {}
    by_barcode: dict[str, Plain] = {}
    for carton in catalogue.manifest:
        sscc, code = carton.sscc, carton.barcode
        if sscc is not None:
            if len(catalogue.by_code[sscc.digits]) == 1:
                by_sscc[sscc.digits] = _place(carton, How.SSCC, f"SSCC {sscc.digits}")
        elif code and compared(code) == code and len(catalogue.by_code[code]) == 1:
            by_barcode[code] = _place(carton, How.BARCODE, said(code, How.BARCODE))
    return by_sscc, by_barcode


def _place(carton: Carton, how: How, code: str) -> Plain:
    stated = [line.address for line in carton.contents if line.address is not None]
    sentence = f"{code} is carton {carton.carton} on the manifest"
    return Plain(carton.carton, how, sentence, stated[0] if stated else None, stated, [])


def _elsewhere(said: Address, labels: Plain) -> bool:
    """The label does not state, to the letter, one of the carton's addresses."""
    at = labels.at
    # Field by field, since comparing two addresses as values takes several times as long.
    if at is not None and said.column == at.column and said.row == at.row and said.section == at.section:
        return False
    return said not in labels.addresses
