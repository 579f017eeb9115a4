"""What a phone needs to answer a scan by itself while there is no signal: what surely names one carton."""

from collections.abc import Mapping
from dataclasses import dataclass

from receiving.matching import certain_names
from receiving.model import CartonFinding, LabelRead, RawRead, Source
from receiving.reading import interpret
from receiving.service.context import Context
from receiving.service.documents import PATTERNS, value_in
from receiving.service.snapshot import snapshot


@dataclass(frozen=True)
class PhoneSheet:
    """One shipment as of ``version``; ``codes`` and ``typed`` as `CertainNames` has them."""

    shipment: str
    store: str
    version: str
    codes: Mapping[str, str]
    typed: Mapping[str, str]
    cartons: tuple[CartonFinding, ...]


def phone_sheet(ctx: Context, shipment: str) -> PhoneSheet:
    """The sheet of a shipment. Raises NotFound.

    Codes are in all forms of `listed_forms`, so that a number is found however a label writes it. Whatever else a label
    may say is left to the service: a phone never guesses.
    """
    with ctx.store() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
        patterns = value_in(store, PATTERNS)
    now = ctx.now()

    def typed(text: str) -> LabelRead:
        return interpret(RawRead("typed", now, Source.TYPED, text), patterns)

    names = certain_names(found.reconciler.catalogue, typed)
    cartons = found.reconciliation.cartons
    return PhoneSheet(shipment, found.manifest.store, found.version, names.codes, names.typed, cartons)
