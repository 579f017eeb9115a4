"""A code that several cartons share: how many of them are here, and which of its labels are asked about."""

from collections.abc import Sequence
from typing import Any

from receiving.matching.catalogue import Catalogue
from receiving.matching.facts import Reason
from receiving.matching.judgements import Matched, Shared, UnclearLabel
from receiving.matching.ledger import Again, Ledger, ask, fits_fact
from receiving.matching.observations import Observation
from receiving.matching.overs import also_theirs
from receiving.model import How


def count_labels(ledger: Ledger, group: Sequence[Shared]) -> None:
    """As many of these cartons are here as one photo shows labels apart; new ones only beyond those that are known.

    A known carton may carry the shared code on a label of its own, so that a label is not another carton's because it
    is another label. Which of the missing ones a new label is does not matter where they are alike; where they are
    not, a person is asked.
    """
    cartons, code = group[0].cartons, group[0].code
    shown = (("shown", "code"), ("what", code))
    missing = ledger.missing(cartons)
    observations = [one.observation for one in group]
    if ledger.looks_like is not None and also_theirs(observations[0], ledger.looks_like, ledger.catalogue):
        why = fits_fact(Reason.PILE_OF_ANOTHER, shown, shipment=ledger.looks_like.shipment)
        ledger.unclear.extend(UnclearLabel(observation, why) for observation in observations)
        return
    if not missing:
        _all_again(ledger, observations, cartons, shown)
        return
    known = [m.observation for c in cartons for m in ledger.of(c) if _bears(m.observation, code, ledger.catalogue)]
    apart = _most_apart([*known, *observations])
    new = min(len(missing), max(0, len(apart) - (len(cartons) - len(missing))))
    alike = _interchangeable(ledger.catalogue, missing)
    if new < len(missing) and not alike:
        new = 0
    counted = [o for o in (*apart, *observations) if o not in known]
    counted = list(dict.fromkeys(counted))[:new]
    for observation, carton in zip(counted, missing, strict=False):
        reason = Reason.COUNTED_IN_PHOTO if len(apart) > 1 else Reason.COUNTED_ONCE
        why = fits_fact(reason, shown, of=len(cartons), count=len(apart), carton=carton)
        ledger.add(Matched(observation, carton, How.BARCODE, why))
    rest = [observation for observation in observations if observation not in counted]
    still = missing[len(counted) :]
    if rest and not still:
        _all_again(ledger, rest, cartons, shown)
    elif rest:
        why = fits_fact(Reason.SHARED_CODE, shown, of=len(cartons))
        for looks in _looked_at_together(rest, alike):
            ask(ledger, looks, still[:1] if alike else still, shown, why, again=ledger.here(cartons))


def _all_again(
    ledger: Ledger, observations: Sequence[Observation], cartons: tuple[str, ...], shown: tuple[tuple[str, Any], ...]
) -> None:
    why = fits_fact(Reason.ALL_HERE, shown, cartons=cartons)
    ledger.again.extend(Again(observation, why) for observation in observations)


def _bears(observation: Observation, code: str, catalogue: Catalogue) -> bool:
    """The code is on this very label."""
    shared = catalogue.with_code(code)
    return any(catalogue.with_code(own) == shared for own in observation.codes)


def _looked_at_together(observations: Sequence[Observation], alike: bool) -> list[tuple[Observation, ...]]:
    """Each label is a question of its own; only of cartons that nobody can tell apart are the photos one."""
    photos = tuple(o for o in observations if o.photo) if alike else ()
    return [*([photos] if photos else []), *((o,) for o in observations if o not in photos)]


def _interchangeable(catalogue: Catalogue, cartons: Sequence[str]) -> bool:
    """The cartons hold the same and have no number of their own, so that it is all one which of them is here."""
    of = [catalogue.by_id[name] for name in cartons]
    return len({(c.kind, c.contents, c.outer, c.open_first) for c in of}) == 1 and not any(c.sscc for c in of)


def _most_apart(observations: Sequence[Observation]) -> list[Observation]:
    """The observations of the one photo that shows most labels apart, the earliest such; one where none does."""
    by_photo: dict[str, list[Observation]] = {}
    for observation in sorted(observations, key=lambda o: o.order):
        by_photo.setdefault(observation.photo, []).append(observation)
    best: list[Observation] = []
    for photo, shown in by_photo.items():
        apart: list[Observation] = []
        for observation in shown if photo else shown[:1]:
            if all(observation.apart_from(other) for other in apart):
                apart.append(observation)
        best = max(best, apart, key=len)
    return best
