"""Labels that are of no carton of the manifest: another shipment's, unknown, no carton label, or not understood."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import log

from receiving.matching.assignment import has_parts, kind_cost, kinds_stated, raw_text
from receiving.matching.catalogue import Catalogue, Listed, plain_store, plain_text, shape
from receiving.matching.observations import Matched, Observation, OverLabel, Reason, UnclearLabel
from receiving.messages import Text, joined
from receiving.model import (
    GTIN_LENGTHS,
    Address,
    CartonState,
    Claim,
    Fact,
    How,
    Manifest,
    OtherShipment,
    Over,
    OverReason,
    Reconciliation,
    Source,
    fact,
    has_valid_check_digit,
)

RETAIL_SYMBOLOGIES = ("]E", "]X")
FREE_TEXT_SYMBOLOGIES = ("]Q", "]d", "]L", "]z")
NAMES_ITS_CARTON = ("sscc", "barcode", "gtin", "carton", "carton_n", "shipment", "store")
WORDS_OF_A_CARTON = ("carton", "carton_n", "column", "kind", "section", "shipment", "store", "outer")
MOST_PLACES = 3

WRONG_SHIPMENT = log(0.01 / 0.99)
"""A rep has another shipment's page open: one time in a hundred."""
OF_ANOTHER = log(0.95 / 0.05)
"""A label with a code is of the shipment whose pile this is: 95 in 100."""
SURE_ENOUGH = log(20)


def over_by_name(observation: Observation, catalogue: Catalogue) -> OverLabel | None:
    """Something over, where a code or the label's store and shipment say that it is another shipment's."""
    manifest = catalogue.manifest
    for name in ("sscc", "barcode", "gtin"):
        for code in observation.values(name):
            listed = catalogue.elsewhere.holding(code, manifest)
            if listed:
                return _of_other(observation, catalogue, code, listed)
    for store in observation.values("store"):
        if _is_other_store(store, catalogue):
            why = fact(Reason.NAMES_STORE, store=store, own=manifest.store)
            return _over(observation, OverReason.OTHER_STORE, why, store=store)
    for shipment in observation.values("shipment"):
        other = catalogue.elsewhere.by_shipment.get(shipment.casefold())
        if other is not None and other.shipment != manifest.shipment:
            why = fact(Reason.NAMES_SHIPMENT, shipment=other.shipment, store=other.store)
            return _over(observation, _whose(catalogue, [other]), why, store=other.store)
    return None


def names_this_shipment(observation: Observation, catalogue: Catalogue) -> bool:
    """Nothing on the label names another shipment or store."""
    manifest = catalogue.manifest
    shipments, stores = observation.values("shipment"), observation.values("store")
    right_shipment = not shipments or manifest.shipment.casefold() in {s.casefold() for s in shipments}
    return right_shipment and (not stores or plain_store(manifest.store) in {plain_store(s) for s in stores})


def says_it_is_ours(observation: Observation, catalogue: Catalogue) -> bool:
    """The label names this shipment or its store."""
    named = observation.values("shipment") or observation.values("store")
    return bool(named) and names_this_shipment(observation, catalogue)


def _of_other(observation: Observation, catalogue: Catalogue, code: str, listed: tuple[Listed, ...]) -> OverLabel:
    first, reason = listed[0], _whose(catalogue, [hit.manifest for hit in listed])
    if len(listed) > 1:
        where = tuple(hit.whose for hit in listed[:MOST_PLACES])
        why = fact(Reason.ON_OTHER_MANIFESTS, code=code, count=len(listed), where=where)
        return _over(observation, reason, why, key=code)
    why = fact(Reason.ON_OTHER_MANIFEST, where=first.whose)
    return _over(observation, reason, why, key=code, listed=first, store=first.manifest.store)


def _whose(catalogue: Catalogue, manifests: Sequence[Manifest]) -> OverReason:
    own = plain_store(catalogue.manifest.store)
    same = any(plain_store(manifest.store) == own for manifest in manifests)
    return OverReason.OTHER_SHIPMENT if same else OverReason.OTHER_STORE


def _is_other_store(store: str, catalogue: Catalogue) -> bool:
    """Another store for sure: one that has an open shipment, or an id built like our own."""
    ours = catalogue.manifest.store
    if plain_store(store) == plain_store(ours):
        return False
    return plain_store(store) in catalogue.elsewhere.stores or shape(store.strip()) == shape(ours)


def _over(
    observation: Observation,
    reason: OverReason,
    why: Fact,
    *,
    key: str = "",
    listed: Listed | None = None,
    store: str = "",
) -> OverLabel:
    return OverLabel(observation, key or over_key(observation), raw_text(observation), reason, why, listed, store)


def over_key(observation: Observation) -> str:
    """What makes two unknown labels one thing: their code, or the whole text where there is none."""
    codes = observation.codes
    return codes[0] if codes else "|".join(observation.words)


def not_listed(observation: Observation, why: Fact) -> OverLabel:
    """A label that no carton of the manifest fits."""
    return _over(observation, OverReason.NOT_ON_MANIFEST, why)


def not_understood(observation: Observation) -> UnclearLabel:
    """Text that fits nothing on this manifest."""
    return UnclearLabel(observation, fact(Reason.NOT_UNDERSTOOD, text=raw_text(observation)))


def marked_as_none(observation: Observation, by: str) -> OverLabel:
    """A label of which a person says that it is none of this shipment."""
    why = fact(Reason.PERSON_SAYS_NONE, by=by)
    raw = observation.reads[0].raw.raw
    return OverLabel(observation, f"said {observation.key}", raw, OverReason.NOT_ON_MANIFEST, why)


def faulty_data(observation: Observation) -> Text:
    """What is wrong with a label that claims nothing but faulty data; empty where it claims anything."""
    if any(_claims_something(claim) for claim in observation.claims):
        return ""
    return joined(*dict.fromkeys(warning for claim in observation.claims for warning in claim.warnings))


def _claims_something(claim: Claim) -> bool:
    """The claim holds a code, a place or a word of a carton."""
    named = (claim.sscc, claim.barcode, claim.gtin, claim.address, claim.carton, claim.carton_n, claim.column)
    return any(named) or any((claim.shipment, claim.store, claim.kind, claim.open_first, claim.outer, claim.item))


def judge_unknown(observation: Observation, catalogue: Catalogue) -> OverLabel | UnclearLabel:
    """A label that nothing known explains: an extra carton, no carton label, or not understood."""
    fault = faulty_data(observation)
    if fault:
        return _over(observation, OverReason.NOT_A_CARTON_LABEL, fact(Reason.FAULTY_DATA, fault=fault))
    if _is_carton_label(observation, catalogue):
        return not_listed(observation, _not_listed_fact(observation, catalogue))
    if observation.typed or any(getattr(claim, name) for claim in observation.claims for name in WORDS_OF_A_CARTON):
        return not_understood(observation)
    sticker = any(claim.open_first for claim in observation.claims)
    why = fact(Reason.OPEN_FIRST_STICKER if sticker else Reason.NO_CARTON_LABEL)
    return _over(observation, OverReason.NOT_A_CARTON_LABEL, why)


def _not_listed_fact(observation: Observation, catalogue: Catalogue) -> Fact:
    kind, what = _subject(observation)
    near = [hit for address in observation.addresses for hit in catalogue.elsewhere.at(address, catalogue.manifest)]
    if len(near) == 1 and not observation.codes:
        return fact(Reason.FITS_ELSEWHERE, shown=kind, what=what, where=near[0].whose)
    return fact(Reason.NOT_LISTED, shown=kind, what=what)


def _is_carton_label(observation: Observation, catalogue: Catalogue) -> bool:
    """It proves a carton that is not listed: by an SSCC, or, read by a machine, by a place or a carton's code.

    Typed text without a check digit that holds proves nothing: it may be a slip.
    """
    if observation.values("sscc"):
        return True
    if observation.typed:
        return False
    return bool(observation.addresses) or any(
        _is_carton_code(observation, n, catalogue) for n in range(len(observation.reads))
    )


def _is_carton_code(observation: Observation, n: int, catalogue: Catalogue) -> bool:
    """An unknown plain code is taken for a carton's if it is built like one, or was scanned on purpose.

    A retail number is a product's, which stands on many things in a store; all of them are built alike.
    """
    read = observation.reads[n]
    code = read.claim.barcode or read.claim.gtin
    retail = read.raw.symbology.startswith(RETAIL_SYMBOLOGIES) or bool(read.claim.gtin)
    if retail or (len(code) in GTIN_LENGTHS and has_valid_check_digit(code)):
        return False
    if code and shape(code) in catalogue.shapes:
        return True
    free_text = read.raw.symbology.startswith(FREE_TEXT_SYMBOLOGIES)
    return not free_text and read.raw.source is not Source.PHOTO and bool(code.strip())


def _subject(observation: Observation) -> tuple[str, Address | str]:
    """What the label is called: by its SSCC, its place or its text; and that."""
    codes = observation.values("sscc")
    if codes:
        return "sscc", codes[0]
    if observation.addresses:
        return "address", observation.addresses[0]
    return "text", raw_text(observation)


# Overs seldom come alone


def shipments_seen(overs: Sequence[OverLabel], catalogue: Catalogue) -> frozenset[str]:
    """The other open shipments of which some carton was seen here: another may be, or that one again in part."""
    return frozenset(home.shipment for over in overs for home in _homes(over, catalogue))


def at_their_place(observation: Observation, known: frozenset[str], catalogue: Catalogue) -> tuple[Listed, ...]:
    """The cartons of these shipments whose label this may be as well.

    Only where it gives a position, perhaps a kind or a size, and nothing else.
    """
    if not known or not observation.addresses or any(observation.values(name) for name in NAMES_ITS_CARTON):
        return ()
    if has_parts(observation, catalogue):
        return ()
    kinds = kinds_stated(observation)
    found = [
        hit
        for stated in observation.addresses
        for hit in catalogue.elsewhere.at(stated, catalogue.manifest)
        if hit.manifest.shipment in known and not kind_cost(kinds, hit.carton)
    ]
    return tuple(dict.fromkeys(found)) if len(observation.addresses) > 1 else tuple(found)


def _homes(over: OverLabel, catalogue: Catalogue) -> tuple[Manifest, ...]:
    if over.listed is not None:
        return (over.listed.manifest,)
    if not over.store:
        return ()
    others = (m for m in catalogue.elsewhere.manifests if m.shipment != catalogue.manifest.shipment)
    return tuple(m for m in others if plain_store(m.store) == plain_store(over.store))


def other_shipment(
    matched: Sequence[Matched], overs: Sequence[OverLabel], catalogue: Catalogue
) -> OtherShipment | None:
    """The open shipment that this pile looks like, where its labels make that at least 20 times likelier than ours.

    Each label with a code that only one of the two shipments has speaks for that one; a shared code says nothing.
    """
    theirs: dict[str, set[str]] = {}
    for over in overs:
        for home in _homes(over, catalogue):
            theirs.setdefault(home.shipment, set()).add(over.key)
    if not theirs:
        return None
    # Nearly every pile is ours, and is done with here: what follows looks at every label once for each shipment.
    most = max(map(len, theirs.values()))
    sure = {found.carton for found in matched if found.how is How.SSCC}
    if WRONG_SHIPMENT + OF_ANOTHER * (most - len(sure)) < SURE_ENOUGH:
        return None
    others = [found for found in matched if found.carton not in sure]
    best: OtherShipment | None = None
    for name in sorted(theirs):
        own = len(sure) + len({found.carton for found in others if not _all_on(found.observation, name, catalogue)})
        odds = WRONG_SHIPMENT + OF_ANOTHER * (len(theirs[name]) - own)
        if odds >= SURE_ENOUGH and (best is None or odds > best.log_odds):
            home = next(m for m in catalogue.elsewhere.manifests if m.shipment == name)
            best = OtherShipment(name, home.store, odds, len(theirs[name]), own)
    return best


def split_from_other_shipment(
    matched: Sequence[Matched], looks_like: OtherShipment, catalogue: Catalogue
) -> tuple[list[Matched], list[UnclearLabel]]:
    """What shows cartons of ours for sure, and what that other shipment has as well; a person's word stays."""
    ours: list[Matched] = []
    unclear: list[UnclearLabel] = []
    for found in matched:
        if found.by_person or not also_theirs(found.observation, looks_like, catalogue):
            ours.append(found)
            continue
        code = found.observation.codes[0]
        why = fact(Reason.OF_ANOTHER_SHIPMENT, shown="code", what=code, shipment=looks_like.shipment)
        unclear.append(UnclearLabel(found.observation, why))
    return ours, unclear


def also_theirs(observation: Observation, other: OtherShipment, catalogue: Catalogue) -> bool:
    """All codes on the label that we know are on that shipment's manifest as well."""
    return _all_on(observation, other.shipment, catalogue)


def _all_on(observation: Observation, shipment: str, catalogue: Catalogue) -> bool:
    if not any(plain_text(code) in catalogue.shared_with_others for code in (*observation.codes, *observation.words)):
        return False
    own = [code for code in (*observation.codes, *observation.words) if catalogue.typed_code(code)]
    return bool(own) and all(
        any(hit.manifest.shipment == shipment for hit in catalogue.elsewhere.holding(listed, catalogue.manifest))
        for code in own
        for listed in catalogue.listed_codes(code)
    )


def with_owners(result: Reconciliation, others: Iterable[Reconciliation]) -> Reconciliation:
    """``result`` whose overs also say how their own shipment, one of ``others``, stands without them."""
    states = {
        (other.shipment, other.store, finding.carton.carton): finding.state
        for other in others
        for finding in other.cartons
    }
    return replace(result, over=tuple(_with_owner(over, states) for over in result.over))


def _with_owner(over: Over, states: dict[tuple[str, str, str], CartonState]) -> Over:
    state = states.get((over.shipment, over.store, over.carton))
    if state is None or over.belongs_to is None:
        return over
    return replace(over, belongs_to=over.belongs_to.adding(there=state))
