"""What to be careful of: heavy cartons, overhead storage, lifts by two."""

from collections.abc import Iterable

from receiving.model import Carton, CartonFinding, CartonState, Caution, Layout, Manifest, Place, Trip
from receiving.staging.said import Said

HEAVY_KG = 23.0
"""Load constant of the revised NIOSH lifting equation: the recommended limit of an ideal lift (DHHS (NIOSH) 94-110)."""

OVERHEAD = "in overhead storage: ask store management to bring it down; do not climb"


def cautions_for(
    manifest: Manifest,
    findings: dict[str, CartonFinding],
    layout: Layout | None,
    said: Said,
    trips: Iterable[Trip],
    doubts: Iterable[Caution] = (),
) -> tuple[Caution, ...]:
    """Cautions in manifest order after the doubts about the plan itself."""
    found = list(doubts)
    by_hand = {carton for trip in trips if trip.by_hand for carton in trip.cartons}
    for carton in manifest:
        finding = findings.get(carton.carton)
        if finding is None or carton.carton in said.moved:
            continue
        if said.places.get(carton.carton, finding.place) is Place.OVERHEAD:
            found.append(Caution(f"Carton {carton.carton} is {OVERHEAD}.", carton.carton))
        if finding.state is CartonState.RECEIVED:
            found.extend(_weight(carton))
        if carton.carton in by_hand:
            text = f"Carton {carton.carton} does not fit the cart: two people carry it, one trip for it alone."
            found.append(Caution(text, carton.carton))
    return tuple(found)


def _weight(carton: Carton) -> Iterable[Caution]:
    if carton.weight_kg is not None and carton.weight_kg >= HEAVY_KG:
        text = (
            f"Carton {carton.carton} is heavy ({carton.weight_kg:g} kg): two people or a lifting aid. "
            f"{HEAVY_KG:g} kg is the load constant of the NIOSH lifting equation (94-110), the limit of an ideal lift."
        )
        yield Caution(text, carton.carton)
