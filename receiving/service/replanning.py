"""A planogram that is revised in the middle of a programme: the kit's new places go into manifests imported before."""

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

from receiving.errors import BadRequest, Conflict, StoreError
from receiving.expected import Kit, manifest_changes
from receiving.messages import Text, message
from receiving.model import Carton, ContentLine, Kept, Manifest
from receiving.service.context import Context
from receiving.service.documents import KIT, value_in
from receiving.store import RevisionOrigin, Store
from receiving.wording import address_words, change_words, keep


@dataclass(frozen=True)
class KitMove:
    """What the kit would change in one shipment. ``unclear``: what a person must place, in sentences.

    ``confirmed``: the store has confirmed the shipment already, so its visit is probably over.
    """

    shipment: str
    store: str
    dispatch_date: date | None
    follows: int
    changes: tuple[Text, ...]
    unclear: tuple[Text, ...]
    confirmed: bool


@dataclass(frozen=True)
class KitMoves:
    """Every shipment that the kit would change, nearest visit first; ``seen`` names exactly this answer."""

    moves: tuple[KitMove, ...]
    seen: str


def preview_kit_moves(ctx: Context) -> KitMoves:
    """What the current kit would change in the current manifests; stores nothing."""
    with ctx.store() as store:
        return _named(tuple(move for move, _ in _planned(store)))


def apply_kit_moves(ctx: Context, shipments: Collection[str], *, seen: str, by: str = "") -> int:
    """Store the moves of these shipments as revisions, all or none; gives how many.

    Raises BadRequest where none is chosen or the kit changes nothing in one, and Conflict where the answer is no
    longer the one that was ``seen``.
    """
    with ctx.transaction() as store:
        planned = _planned(store)
        if _named(tuple(move for move, _ in planned)).seen != seen:
            raise Conflict(
                message("The kit or a manifest was changed since you looked; nothing was stored."),
                next_step=message("Look at the changes again."),
            )
        chosen = [
            (manifest, move.follows, tuple(map(keep, move.changes)))
            for move, manifest in planned
            if move.shipment in shipments
        ]
        _check_choice(chosen, shipments)
        store.add_revisions(chosen, origin=RevisionOrigin.KIT_PLACES, source="", by=by, imported_at=ctx.now())
    return len(chosen)


def _check_choice(chosen: list[tuple[Manifest, int, tuple[Kept, ...]]], shipments: Collection[str]) -> None:
    unknown = sorted(set(shipments) - {manifest.shipment for manifest, _, _ in chosen})
    unchanged = [manifest.shipment for manifest, _, changes in chosen if not changes]
    if unknown or unchanged or not chosen:
        named = [*unknown, *unchanged]
        raise BadRequest(
            message("The kit moves nothing in shipment {named}.", named=repr(named[0]))
            if named
            else message("No shipment was chosen."),
            next_step=message("Tick the shipments that the new places are for."),
        )


def _planned(store: Store) -> list[tuple[KitMove, Manifest]]:
    kit = value_in(store, KIT)
    planned = []
    for record in store.shipments() if kit else ():
        try:
            current = store.revision(record.shipment)
        except StoreError as fault:
            store.set_aside("shipments", record.shipment, record.shipment, fault)
            continue
        revised, unclear = with_kit_places(current.manifest, kit or Kit())
        changes = tuple(map(change_words, manifest_changes(current.manifest, revised)))
        if changes or unclear:
            confirmed = bool(store.receipts(record.shipment))
            told = (record.shipment, record.store, record.dispatch_date, current.revision, changes, unclear, confirmed)
            planned.append((KitMove(*told), revised))
    return planned


def _named(moves: tuple[KitMove, ...]) -> KitMoves:
    return KitMoves(moves, hashlib.sha256(repr(moves).encode(errors="surrogatepass")).hexdigest())


def with_kit_places(manifest: Manifest, kit: Kit) -> tuple[Manifest, tuple[Text, ...]]:
    """The manifest with each item where the kit has it, and in sentences what the kit leaves open.

    An item with one place goes there. One with several stays where it is; where that is none of them, it is left open.
    """
    unclear: list[Text] = []
    cartons = tuple(
        replace(carton, contents=tuple(_line(carton, line, kit, unclear) for line in carton.contents))
        for carton in manifest
    )
    return replace(manifest, cartons=cartons), tuple(unclear)


def _line(carton: Carton, line: ContentLine, kit: Kit, unclear: list[Text]) -> ContentLine:
    places = [place for place in (kit.of(line.item) if line.item else ()) if place.section or place.address]
    if len(places) == 1:
        return replace(line, section=places[0].section, address=places[0].address)
    if places and not any((place.section, place.address) == (line.section, line.address) for place in places):
        known = {"carton": carton.carton, "item": line.item, "places": len(places)}
        where = address_words(line.address) if line.address else line.section
        unclear.append(
            message(
                "Carton {carton}: {item} hangs in {places} places of the kit, not at {where}.", where=where, **known
            )
            if where
            else message("Carton {carton}: {item} hangs in {places} places of the kit, not at no place.", **known)
        )
    return line
