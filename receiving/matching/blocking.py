"""Which missing carton which planogram positions wait for."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from receiving.matching.contents import counted_lines
from receiving.model import Address, CartonState, Manifest, Note, Reconciliation
from receiving.model.contents import USUAL_PARTS, CountedLine, PartsList, SectionState


def blocked_positions(
    state: SectionState,
    manifest: Manifest,
    reconciliation: Reconciliation,
    notes: Iterable[Note] = (),
    parts: PartsList = USUAL_PARTS,
) -> Mapping[str, int]:
    """How many waiting positions lack what is in each missing carton.

    A position waits for the carton that was packed for it, else for every carton that holds what it lacks: any of
    them would do.
    """
    gone = {finding.carton.carton for finding in reconciliation.in_state(CartonState.SHORT)}
    lines = [line for line in counted_lines(manifest, reconciliation, notes, parts) if line.carton in gone]
    waiting = Counter[str]()
    by_stock: dict[str, list[CountedLine]] = defaultdict(list)
    for line in lines:
        by_stock[line.stock].append(line)
    for lacking in state.waiting:
        waiting.update({carton for part, _ in lacking.parts for carton in _holders(by_stock[part], lacking.address)})
    return waiting


def _holders(lines: list[CountedLine], address: Address) -> set[str]:
    own = {line.carton for line in lines if line.address == address}
    return own or {line.carton for line in lines}
