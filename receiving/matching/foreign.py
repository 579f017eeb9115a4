"""Labels that are no carton of the manifest: another shipment's, unknown, or no carton label at all."""

from receiving.matching.catalogue import Catalogue, Listed, plain_store, shape
from receiving.matching.misread import faulty
from receiving.matching.pieces import Piece
from receiving.matching.verdicts import Stray, codes_of_piece, said, stray_key, stray_raw
from receiving.model import Manifest, OverReason, Source

NO_LABEL = "Not a carton label: nothing on it names a carton, a shipment or a place in the section"
WORDS_OF_A_CARTON = ("sscc", "address", "carton", "carton_n", "kind", "shipment", "store", "outer")
RETAIL_SYMBOLOGIES = ("]E", "]X")
FREE_TEXT_SYMBOLOGIES = ("]Q", "]d", "]L", "]z")


def foreign(piece: Piece, catalogue: Catalogue) -> Stray | None:
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
            return Stray(piece, stray_key(piece), stray_raw(piece), OverReason.OTHER_STORE, sentence, store=store)
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
        sentence = f"{said(code)[:1].upper()}{said(code)[1:]} is on {len(listed)} other cartons: {places}"
        return Stray(piece, code, stray_raw(piece), why, sentence)
    return Stray(
        piece, code, stray_raw(piece), why, f"Belongs to {first.words}", listed=first, store=first.manifest.store
    )


def _of_other_shipment(piece: Piece, catalogue: Catalogue, other: Manifest) -> Stray:
    same = plain_store(other.store) == plain_store(catalogue.manifest.store)
    why = OverReason.OTHER_SHIPMENT if same else OverReason.OTHER_STORE
    sentence = f"The label names shipment {other.shipment} for store {other.store}"
    return Stray(piece, stray_key(piece), stray_raw(piece), why, sentence, store=other.store)


def _is_other_store(store: str, catalogue: Catalogue) -> bool:
    """Another store for sure: one that has an open shipment, or an id built like our own."""
    ours = catalogue.manifest.store
    if plain_store(store) == plain_store(ours):
        return False
    return plain_store(store) in catalogue.elsewhere.stores or shape(store.strip()) == shape(ours)


def unlisted(piece: Piece, sentence: str) -> Stray:
    """A piece that no carton of the manifest fits."""
    return Stray(piece, stray_key(piece), stray_raw(piece), OverReason.NOT_ON_MANIFEST, sentence)


def unknown(piece: Piece, catalogue: Catalogue) -> Stray:
    """A label that nothing known explains: an extra carton, or no carton label."""
    fault = faulty(piece)
    if fault:
        return Stray(piece, stray_key(piece), stray_raw(piece), OverReason.NOT_A_CARTON_LABEL, fault)
    if not _is_carton_label(piece, catalogue):
        sticker = any(claim.open_first for claim in piece.claims)
        sentence = "An open-first sticker; it does not say of which carton" if sticker else NO_LABEL
        return Stray(piece, stray_key(piece), stray_raw(piece), OverReason.NOT_A_CARTON_LABEL, sentence)
    sentence = f"{_subject(piece)} is not on this manifest nor on any other open shipment"
    near = [hit for address in piece.addresses for hit in catalogue.elsewhere.at(address, catalogue.manifest)]
    if len(near) == 1 and not codes_of_piece(piece):
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


def _subject(piece: Piece) -> str:
    codes = piece.values("sscc")
    if codes:
        return f"SSCC {codes[0]}"
    if piece.values("carton"):
        return f"Carton {piece.values('carton')[0]}"
    if piece.addresses:
        return f"The label for {piece.addresses[0]}"
    return f"Code {stray_raw(piece)!r}"
