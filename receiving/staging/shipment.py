"""What a plan is made from, put in order: which cartons are here, what was said, where each goes."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from receiving.messages import Text, message
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
        reason, missing = _why_held(shipment, carton)
        if reason:
            held.append(Held(carton.carton, reason, missing))
        else:
            going.append(carton)
    return going, held


def _why_held(shipment: Shipment, carton: Carton) -> tuple[Text, bool]:
    finding = shipment.findings.get(carton.carton)
    if shipment.moved(carton.carton):
        return "", False
    if finding is not None and finding.state is CartonState.INSIDE:
        if carton.outer in shipment.opened:
            return message("not seen yet in the opened outer box {outer}", outer=carton.outer), True
        if carton.outer:
            return message("inside the unopened outer box {outer}; it travels in it", outer=carton.outer), False
        return message("inside the unopened outer box; it travels in it"), False
    if not shipment.here(carton.carton):
        return message("not found yet"), True
    if carton.carton in shipment.opened and (carton.kind is CartonKind.OUTER or carton.carton in shipment.inside):
        return message("the outer box is open; its cartons are staged one by one"), False
    if shipment.layout is not None and (found := shipment.goes_to(carton)).bay is None:
        return message("{why}; ask the office or store management where it goes", why=found.why), False
    return "", False
