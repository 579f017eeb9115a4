"""Where to look for what is missing: places that nobody has looked at yet, and the outer box that should hold it."""

from collections.abc import Mapping

from receiving.model import CartonFinding, CartonState, Place
from receiving.service import ShipmentView

SEARCHED = tuple(place for place in Place if place is not Place.OTHER)


def not_looked_at(view: ShipmentView) -> tuple[Place, ...]:
    """The places in which nothing of this shipment was read yet, no photo taken, and no carton put."""
    seen = {read.raw.place for read in view.reads} | {photo.place for photo in view.photos}
    seen |= {finding.place for finding in view.reconciliation.cartons if finding.place}
    return tuple(place for place in SEARCHED if place not in seen)


def where_to_look(view: ShipmentView, finding: CartonFinding, findings: Mapping[str, CartonFinding]) -> str:
    """Where a missing carton may be, as far as the manifest and what was seen tell; empty where they do not."""
    if finding.state is not CartonState.SHORT:
        return ""
    outer = findings.get(finding.carton.outer) if finding.carton.outer else None
    if outer and outer.state is CartonState.RECEIVED:
        place = f", {outer.place.words}" if outer.place else ""
        return f"look in outer box {outer.carton.carton}{place}"
    if outer:
        return f"travels in outer box {outer.carton.carton}, which is missing too"
    beside = [
        other
        for other in findings.values()
        if other.state is CartonState.RECEIVED and other.place and _alike(other, finding)
    ]
    if beside:
        return f"others of its section: {beside[-1].place.words if beside[-1].place else ''}"
    return ""


def _alike(one: CartonFinding, two: CartonFinding) -> bool:
    """Both hang in one section."""
    sections = ({line.section.casefold() for line in each.carton.contents if line.section} for each in (one, two))
    return bool(set.intersection(*sections))
