"""A reconciliation and its plan as a person reads it on a terminal."""

from collections import Counter
from collections.abc import Mapping

from receiving.model import (
    BayStaging,
    CartonFinding,
    CartonState,
    Manifest,
    OtherShipment,
    Reconciliation,
    StagingPlan,
    Trip,
    both_weights,
    ranked_cautions,
)
from receiving.wording import term, whose_words, words_of


def reconciliation_in_words(
    found: Reconciliation, plan: StagingPlan, manifest: Manifest, to_check: int, names: Mapping[str, str]
) -> str:
    """The count that matters first, then what needs a person, then what is here and where it goes.

    ``to_check`` is how many things a person should look at; ``names`` gives the file name of a photo by its id.
    """
    care = ranked_cautions(plan.cautions)
    blocks = [
        _looks_like(found.looks_like),
        _headline(found, manifest, to_check),
        _block("Open first", [f"carton {o.carton}{'' if o.found else ', NOT FOUND'}" for o in plan.open_first]),
        _block("Missing", [_line(f) for f in found.in_state(CartonState.SHORT)]),
        _block("Inside an outer box, not seen", [_line(f) for f in found.in_state(CartonState.INSIDE)]),
        _block(
            "Extra", [f"{o.code}: {term(o.why)}{f', {whose_words(o)}' if o.belongs_to else ''}" for o in found.extra]
        ),
        _block("Two labels with one code", [f"carton {d.carton}: {words_of(d.why)}" for d in found.duplicates]),
        _block("Needs a look", [str(words_of(q.why)) for q in found.questions] + _unread_words(found, names)),
        _block("Not understood", [str(words_of(u.why)) for u in found.unclear]),
        _block("Here", [f"{_line(f)} ({f.how.value if f.how else ''})" for f in found.received]),
        _block(
            "Trips, in loading order: the first number is loaded first",
            [*(_trip_line(t) for t in plan.trips), *_how_good(plan)],
        ),
        _block("Bays, in opening order", [_bay_line(b) for b in plan.bays]),
        _block("Stays in the back room", [f"carton {h.carton}: {h.why}" for h in plan.held]),
        _block("Take care", list(care.first)),
        _block("Also", list(care.others)),
    ]
    return "\n\n".join(block for block in blocks if block)


def _headline(found: Reconciliation, manifest: Manifest, to_check: int) -> str:
    visit = f", visit on {manifest.dispatch_date.isoformat()}" if manifest.dispatch_date else ""
    return (
        f"Shipment {found.shipment} to store {found.store}{visit}\n"
        f"{len(found.received)} of {found.expected} cartons are here, {len(found.short)} missing or not seen, "
        f"{len(found.extra)} extra, {to_check} to check."
    )


def _looks_like(other: OtherShipment | None) -> str:
    if other is None:
        return ""
    return (
        f"THIS PILE LOOKS LIKE SHIPMENT {other.shipment}, store {other.store}: {other.labels} labels are of that one, "
        f"{other.own} of this one. Check that this is the right manifest."
    )


def _block(title: str, lines: list[str]) -> str:
    return "\n".join([f"{title}:", *(f"  {line}" for line in lines)]) if lines else ""


def _line(finding: CartonFinding) -> str:
    carton = finding.carton
    where = "; ".join(str(address) for address in carton.addresses) or ", ".join(carton.sections)
    return f"carton {carton.carton}, {term(carton.kind)}{f', {where}' if where else ''}"


def _unread_words(found: Reconciliation, names: Mapping[str, str]) -> list[str]:
    counts = Counter(names.get(region.photo, region.photo) for region in found.unreadable)
    return [
        f"{name}: {count} label{'' if count == 1 else 's'} could not be read; take a closer photo."
        for name, count in counts.items()
    ]


def _how_good(plan: StagingPlan) -> list[str]:
    """How near to the fewest cart trips the plan is known to be, and how long it was searched."""
    bound = plan.bound
    if not bound.planned:
        return []
    if bound.proven:
        return ["Fewer cart trips are not possible."]
    return [f"At least {bound.at_least} cart trips are needed; searched for about {plan.search_s:g} s of computing."]


def _trip_line(trip: Trip) -> str:
    to = f", to {', '.join(trip.stops)}" if trip.stops else ""
    lifted = f"; lift off {', '.join(trip.lifted_off)} on the way" if trip.lifted_off else ""
    load = both_weights(trip.load_kg, tenths=True, inside=True)
    wave = f". {trip.wave_words}" if trip.wave_words else ""
    return f"{trip.trip}: {', '.join(trip.cartons)} ({load}{to}){lifted}{wave}"


def _bay_line(bay: BayStaging) -> str:
    dug = f"; under cartons that are opened later: {', '.join(bay.dug_out)}" if bay.dug_out else ""
    dug += f"; to be put under cartons of an earlier trip: {', '.join(bay.restacked)}" if bay.restacked else ""
    wave = f", wave {bay.wave}" if bay.wave > 1 else ""
    return f"{bay.bay}{wave}: {', '.join(bay.cartons)}{dug}"
