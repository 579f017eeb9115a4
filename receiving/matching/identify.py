"""What one piece of evidence says by itself: a carton for sure, one of several, a stray, or nothing."""

from collections.abc import Sequence

from receiving.matching.catalogue import Catalogue, plain_store
from receiving.matching.foreign import foreign, unknown
from receiving.matching.likelihood import ASK_BELOW, Statement, candidates, of_its_kind, statement
from receiving.matching.misread import meant
from receiving.matching.pieces import Piece
from receiving.matching.verdicts import Finding, Proven, Unsure, codes_claimed, said, stray_raw
from receiving.model import Carton, CartonKind, How


def identify(piece: Piece, catalogue: Catalogue) -> Finding:
    """What this piece says, judged by its strongest data: SSCC, then barcode, then carton id, then address."""
    if piece.ambiguous:
        return _guided_between(piece, catalogue)
    known = _by_code(piece, catalogue)
    if isinstance(known, Proven | Unsure):
        return known
    stray = foreign(piece, catalogue)
    if stray is not None:
        return stray
    return meant(piece, catalogue, _by_parts(piece, catalogue) or unknown(piece, catalogue))


def _by_code(piece: Piece, catalogue: Catalogue) -> Finding | None:
    targets: dict[str, tuple[How, tuple[str, ...]]] = {}
    for how, name in ((How.SSCC, "sscc"), (How.BARCODE, "barcode"), (How.BARCODE, "gtin")):
        for code in piece.values(name):
            cartons = catalogue.with_code(code)
            if cartons and code not in targets:
                targets[code] = (how, cartons)
    for carton in piece.values("carton"):
        if carton in catalogue.by_id and _names_this_shipment(piece, catalogue):
            targets.setdefault(f"carton {carton}", (How.BARCODE, (carton,)))
    if not targets:
        return None
    common = set.intersection(*(set(cartons) for _, cartons in targets.values()))
    if len(targets) > 1 and not common:
        return _contradiction(piece, targets)
    code, (how, _) = next(iter(targets.items()))
    return _settle_code(piece, catalogue, code, how, tuple(c for c in catalogue.by_id if c in common))


def _settle_code(piece: Piece, catalogue: Catalogue, code: str, how: How, cartons: tuple[str, ...]) -> Finding:
    unlisted = [s for s in piece.values("sscc") if s not in catalogue.by_code]
    if unlisted and how is not How.SSCC and any(catalogue.by_id[c].sscc for c in cartons):
        why = f"its {said(code)} is on the manifest, its SSCC {unlisted[0]} is not"
        return Unsure(piece, cartons, f"carries {said(code)}", ask=why)
    if len(cartons) > 1:
        narrowed = _narrowed(piece, catalogue, cartons)
        if len(narrowed) > 1 or not piece.addresses:
            return Unsure(piece, narrowed, f"carries {said(code)}", code=code)
        cartons = narrowed
    carton = catalogue.by_id[cartons[0]]
    clash = _address_clash(piece, catalogue, carton)
    if clash:
        return Unsure(piece, (carton.carton, *clash), f"carries {said(code)}", ask=_clash_words(piece, carton))
    return Proven(piece, carton.carton, how, _code_sentence(piece, carton, code, how))


def _contradiction(piece: Piece, targets: dict[str, tuple[How, tuple[str, ...]]]) -> Unsure:
    cartons = tuple(dict.fromkeys(c for _, found in targets.values() for c in found))
    codes = " and ".join(said(code) for code in targets)
    why = f"one label carries {codes}, which belong to different cartons"
    return Unsure(piece, cartons, f"carries {codes}", ask=why)


def _address_clash(piece: Piece, catalogue: Catalogue, carton: Carton) -> tuple[str, ...]:
    """The cartons at the label's address, where the manifest has this carton at another one."""
    if not piece.addresses or not carton.addresses:
        return ()
    if any(stated.fits(own) for stated in piece.addresses for own in carton.addresses):
        return ()
    return tuple(dict.fromkeys(c for stated in piece.addresses for c in catalogue.at(stated) if c != carton.carton))


def _narrowed(piece: Piece, catalogue: Catalogue, cartons: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the cartons that all else on the label fits best."""
    said = statement(piece, catalogue)
    costs = {name: said.cost(catalogue.by_id[name]) for name in cartons}
    best = min(costs.values(), default=0.0)
    return tuple(name for name in cartons if costs[name] - best < ASK_BELOW)


def _clash_words(piece: Piece, carton: Carton) -> str:
    own = " and ".join(map(str, carton.addresses))
    return f"the code is carton {carton.carton} for {own}, but the label says {piece.addresses[0]}"


def _code_sentence(piece: Piece, carton: Carton, code: str, how: How) -> str:
    sentence = f"{said(code, how)} is carton {carton.carton} on the manifest"
    moved = piece.addresses and carton.addresses
    if moved and not any(stated.fits(own) for stated in piece.addresses for own in carton.addresses):
        sentence += f"; the label says {piece.addresses[0]}, the manifest {carton.addresses[0]}"
    return sentence


def _names_this_shipment(piece: Piece, catalogue: Catalogue) -> bool:
    """A printed carton id counts unless the label names another shipment or store."""
    manifest = catalogue.manifest
    shipments = piece.values("shipment")
    stores = piece.values("store")
    right_shipment = not shipments or manifest.shipment.casefold() in {s.casefold() for s in shipments}
    return right_shipment and (not stores or plain_store(manifest.store) in {plain_store(s) for s in stores})


def _guided_between(piece: Piece, catalogue: Catalogue) -> Unsure:
    raws = [raw for read in piece.reads for raw in (read.raw.raw, *read.raw.alternatives)]
    found = tuple(dict.fromkeys(c for raw in raws for c in catalogue.with_raw(raw)))
    plain = [c for read in piece.reads if not read.raw.alternatives for c in codes_claimed(read.claim)]
    sure = tuple(dict.fromkeys(c for code in plain for c in catalogue.with_code(code)))
    cartons = sure if sure and not found else tuple(c for c in found if c in sure) or found
    why = "the code is too blurred to tell between the codes that are expected"
    return Unsure(piece, _narrowed(piece, catalogue, cartons), "its blurred code fits", code="blurred", ask=why)


def _by_parts(piece: Piece, catalogue: Catalogue) -> Finding | None:
    """The cartons that the label's parts fit; a label with an SSCC can only be a carton that is listed without one."""
    said = statement(piece, catalogue)
    fitting = candidates(said)
    if piece.values("sscc"):
        fitting = tuple((name, nats) for name, nats in fitting if catalogue.by_id[name].sscc is None)
    if not fitting:
        return _by_kind(said)
    cartons, costs = zip(*fitting, strict=True)
    how = How.ADDRESS if piece.addresses or not said.parts else How.BARCODE
    return Unsure(piece, cartons, _parts_words(said), costs, how)


def _by_kind(said: Statement) -> Unsure | None:
    """A label that shows nothing but a kind is always a question: many labels could be seen so from a bad side."""
    piece, alike = said.piece, of_its_kind(said)
    if piece.addresses or piece.values("sscc") or not alike:
        return None
    fits = f"says {next(iter(piece.values('kind')), CartonKind.OUTER.words)}{_size_words(said)}"
    return Unsure(piece, alike, fits, ask=f"the label {fits}, and nothing else can be read")


def _parts_words(said: Statement) -> str:
    return _label_words(said.piece, said.parts) + _size_words(said)


def _size_words(said: Statement) -> str:
    """The size, where it tells some cartons of this shipment from others."""
    tells = said.size is not None and said.size in said.catalogue.sizes.classes
    return f" on a {said.size.value} carton" if tells and said.size is not None else ""


def _label_words(piece: Piece, parts: Sequence[str]) -> str:
    if piece.addresses:
        return f"says {piece.addresses[0]}"
    if parts:
        return f"shows {parts[0]} of its code"
    number = next(((c.carton_n, c.carton_total) for c in piece.claims if c.carton_n is not None), None)
    if number is None:
        return f"shows {stray_raw(piece)!r}"
    return f"says carton {number[0]}" + (f" of {number[1]}" if number[1] else "")
