"""What a plan is made from, put in order: which cartons are here, what was said, where each goes."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from receiving.messages import message
from receiving.model import (
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    Held,
    Layout,
    Manifest,
    Note,
    Place,
    Reconciliation,
)
from receiving.staging.destinations import Destination, destination
from receiving.staging.overrides import Overrides, overrides_of

BLOCKING = frozenset({CartonKind.INSTRUCTIONS, CartonKind.PARTS})
"""Without these a section is not set (common practice, no source); an open-first carton blocks whatever its kind."""


@dataclass(frozen=True)
class Shipment:
    """One shipment at one store as far as it is known now."""

    manifest: Manifest
    findings: dict[str, CartonFinding]
    layout: Layout | None
    overrides: Overrides
    opened: frozenset[str]

    @cached_property
    def inside(self) -> dict[str, tuple[Carton, ...]]:
        """The cartons that travel in each outer box: a plan asks it of every carton."""
        found: dict[str, tuple[Carton, ...]] = {}
        for carton in self.manifest:
            if carton.outer:
                found[carton.outer] = (*found.get(carton.outer, ()), carton)
        return found

    def here(self, carton: str) -> bool:
        """The carton is proven to be here, or was moved by someone who had it in hand."""
        finding = self.findings.get(carton)
        return carton in self.overrides.moved or (finding is not None and finding.state is CartonState.RECEIVED)

    def moved(self, carton: str) -> bool:
        """The carton stands at a bay already."""
        return carton in self.overrides.moved

    def overhead(self, carton: str) -> bool:
        """The carton was last noted in overhead storage."""
        finding = self.findings.get(carton)
        place = self.overrides.places.get(carton, finding.place if finding else None)
        return place is Place.OVERHEAD and not self.moved(carton)

    def unopened_outer(self, carton: Carton) -> bool:
        """An outer box with its cartons still inside, as far as is known."""
        return carton.carton not in self.opened and carton.carton in self.inside

    def goes_to(self, carton: Carton) -> Destination:
        """Its bay by its contents; a person's choice of bay comes first."""
        if self.layout is None:
            return Destination(None)
        chosen = self.overrides.bay_of(carton.carton)
        for bay in self.layout.bays:
            if bay.bay == chosen:
                return Destination(bay)
        inside = self.inside[carton.carton] if self.unopened_outer(carton) else ()
        return destination(carton, self.layout, inside)

    def blockers(self, section: str) -> tuple[str, ...]:
        """The missing cartons without which work at this section does not start."""
        return tuple(
            carton.carton
            for carton in self.manifest
            if (carton.kind in BLOCKING or carton.open_first)
            and not self.here(carton.carton)
            and (not carton.sections or section.casefold() in [name.casefold() for name in carton.sections])
        )


def shipment_of(
    manifest: Manifest, reconciliation: Reconciliation, layout: Layout | None, notes: Iterable[Note]
) -> Shipment:
    """Put manifest, reconciliation, layout and notes together; an outer is open when a carton of it was seen."""
    findings = {finding.carton.carton: finding for finding in reconciliation.cartons}
    overrides = overrides_of(notes)
    seen = {c.outer for c in manifest if c.outer and _received(findings.get(c.carton))}
    seen |= {c.outer for c in manifest if c.outer and c.carton in overrides.moved}
    return Shipment(manifest, findings, layout, overrides, frozenset(seen | overrides.opened))


def _received(finding: CartonFinding | None) -> bool:
    return finding is not None and finding.state is CartonState.RECEIVED


def stay_or_go(shipment: Shipment) -> tuple[list[Carton], list[Held]]:
    """The cartons that leave the back room, in manifest order, and those that do not, with the reason."""
    going, held = [], []
    for carton in shipment.manifest:
        staying = _held(shipment, carton)
        if staying:
            held.append(staying)
        else:
            going.append(carton)
    return going, held


def _held(shipment: Shipment, carton: Carton) -> Held | None:
    """Why this carton stays, None where it goes."""
    name, finding = carton.carton, shipment.findings.get(carton.carton)
    if shipment.moved(name):
        return None
    if finding is not None and finding.state is CartonState.INSIDE:
        if carton.outer in shipment.opened:
            why = message("not seen yet in the opened outer box {outer}", outer=carton.outer)
            return Held(name, why, missing=True)
        if carton.outer:
            return Held(name, message("inside the unopened outer box {outer}; it travels in it", outer=carton.outer))
        return Held(name, message("inside the unopened outer box; it travels in it"))
    if not shipment.here(name):
        return Held(name, message("not found yet"), missing=True)
    if name in shipment.opened and (carton.kind is CartonKind.OUTER or name in shipment.inside):
        return Held(name, message("the outer box is open; its cartons are staged one by one"))
    if shipment.layout is not None and (found := shipment.goes_to(carton)).bay is None:
        return Held(name, message("{why}; ask the office or store management where it goes", why=found.why))
    return None
