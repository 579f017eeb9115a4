"""Strays seldom come alone: where one carton of another shipment is in the pile, a torn label may be a second one's."""

from collections.abc import Sequence

from receiving.matching.catalogue import Catalogue, Listed, plain_store
from receiving.matching.likelihood import code_parts, items_said, kind_cost, kinds_said
from receiving.matching.pieces import Piece
from receiving.matching.verdicts import Stray
from receiving.model import Manifest

NAMES_ITS_CARTON = ("sscc", "barcode", "gtin", "carton", "carton_n", "shipment", "store")


def visitors(strays: Sequence[Stray], catalogue: Catalogue) -> tuple[Listed, ...]:
    """The cartons of each other open shipment of which some carton was seen here; that one too, seen again in part."""
    homes = {home.shipment: home for stray in strays for home in _homes(stray, catalogue)}
    return tuple(Listed(homes[name], carton) for name in sorted(homes) for carton in homes[name])


def companions(piece: Piece, known: Sequence[Listed], catalogue: Catalogue) -> tuple[Listed, ...]:
    """The visitors whose label this may be as well: it gives a position, perhaps a kind or a size, and nothing else."""
    if not known or not piece.addresses or any(piece.values(name) for name in NAMES_ITS_CARTON):
        return ()
    if code_parts(piece, catalogue) or items_said(piece, catalogue):
        return ()
    return tuple(hit for hit in known if _fits(piece, hit))


def _homes(stray: Stray, catalogue: Catalogue) -> tuple[Manifest, ...]:
    if stray.listed is not None:
        return (stray.listed.manifest,)
    if not stray.store:
        return ()
    others = (m for m in catalogue.elsewhere.manifests if m.shipment != catalogue.manifest.shipment)
    return tuple(m for m in others if plain_store(m.store) == plain_store(stray.store))


def _fits(piece: Piece, hit: Listed) -> bool:
    at = any(said.fits(own) for said in piece.addresses for own in hit.carton.addresses)
    return at and not kind_cost(kinds_said(piece), hit.carton)
