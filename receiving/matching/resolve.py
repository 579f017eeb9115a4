"""Labels that fit no carton or several by themselves, resolved together by all the other evidence.

The rule throughout: nothing is guessed. Partly read labels are resolved together, by the one assignment that fits
best, and only where it is far ahead of the next best. A code that several cartons share shows as many of them as one
photo shows labels apart, and no more than that beyond those that are known. What is left, a person is asked about,
label by label.
"""

from collections import defaultdict
from collections.abc import Sequence
from math import exp, log
from typing import Any

from receiving.matching.assignment import (
    CAUTION_BY_EYE,
    DUPLICATE_OF_KNOWN,
    NAMED_AS_OURS,
    OVER_AS_OTHERS,
    QUESTION_BELOW,
    SAME_LABEL,
    SEEN_FROM_ASIDE,
    Choice,
    Row,
    assign,
)
from receiving.matching.catalogue import Catalogue
from receiving.matching.observations import Candidates, Matched, Observation, OverLabel, Reason, Shared, UnclearLabel
from receiving.matching.overs import also_theirs, at_their_place, not_listed, not_understood, says_it_is_ours
from receiving.matching.presence import MOST_CHOICES, DuplicateObservation, Ledger, add_question, fits_fact
from receiving.model import Fact, How, OtherShipment, fact

MOST_NATS = 14.0
"""Odds above about a million to one are not told apart."""


def resolve(ledger: Ledger, candidates: Sequence[Candidates], shared: Sequence[Shared]) -> None:
    """Put every unsure observation into the ledger: parts of labels, then shared codes, then what must be asked."""
    _fit_parts(ledger, [one for one in candidates if one.ask is None])
    by_code: dict[tuple[str, ...], list[Shared]] = defaultdict(list)
    for each in shared:
        by_code[each.cartons].append(each)
    # Sorted, so that the order in which photos came decides nothing.
    for cartons in sorted(by_code):
        count_labels(ledger, by_code[cartons])
    same: dict[tuple[object, ...], list[Candidates]] = defaultdict(list)
    for one in candidates:
        if one.ask is not None:
            same[_named_alike(one)].append(one)
    for group in same.values():
        _ask_or_exclude(ledger, group)


def _leave_to_that_shipment(ledger: Ledger, labels: Sequence[Candidates], other: OtherShipment) -> None:
    """In a pile of another shipment that is the one question: what a label may be besides is not asked."""
    for one in labels:
        why = fits_fact(Reason.OF_ANOTHER_SHIPMENT, one.shown, shipment=other.shipment)
        ledger.unclear.append(UnclearLabel(one.observation, why))


# What only a person may decide


def _named_alike(one: Candidates) -> tuple[object, ...]:
    """What two looks share only if they are looks at one label: the same codes, or the same typing mistake.

    A kind, or an item's number, is on many labels.
    """
    guided = tuple(read.raw.alternatives for read in one.observation.reads)
    shown = dict(one.shown)["shown"]
    return (one.cartons, one.observation.words, guided, None if shown in ("slip", "codes", "blur") else one)


def _ask_or_exclude(ledger: Ledger, group: Sequence[Candidates]) -> None:
    """Looks at one label: a question, unless all that it fits is here or the photo leaves one."""
    if ledger.looks_like is not None:
        _leave_to_that_shipment(ledger, group, ledger.looks_like)
        return
    first, left = group[0], []
    missing = ledger.missing(first.cartons)
    for one in group:
        if first.cartons and not missing:
            _nothing_missing(ledger, one)
            continue
        possible = _not_elsewhere_in_photo(ledger, one.observation, first.cartons) if one.how is How.GUIDED else ()
        if len(possible) == 1 and len(first.cartons) > 1:
            others = tuple(c for c in first.cartons if c not in possible)
            why = fact(Reason.BLUR_LEAVES_ONE, carton=possible[0], others=others)
            ledger.add(Matched(one.observation, possible[0], How.GUIDED, why))
        else:
            left.append(one.observation)
    if left and first.ask is not None:
        again = ledger.here(first.cartons) if len(missing) <= MOST_CHOICES else ()
        add_question(ledger, left, missing, first.shown, first.ask, again=again)


def _nothing_missing(ledger: Ledger, one: Candidates) -> None:
    if isinstance(one.otherwise, OverLabel):
        ledger.overs.append(one.otherwise)
    elif isinstance(one.otherwise, UnclearLabel):
        ledger.unclear.append(one.otherwise)
    else:
        ledger.duplicates.append(
            DuplicateObservation(one.observation, fits_fact(Reason.ALL_HERE, one.shown, cartons=one.cartons))
        )


def _not_elsewhere_in_photo(ledger: Ledger, observation: Observation, cartons: Sequence[str]) -> tuple[str, ...]:
    return tuple(c for c in cartons if not any(observation.apart_from(m.observation) for m in ledger.of(c)))


# Parts of labels


def _fit_parts(ledger: Ledger, unsure: Sequence[Candidates]) -> None:
    """Parts of labels: a second look at what is known, or the best assignment, or a question."""
    # What is beside its code needs no odds, and makes the assignment smaller for all that do.
    left = [one for one in unsure if not _belongs_beside(ledger, one)]
    if ledger.looks_like is not None:
        _leave_to_that_shipment(ledger, left, ledger.looks_like)
        return
    rivals = []
    for one in left:
        if ledger.missing(one.cartons):
            rivals.append(one)
        else:
            _add_duplicate(ledger, one)
    labels = _same_labels(rivals)
    for label in (label for label in labels if _says_too_little(label[0])):
        _ask_about(ledger, label, ledger.missing(label[0].cartons), ())
    # Left in, each of them would be a rival of every carton, and make questions of labels that say enough.
    labels = [label for label in labels if not _says_too_little(label[0])]
    wanted: dict[str, list[list[Candidates]]] = defaultdict(list)
    for label in labels:
        for carton in label[0].cartons:
            wanted[carton].append(label)
    rows = [_row(ledger, label, wanted) for label in labels]
    for label, row, choice in zip(labels, rows, assign(rows, QUESTION_BELOW), strict=True):
        _take(ledger, label, row, choice)


def _says_too_little(one: Candidates) -> bool:
    """This many cartons fit about equally well that no assignment can be far ahead of the next."""
    best = min(one.costs)
    return sum(nats - best < QUESTION_BELOW for nats in one.costs) > MOST_CHOICES


def _ask_about(ledger: Ledger, label: Sequence[Candidates], may_be: tuple[str, ...], again: tuple[str, ...]) -> None:
    """One question for each look: two looks that say the same may be two labels, unless the label has a number."""
    first = label[0]
    why = fits_fact(Reason.NOTHING_ELSE_LEGIBLE, first.shown)
    others = at_their_place(first.observation, ledger.shipments_seen, ledger.catalogue)
    if others:
        why = why.adding(beside=others[0].whose)
    elsewhere = tuple(other.carton for other in others)
    numbered = any(claim.carton or claim.carton_n is not None for claim in first.observation.claims)
    looks = [label] if numbered else [[one] for one in label]
    for each in looks:
        add_question(ledger, [one.observation for one in each], may_be, first.shown, why, again, elsewhere)


def _same_labels(unsure: Sequence[Candidates]) -> list[list[Candidates]]:
    """The observations that may be looks at one torn label: they say the same, and no photo shows them apart."""
    by_words: dict[tuple[object, ...], list[list[Candidates]]] = defaultdict(list)
    in_photo: dict[tuple[int, str], list[Observation]] = defaultdict(list)  # by a label and a photo
    for one in sorted(unsure, key=lambda one: one.observation.order):
        labels, observation = by_words[(one.cartons, one.costs, one.shown)], one.observation
        same = next(
            (
                label
                for label in labels
                if len(one.cartons) == 1
                or not any(observation.apart_from(other) for other in in_photo[(id(label), observation.photo)])
            ),
            None,
        )
        if same is None:
            same = []
            labels.append(same)
        same.append(one)
        if observation.photo:  # without one it is apart from nothing, however many say the same
            in_photo[(id(same), observation.photo)].append(observation)
    return [label for labels in by_words.values() for label in labels]


def _row(ledger: Ledger, label: Sequence[Candidates], wanted: dict[str, list[list[Candidates]]]) -> Row:
    own, shared = [], []
    known = sum(ledger.by_own_label(carton) for carton in label[0].cartons)
    for carton, nats in zip(label[0].cartons, label[0].costs, strict=True):
        if not ledger.is_here(carton):
            own.append((carton, nats))
            others = (other for other in wanted[carton] if other is not label)
            if any(not _apart(label, [one.observation for one in other]) for other in others):
                shared.append((carton, nats + SAME_LABEL))
        elif ledger.by_own_label(carton):
            # It may be a second look at any of the known ones; only the best option is compared, so each stands for all
            # of them.
            shared.append((carton, nats + _duplicate_cost(ledger, label, carton) - log(known)))
        elif not _apart(label, [found.observation for found in ledger.of(carton)]):
            shared.append((carton, nats + SAME_LABEL))
    by_eye = known > 0 and any(one.observation.stated_size is not None for one in label)
    return Row(tuple(own), tuple(shared), _over_cost(ledger, label[0]), CAUTION_BY_EYE if by_eye else 0.0)


def _over_cost(ledger: Ledger, one: Candidates) -> float:
    """What it costs that this is not a carton of the shipment; its size alone never makes an over of it unasked."""
    observation, sizes = one.observation, ledger.catalogue.sizes
    size = observation.stated_size
    others = at_their_place(observation, ledger.shipments_seen, ledger.catalogue)
    known = [other.carton for other in others]
    nats = min(OVER_AS_OTHERS, ledger.over_cost) if known else ledger.over_cost
    if says_it_is_ours(observation, ledger.catalogue):
        nats += NAMED_AS_OURS
    if size is None:
        return nats
    nats -= log(max(sizes.chance(size, carton) for carton in known) if known else sizes.chance_unknown(size))
    # Never so far ahead of the best carton that it would not be asked: a size is judged by eye.
    return max(nats, min(one.costs) - QUESTION_BELOW / 2)


def _duplicate_cost(ledger: Ledger, label: Sequence[Candidates], carton: str) -> float:
    """What it costs that this is the whole label of a known carton, seen once more and badly.

    A photo of both labels tells them apart, unless the known one gives no position and this may be its other half;
    photos that show only one of the two do not.
    """
    views = [found.observation for found in ledger.of(carton) if found.observation.photo]
    if _apart(label, [view for view in views if not view.addresses]):
        return SAME_LABEL
    in_photos = views and any(one.observation.photo for one in label)
    return SEEN_FROM_ASIDE if in_photos and not _apart(label, views) else DUPLICATE_OF_KNOWN


def _apart(label: Sequence[Candidates], observations: Sequence[Observation]) -> bool:
    """Some photo shows this label and one of the observations as two labels."""
    in_photo: dict[str, list[Observation]] = defaultdict(list)
    for other in observations:
        in_photo[other.photo].append(other)
    seen = [one.observation for one in label if one.observation.photo]
    return any(one.apart_from(other) for one in seen for other in in_photo.get(one.photo, ()))


def _take(ledger: Ledger, label: Sequence[Candidates], row: Row, choice: Choice) -> None:
    first = label[0]
    if choice.gap_nats < QUESTION_BELOW + row.caution:
        # Only those that compete are offered: the rest of what fits is too far behind to be worth a glance.
        near = tuple(c for c in first.cartons if c == choice.carton or c in choice.rivals)
        _ask_about(ledger, label, ledger.missing(near), ledger.here(near))
    elif not choice.carton:
        why = fits_fact(Reason.FITS_NO_CARTON, first.shown)
        for one in label:
            if one.observation.typed:
                ledger.unclear.append(not_understood(one.observation))
            else:
                ledger.overs.append(not_listed(one.observation, why))
    else:
        # Where nothing else fits the gap is without limit; the odds are a number for people all the same.
        odds = exp(min(choice.gap_nats, MOST_NATS))
        why = _fit_fact(ledger, first, choice, odds)
        for one in label:
            ledger.add(Matched(one.observation, choice.carton, first.how, why, odds=odds))


def _fit_fact(ledger: Ledger, one: Candidates, choice: Choice, odds: float) -> Fact:
    if choice.again:
        return fits_fact(Reason.FITS_AGAIN, one.shown, carton=choice.carton)
    if len(one.cartons) == 1:
        return fits_fact(Reason.FITS_ALONE, one.shown, carton=choice.carton)
    known = ledger.here(c for c in one.cartons if c != choice.carton)
    if len(known) == len(one.cartons) - 1:
        return fits_fact(Reason.FITS_LAST_OPEN, one.shown, carton=choice.carton, known=known)
    return fits_fact(Reason.FITS_BEST, one.shown, carton=choice.carton, odds=odds)


def _belongs_beside(ledger: Ledger, one: Candidates) -> bool:
    """The position label of a carton whose code, without a position, is in the same photo: one each.

    Where the photo surely shows two labels and another carton is missing there, it may be that carton's.
    """
    observation = one.observation
    if not observation.addresses or not observation.photo:
        return False
    for carton in one.cartons:
        beside = [found for found in ledger.of(carton) if found.observation.photo == observation.photo]
        taken = any(found.how is How.ADDRESS and found.observation.addresses for found in beside)
        doubtful = ledger.missing(one.cartons) and any(observation.apart_from(found.observation) for found in beside)
        if any(not found.observation.addresses for found in beside) and not taken and not doubtful:
            why = fits_fact(Reason.POSITION_BESIDE_CODE, one.shown, carton=carton)
            ledger.add(Matched(observation, carton, How.ADDRESS, why))
            return True
    return False


def _add_duplicate(ledger: Ledger, one: Candidates) -> None:
    if len(one.cartons) == 1:
        why = fits_fact(Reason.ONLY_ONE_THERE, one.shown, carton=one.cartons[0])
        ledger.add(Matched(one.observation, one.cartons[0], How.ADDRESS, why))
    else:
        ledger.duplicates.append(
            DuplicateObservation(one.observation, fits_fact(Reason.ALL_HERE, one.shown, cartons=one.cartons))
        )


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
        why = fits_fact(Reason.OF_ANOTHER_SHIPMENT, shown, shipment=ledger.looks_like.shipment)
        ledger.unclear.extend(UnclearLabel(observation, why) for observation in observations)
        return
    if not missing:
        _add_duplicates(ledger, observations, cartons, shown)
        return
    known = [m.observation for c in cartons for m in ledger.of(c) if _bears(m.observation, code, ledger.catalogue)]
    # Those that are known are counted too: a photo of them all shows as many labels as there are cartons.
    apart = _most_apart([*known, *observations])
    new = min(len(missing), max(0, len(apart) - (len(cartons) - len(missing))))
    alike = _interchangeable(ledger.catalogue, missing)
    if new < len(missing) and not alike:
        new = 0
    # Those in the photo that shows most come first: they are surely as many cartons as they are labels.
    counted = [o for o in (*apart, *observations) if o not in known]
    counted = list(dict.fromkeys(counted))[:new]
    for observation, carton in zip(counted, missing, strict=False):
        reason = Reason.COUNTED_IN_PHOTO if len(apart) > 1 else Reason.COUNTED_ONCE
        why = fits_fact(reason, shown, of=len(cartons), count=len(apart), carton=carton)
        ledger.add(Matched(observation, carton, How.BARCODE, why))
    rest = [observation for observation in observations if observation not in counted]
    still = missing[len(counted) :]
    if rest and not still:
        _add_duplicates(ledger, rest, cartons, shown)
    elif rest:
        why = fits_fact(Reason.SHARED_CODE, shown, of=len(cartons))
        choices, here = still[:1] if alike else still, ledger.here(cartons)
        for looks in _looked_at_together(rest, alike):
            add_question(ledger, looks, choices, shown, why, again=here)


def _add_duplicates(
    ledger: Ledger, observations: Sequence[Observation], cartons: tuple[str, ...], shown: tuple[tuple[str, Any], ...]
) -> None:
    why = fits_fact(Reason.ALL_HERE, shown, cartons=cartons)
    ledger.duplicates.extend(DuplicateObservation(observation, why) for observation in observations)


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
        # Two scans may be of one label, as nothing shows them side by side: scans count once.
        for observation in shown if photo else shown[:1]:
            if all(observation.apart_from(other) for other in apart):
                apart.append(observation)
        best = max(best, apart, key=len)
    return best
