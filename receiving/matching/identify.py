"""What one piece of evidence says by itself: a carton for sure, one of several, a stray, or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass

from receiving.matching.catalogue import Catalogue, Listed, plain_store, shape
from receiving.matching.likelihood import candidates, code_parts, of_its_kind
from receiving.matching.pieces import Piece
from receiving.model import Carton, CartonKind, How, OverReason, Source

NO_LABEL = "Not a carton label: nothing on it names a carton, a shipment or a place in the section"
WORDS_OF_A_CARTON = ("sscc", "address", "carton", "carton_n", "kind", "shipment", "store", "outer")
RETAIL_SYMBOLOGIES = ("]E", "]X")
FREE_TEXT_SYMBOLOGIES = ("]Q", "]d", "]L", "]z")


@dataclass(frozen=True)
class Proven:
    """This piece is that carton; ``how`` says by what the label showed it, ``odds`` how far ahead of the next best."""

    piece: Piece
    carton: str
    how: How
    sentence: str
    by_person: bool = False
    odds: float | None = None


@dataclass(frozen=True)
class Unsure:
    """This piece fits these cartons (none, one or several); the other evidence must decide.

    ``costs`` say in nats how ill each fits, where only parts of a label speak. ``code`` is the code that several
    cartons share. ``ask`` is set where nothing but a person may decide, and says why.
    """

    piece: Piece
    cartons: tuple[str, ...]
    fits: str
    costs: tuple[float, ...] = ()
    how: How = How.ADDRESS
    code: str = ""
    ask: str = ""


@dataclass(frozen=True)
class Stray:
    """This piece is no carton of the manifest. Pieces with one ``key`` are one thing."""

    piece: Piece
    key: str
    raw: str
    why: OverReason
    sentence: str
    listed: Listed | None = None
    store: str = ""


Finding = Proven | Unsure | Stray


def identify(piece: Piece, catalogue: Catalogue) -> Finding:
    """What this piece says, judged by its strongest data: SSCC, then barcode, then carton id, then address."""
    plain = _by_sscc_alone(piece, catalogue)
    if plain is not None:
        return plain
    if piece.ambiguous:
        return _guided_between(piece, catalogue)
    known = _by_code(piece, catalogue)
    if isinstance(known, Proven | Unsure):
        return known
    stray = _foreign(piece, catalogue)
    if stray is not None:
        return stray
    return _by_parts(piece, catalogue) or _unknown(piece, catalogue)


def _by_sscc_alone(piece: Piece, catalogue: Catalogue) -> Proven | None:
    """The common case, answered at once: one SSCC, and nothing else on the label that could contradict it."""
    claim = piece.claims[0]
    if len(piece.claims) > 1 or claim.sscc is None or claim.barcode or claim.gtin or claim.carton or piece.ambiguous:
        return None
    cartons = catalogue.by_code.get(claim.sscc.digits, ())
    if len(cartons) != 1:
        return None
    own = catalogue.addresses[cartons[0]]
    if claim.address is not None and own and claim.address not in own:
        return None
    sentence = f"SSCC {claim.sscc.digits} is carton {cartons[0]} on the manifest"
    return Proven(piece, cartons[0], How.SSCC, sentence)


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
    foreign = [s for s in piece.values("sscc") if s not in catalogue.by_code]
    if foreign and how is not How.SSCC and any(catalogue.by_id[c].sscc for c in cartons):
        why = f"its {_said(code)} is on the manifest, its SSCC {foreign[0]} is not"
        return Unsure(piece, cartons, f"carries {_said(code)}", ask=why)
    if len(cartons) > 1:
        narrowed = _narrowed(piece, catalogue, cartons)
        if len(narrowed) > 1 or not piece.addresses:
            return Unsure(piece, narrowed, f"carries {_said(code)}", code=code)
        cartons = narrowed
    carton = catalogue.by_id[cartons[0]]
    clash = _address_clash(piece, catalogue, carton)
    if clash:
        return Unsure(piece, (carton.carton, *clash), f"carries {_said(code)}", ask=_clash_words(piece, carton))
    return Proven(piece, carton.carton, how, _code_sentence(piece, carton, code, how))


def _contradiction(piece: Piece, targets: dict[str, tuple[How, tuple[str, ...]]]) -> Unsure:
    cartons = tuple(dict.fromkeys(c for _, found in targets.values() for c in found))
    said = " and ".join(_said(code) for code in targets)
    why = f"one label carries {said}, which belong to different cartons"
    return Unsure(piece, cartons, f"carries {said}", ask=why)


def _address_clash(piece: Piece, catalogue: Catalogue, carton: Carton) -> tuple[str, ...]:
    """The cartons at the label's address, where the manifest has this carton at another one."""
    if not piece.addresses or not carton.addresses:
        return ()
    if any(said.fits(own) for said in piece.addresses for own in carton.addresses):
        return ()
    return tuple(dict.fromkeys(c for said in piece.addresses for c in catalogue.at(said) if c != carton.carton))


def _clash_words(piece: Piece, carton: Carton) -> str:
    own = " and ".join(map(str, carton.addresses))
    return f"the code is carton {carton.carton} for {own}, but the label says {piece.addresses[0]}"


def _code_sentence(piece: Piece, carton: Carton, code: str, how: How) -> str:
    sentence = f"{_said(code, how)} is carton {carton.carton} on the manifest"
    moved = piece.addresses and carton.addresses
    if moved and not any(said.fits(own) for said in piece.addresses for own in carton.addresses):
        sentence += f"; the label says {piece.addresses[0]}, the manifest {carton.addresses[0]}"
    return sentence


def _said(code: str, how: How | None = None) -> str:
    if code.startswith("carton "):
        return f"the printed {code}" if how is None else f"The printed {code}"
    word = "SSCC" if how is How.SSCC or (how is None and len(code) == 18 and code.isdigit()) else "barcode"
    return f"{word} {code}" if how is None or word == "SSCC" else f"Barcode {code}"


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
    plain = [c for read in piece.reads if not read.raw.alternatives for c in _codes(read.claim)]
    sure = tuple(dict.fromkeys(c for code in plain for c in catalogue.with_code(code)))
    cartons = sure if sure and not found else tuple(c for c in found if c in sure) or found
    why = "the code is too blurred to tell between the codes that are expected"
    return Unsure(piece, _narrowed(piece, catalogue, cartons), "its blurred code fits", code="blurred", ask=why)


def _codes(claim: object) -> tuple[str, ...]:
    values = (getattr(claim, name) for name in ("sscc", "barcode", "gtin"))
    return tuple(str(value) for value in values if value)


def _foreign(piece: Piece, catalogue: Catalogue) -> Stray | None:
    """A stray, where a code or the label's store and shipment say that it is another shipment's."""
    manifest = catalogue.manifest
    for name in ("sscc", "barcode", "gtin"):
        for code in piece.values(name):
            listed = catalogue.elsewhere.holding(code, manifest)
            if listed:
                return _of_other(piece, catalogue, code, listed)
    for store in piece.values("store"):
        if _is_other_store(store, catalogue):
            sentence = f"The label is for store {store}; this shipment is for store {manifest.store}"
            return Stray(piece, _key(piece), _raw(piece), OverReason.OTHER_STORE, sentence, store=store)
    for shipment in piece.values("shipment"):
        other = catalogue.elsewhere.by_shipment.get(shipment.casefold())
        if other is not None and other.shipment != manifest.shipment:
            return _of_other_shipment(piece, catalogue, other)
    return None


def _of_other(piece: Piece, catalogue: Catalogue, code: str, listed: tuple[Listed, ...]) -> Stray:
    first = listed[0]
    same_store = any(plain_store(hit.manifest.store) == plain_store(catalogue.manifest.store) for hit in listed)
    why = OverReason.OTHER_SHIPMENT if same_store else OverReason.OTHER_STORE
    if len(listed) > 1:
        places = "; ".join(hit.words for hit in listed[:3])
        sentence = f"{_said(code)[:1].upper()}{_said(code)[1:]} is on {len(listed)} other cartons: {places}"
        return Stray(piece, code, _raw(piece), why, sentence)
    return Stray(piece, code, _raw(piece), why, f"Belongs to {first.words}", listed=first, store=first.manifest.store)


def _of_other_shipment(piece: Piece, catalogue: Catalogue, other: object) -> Stray:
    shipment, store = getattr(other, "shipment", ""), getattr(other, "store", "")
    same = plain_store(store) == plain_store(catalogue.manifest.store)
    why = OverReason.OTHER_SHIPMENT if same else OverReason.OTHER_STORE
    sentence = f"The label names shipment {shipment} for store {store}"
    return Stray(piece, _key(piece), _raw(piece), why, sentence, store=store)


def _is_other_store(store: str, catalogue: Catalogue) -> bool:
    """Another store for sure: one that has an open shipment, or an id built like our own."""
    ours = catalogue.manifest.store
    if plain_store(store) == plain_store(ours):
        return False
    return plain_store(store) in catalogue.elsewhere.stores or shape(store.strip()) == shape(ours)


def _by_parts(piece: Piece, catalogue: Catalogue) -> Finding | None:
    """The cartons that the label's parts fit; a label with an SSCC can only be a carton that is listed without one."""
    fitting = candidates(piece, catalogue)
    if piece.values("sscc"):
        fitting = tuple((name, nats) for name, nats in fitting if catalogue.by_id[name].sscc is None)
    if not fitting:
        return _by_kind(piece, catalogue)
    cartons, costs = zip(*fitting, strict=True)
    parts = code_parts(piece, catalogue)
    how = How.ADDRESS if piece.addresses or not parts else How.BARCODE
    return Unsure(piece, cartons, _parts_words(piece, parts), costs, how)


def _by_kind(piece: Piece, catalogue: Catalogue) -> Unsure | None:
    """A label that shows nothing but a kind is always a question: many labels could be seen so from a bad side."""
    alike = of_its_kind(piece, catalogue)
    if piece.addresses or piece.values("sscc") or not alike:
        return None
    fits = f"says {next(iter(piece.values('kind')), CartonKind.OUTER.words)}"
    return Unsure(piece, alike, fits, ask=f"the label {fits}, and nothing else can be read")


def _parts_words(piece: Piece, parts: Sequence[str]) -> str:
    if piece.addresses:
        return f"says {piece.addresses[0]}"
    if parts:
        return f"shows {parts[0]} of its code"
    number = next(((c.carton_n, c.carton_total) for c in piece.claims if c.carton_n is not None), None)
    if number is None:
        return f"shows {_raw(piece)!r}"
    return f"says carton {number[0]}" + (f" of {number[1]}" if number[1] else "")


def _narrowed(piece: Piece, catalogue: Catalogue, cartons: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the cartons that all else on the label fits; a word that fits none of them is no help."""
    for test in (_at_its_address, _has_its_id, _has_its_number, _is_its_kind, _is_in_its_section, _opens_first):
        fitting = tuple(c for c in cartons if test(piece, catalogue.by_id[c], catalogue))
        cartons = fitting or cartons
    return cartons


def _at_its_address(piece: Piece, carton: Carton, _: Catalogue) -> bool:
    return any(said.fits(own) for said in piece.addresses for own in carton.addresses)


def _has_its_id(piece: Piece, carton: Carton, _: Catalogue) -> bool:
    return carton.carton in piece.values("carton")


def _has_its_number(piece: Piece, carton: Carton, catalogue: Catalogue) -> bool:
    """Carton n of N counts only where N is what the manifest holds and the ids are numbers."""
    number = carton.carton.isascii() and carton.carton.isdigit() and int(carton.carton)
    return any(
        claim.carton_n == number and claim.carton_total == len(catalogue.by_id)
        for claim in piece.claims
        if claim.carton_n is not None
    )


def _is_its_kind(piece: Piece, carton: Carton, _: Catalogue) -> bool:
    return any(kind.casefold() in (carton.kind.value, carton.kind.words) for kind in piece.values("kind"))


def _is_in_its_section(piece: Piece, carton: Carton, _: Catalogue) -> bool:
    named = {section.casefold() for section in piece.values("section")}
    return bool(named & {section.casefold() for section in carton.sections})


def _opens_first(piece: Piece, carton: Carton, _: Catalogue) -> bool:
    return carton.open_first and any(claim.open_first for claim in piece.claims)


def unlisted(piece: Piece, sentence: str) -> Stray:
    """A piece that no carton of the manifest fits."""
    return Stray(piece, _key(piece), _raw(piece), OverReason.NOT_ON_MANIFEST, sentence)


def _unknown(piece: Piece, catalogue: Catalogue) -> Stray:
    if not _is_carton_label(piece, catalogue):
        sticker = any(claim.open_first for claim in piece.claims)
        sentence = "An open-first sticker; it does not say of which carton" if sticker else NO_LABEL
        return Stray(piece, _key(piece), _raw(piece), OverReason.NOT_A_CARTON_LABEL, sentence)
    sentence = f"{_subject(piece)} is not on this manifest nor on any other open shipment"
    near = [hit for address in piece.addresses for hit in catalogue.elsewhere.at(address, catalogue.manifest)]
    if len(near) == 1 and not _codes_of_piece(piece):
        sentence = f"{_subject(piece)} is not on this manifest; it fits {near[0].words}"
    return unlisted(piece, sentence)


def _is_carton_label(piece: Piece, catalogue: Catalogue) -> bool:
    if any(getattr(claim, name) for claim in piece.claims for name in WORDS_OF_A_CARTON):
        return True
    return any(_is_carton_code(piece, n, catalogue) for n in range(len(piece.reads)))


def _is_carton_code(piece: Piece, n: int, catalogue: Catalogue) -> bool:
    """An unknown plain code is taken for a carton's if it is built like one, or was scanned or typed on purpose."""
    read = piece.reads[n]
    code = read.claim.barcode or read.claim.gtin
    if code and shape(code) in catalogue.shapes:
        return True
    retail = read.raw.symbology.startswith(RETAIL_SYMBOLOGIES) or bool(read.claim.gtin)
    if retail or read.raw.symbology.startswith(FREE_TEXT_SYMBOLOGIES):
        return False
    return read.raw.source is not Source.PHOTO and bool(read.raw.raw.strip())


def _codes_of_piece(piece: Piece) -> tuple[str, ...]:
    return tuple(code for claim in piece.claims for code in _codes(claim))


def _subject(piece: Piece) -> str:
    codes = piece.values("sscc")
    if codes:
        return f"SSCC {codes[0]}"
    if piece.values("carton"):
        return f"Carton {piece.values('carton')[0]}"
    if piece.addresses:
        return f"The label for {piece.addresses[0]}"
    return f"Code {_raw(piece)!r}"


def _key(piece: Piece) -> str:
    """What makes two unknown labels one thing: their code, or the whole text where there is none."""
    codes = _codes_of_piece(piece)
    return codes[0] if codes else "|".join(sorted({read.raw.raw for read in piece.reads}))


def _raw(piece: Piece) -> str:
    """The text of the read that says most: with an SSCC, with another code, or the first."""
    for name in ("sscc", "barcode", "gtin", "address"):
        for read in piece.reads:
            if getattr(read.claim, name):
                return read.raw.raw
    return piece.reads[0].raw.raw
