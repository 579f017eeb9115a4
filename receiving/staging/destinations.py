"""To which bay each carton goes, in setting order, or why it stays in the back room."""

from collections.abc import Iterable
from dataclasses import dataclass

from receiving.messages import Text, message
from receiving.model import Bay, Carton, Layout


@dataclass(frozen=True)
class Destination:
    """The bay that a carton goes to, or None with the reason; ``doubt`` is what someone should check."""

    bay: Bay | None
    why: Text = ""
    uncertainty: Text = ""


def setting_order(layout: Layout) -> tuple[Bay, ...]:
    """The bays in the order in which they are set; bays of the same number as in the file."""
    return tuple(sorted(layout.bays, key=lambda bay: bay.order))


def destination(carton: Carton, layout: Layout, inside: Iterable[Carton] = ()) -> Destination:
    """Where this carton goes; an unopened outer goes where the first of ``inside`` (its cartons) goes."""
    own = _destination(carton, layout)
    if own.bay is not None and (carton.addresses or carton.sections):
        return own
    others = [found for other in inside if (found := _destination(other, layout)).bay is not None]
    return min(others, key=_order, default=own)


def _destination(carton: Carton, layout: Layout) -> Destination:
    if not layout.bays:
        return Destination(None, message("the layout has no bays"))
    if carton.addresses:
        bays = [bay for address in carton.addresses if (bay := layout.bay_of(address)) is not None]
        if bays:
            return Destination(min(bays, key=lambda bay: bay.order))
        return _without_bay(carton, layout)
    if carton.sections:
        firsts = [bay for section in carton.sections if (bay := layout.first_bay(section)) is not None]
        if firsts:
            return Destination(min(firsts, key=lambda bay: bay.order))
        return Destination(
            None, message("no bay in the layout for section {sections}", sections=_listed(carton.sections))
        )
    return Destination(setting_order(layout)[0], message("no section named: for the whole shipment"))


def _without_bay(carton: Carton, layout: Layout) -> Destination:
    """No bay holds any of its addresses: the section's first bay where the section is known."""
    address = carton.addresses[0]
    first = layout.first_bay(address.section) if address.section else None
    if first is not None:
        uncertainty = message(
            "{place} is in no bay of the layout; taken to bay {bay}, the section's first",
            place=str(address),
            bay=first.bay,
        )
        return Destination(first, uncertainty=uncertainty)
    if address.section:
        return Destination(
            None, message("no bay in the layout for section {sections}", sections=_listed(carton.sections))
        )
    return Destination(
        None, message("{place} does not say its section, and fits no bay or more than one", place=str(address))
    )


def _order(found: Destination) -> int:
    return found.bay.order if found.bay else 0


def _listed(names: Iterable[str]) -> str:
    return ", ".join(repr(name) for name in names)
