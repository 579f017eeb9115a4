"""A reconciliation and its plan as a person reads it on a terminal."""

from receiving.model import CartonFinding, CartonState, Manifest, Reconciliation, StagingPlan


def reconciliation_in_words(found: Reconciliation, plan: StagingPlan, manifest: Manifest) -> str:
    """The count that matters first, then what needs a person, then what is here and where it goes."""
    blocks = [
        _headline(found, manifest),
        _block("Open first", [f"carton {o.carton}{'' if o.found else ', NOT FOUND'}" for o in plan.open_first]),
        _block("Missing", [_line(f) for f in found.in_state(CartonState.SHORT)]),
        _block("Inside an outer box, not seen", [_line(f) for f in found.in_state(CartonState.INSIDE)]),
        _block("Extra", [f"{o.code}: {o.why.words}{f', {o.belongs_to}' if o.belongs_to else ''}" for o in found.extra]),
        _block("Two labels with one code", [f"carton {d.carton}: {d.why}" for d in found.duplicates]),
        _block("Needs a look", [q.prompt for q in found.questions] + _unread_words(found)),
        _block("Here", [f"{_line(f)} ({f.how.value if f.how else ''})" for f in found.received]),
        _block("Trips", [f"{t.trip}: {', '.join(t.cartons)} ({t.load_kg:.1f} kg)" for t in plan.trips]),
        _block("Bays", [f"{b.bay}: {', '.join(b.cartons)}" for b in plan.bays]),
        _block("Stays in the back room", [f"carton {h.carton}: {h.why}" for h in plan.held]),
        _block("Caution", [f"carton {c.carton}: {c.text}" if c.carton else c.text for c in plan.cautions]),
    ]
    return "\n\n".join(block for block in blocks if block)


def _headline(found: Reconciliation, manifest: Manifest) -> str:
    visit = f", visit on {manifest.dispatch_date.isoformat()}" if manifest.dispatch_date else ""
    return (
        f"Shipment {found.shipment} to store {found.store}{visit}\n"
        f"{len(found.received)} of {found.expected} cartons are here, {len(found.short)} missing or not seen, "
        f"{len(found.extra)} extra."
    )


def _block(title: str, lines: list[str]) -> str:
    return "\n".join([f"{title}:", *(f"  {line}" for line in lines)]) if lines else ""


def _line(finding: CartonFinding) -> str:
    carton = finding.carton
    where = "; ".join(str(address) for address in carton.addresses) or ", ".join(carton.sections)
    return f"carton {carton.carton}, {carton.kind.words}{f', {where}' if where else ''}"


def _unread_words(found: Reconciliation) -> list[str]:
    count = len(found.unreadable)
    return [f"{count} label{'' if count == 1 else 's'} on the photos could not be read."] if count else []
