"""What a phone needs to answer a scan by itself while there is no signal: the codes that name exactly one carton."""

from collections.abc import Mapping
from dataclasses import dataclass

from receiving.model import CartonFinding, padded_gtin
from receiving.service.desk import Desk
from receiving.service.standing import standing


@dataclass(frozen=True)
class PhoneSheet:
    """One shipment as of ``version``; ``codes`` gives the carton of each code that only one carton carries."""

    shipment: str
    store: str
    version: str
    codes: Mapping[str, str]
    cartons: tuple[CartonFinding, ...]


def phone_sheet(desk: Desk, shipment: str) -> PhoneSheet:
    """The sheet of a shipment. Raises NotFound.

    Codes are as `padded_gtin` writes them, so that a UPC-A is found however a reader gives it. Whatever else a label
    may say is left to the service: a phone never guesses.
    """
    with desk.store() as store:
        found = standing(desk, store, store.shipment(shipment))
    carriers: dict[str, set[str]] = {}
    for carton in found.manifest:
        for code in carton.codes:
            carriers.setdefault(padded_gtin(code), set()).add(carton.carton)
    codes = {code: next(iter(cartons)) for code, cartons in carriers.items() if len(cartons) == 1}
    return PhoneSheet(shipment, found.manifest.store, found.version, codes, found.reconciliation.cartons)
