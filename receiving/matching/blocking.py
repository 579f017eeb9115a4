"""Which missing carton which planogram positions wait for."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from receiving.matching.contents import counted_lines, position_needs
from receiving.model import Address, CartonState, Manifest, Note, Reconciliation
from receiving.model.contents import USUAL_PARTS, CountedLine, PartsList, PositionNeed, SectionState


def blocked_positions(
    state: SectionState,
    manifest: Manifest,
    reconciliation: Reconciliation,
    notes: Iterable[Note] = (),
    parts: PartsList = USUAL_PARTS,
) -> Mapping[str, int]:
    """How many waiting positions lack what is in each missing carton.

    A position waits for the carton that was packed for it, else for every carton that holds what it lacks or what
    will do for it: any of them would do.
    """
    noted = tuple(notes)
    gone = {finding.carton.carton for finding in reconciliation.in_state(CartonState.SHORT)}
    lines = [line for line in counted_lines(manifest, reconciliation, noted, parts) if line.carton in gone]
    waiting = Counter[str]()
    by_stock: dict[str, list[CountedLine]] = defaultdict(list)
    for line in lines:
        by_stock[line.stock].append(line)
    if not lines:
        return waiting
    serving = {need.address: _will_do(need) for need in position_needs(manifest, noted, parts)}
    for lacking in state.waiting:
        own = serving.get(lacking.address, {})
        held = ([line for stock in own.get(part, (part,)) for line in by_stock[stock]] for part, _ in lacking.parts)
        waiting.update({carton for found in held for carton in _holders(found, lacking.address)})
    return waiting


def _will_do(need: PositionNeed) -> dict[str, tuple[str, ...]]:
    return {stock: will_do for stock, _, will_do in need.parts}


def _holders(lines: list[CountedLine], address: Address) -> set[str]:
    own = {line.carton for line in lines if line.address == address}
    return own or {line.carton for line in lines}
