"""A manifest changes on the page: one carton's place, kind or mark, or a return to an earlier revision.

Every change is shown in words first, and becomes a new revision; none is ever lost.
"""

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

from receiving.errors import BadRequest, Conflict, StoreError
from receiving.expected import Kit, manifest_changes
from receiving.messages import Text, joined, message
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, ShipmentVoided, StoredMessage
from receiving.model.hidden_characters import find_hidden_character
from receiving.service.context import Context
from receiving.service.documents import KIT, value_in
from receiving.service.notes import MAX_TEXT
from receiving.service.printing import carton_on
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.store import RevisionOrigin, RevisionRecord, ShipmentRecord, Store
from receiving.wording import address_words, change_words, to_stored

LARGEST_POSITION = 9999
MAX_SECTION = 120


@dataclass(frozen=True)
class TypedPlace:
    """A planogram place as it was typed: section, column and row, all texts, all may be empty."""

    section: str = ""
    column: str = ""
    row: str = ""


@dataclass(frozen=True)
class CartonEdit:
    """What a person says of a carton. ``places``: one for each content line, in order; further ones are added."""

    kind: str
    open_first: bool
    places: tuple[TypedPlace, ...]


@dataclass(frozen=True)
class RevisionPreview:
    """What a new revision would change in words; ``current`` is the one that it was compared with.

    ``restored`` is the earlier revision that it would bring back; None where it is an edit.
    """

    current: RevisionRecord
    changes: tuple[Text, ...]
    restored: RevisionRecord | None = None

    @property
    def follows(self) -> int:
        """The number of the revision that it was compared with."""
        return self.current.revision


def get_manifest(ctx: Context, shipment: str) -> tuple[Manifest, int]:
    """The current manifest and the number of its revision. Raises NotFound."""
    with ctx.store() as store:
        record = store.revision(shipment)
    return record.manifest, record.revision


def list_revisions(ctx: Context, shipment: str) -> tuple[RevisionRecord, ...]:
    """Every revision of the shipment's manifest, oldest first. Raises NotFound."""
    with ctx.store() as store:
        store.shipment(shipment)
        return store.revisions(shipment)


def preview_restore(ctx: Context, shipment: str, revision: int) -> RevisionPreview:
    """What restoring this revision would change now; stores nothing. Raises NotFound."""
    with ctx.moment() as store:
        current, wanted = store.revision(shipment), store.revision(shipment, revision)
    return replace(_preview(current, wanted.manifest), restored=wanted)


def preview_carton(ctx: Context, shipment: str, carton: str, edit: CartonEdit) -> RevisionPreview:
    """What this edit of a carton would change; stores nothing. Raises NotFound, BadRequest."""
    with ctx.store() as store:
        current = store.revision(shipment)
    return _preview(current, _revised(current.manifest, carton, edit))


def revise_carton(ctx: Context, shipment: str, carton: str, edit: CartonEdit, *, follows: int, by: str) -> int:
    """Store the edit of a carton as a new revision; gives the number of the current one.

    Raises NotFound, BadRequest, and Conflict when the manifest has moved on from revision ``follows``.
    """
    with ctx.transaction() as store:
        current = store.revision(shipment, follows)
        revised = _revised(current.manifest, carton, edit)
        changes = _preview(current, revised).changes
        if not changes:
            return follows
        store.add_revisions(
            [(revised, follows, tuple(map(to_stored, changes)))],
            origin=RevisionOrigin.CARTON_EDITED,
            source=carton,
            by=by,
            imported_at=ctx.now(),
        )
    return follows + 1


def _preview(current: RevisionRecord, new: Manifest) -> RevisionPreview:
    changes = manifest_changes(current.manifest, new)
    return RevisionPreview(current, tuple(map(change_words, changes)))


def _revised(manifest: Manifest, carton_id: str, edit: CartonEdit) -> Manifest:
    carton = carton_on(manifest, carton_id)
    revised = replace(carton, kind=_kind(edit.kind), open_first=edit.open_first, contents=_contents(carton, edit))
    return replace(manifest, cartons=tuple(revised if c is carton else c for c in manifest))


def _kind(word: str) -> CartonKind:
    try:
        return CartonKind(word)
    except ValueError:
        raise BadRequest(
            message("There is no carton kind {word}.", word=repr(word)),
            next_step=message("Use one of: {kinds}.", kinds=", ".join(kind.value for kind in CartonKind)),
            field="kind",
        ) from None


def _contents(carton: Carton, edit: CartonEdit) -> tuple[ContentLine, ...]:
    """The content lines at their new places; a line that said a place alone and lost it goes."""
    lines = list(carton.contents)
    lines += [ContentLine()] * (len(edit.places) - len(lines))
    faults: list[Text] = []
    places = [_place(number, typed, faults) for number, typed in enumerate(edit.places, 1)]
    if faults:
        raise BadRequest(
            joined(*faults), next_step=message("Correct it and look at the changes again; nothing was stored.")
        )
    placed = [replace(line, section=s, address=a) for line, (s, a) in zip(lines, places, strict=False)]
    whole = [*placed, *lines[len(placed) :]]
    return tuple(line for line in whole if line != ContentLine())


def _place(number: int, typed: TypedPlace, faults: list[Text]) -> tuple[str, Address | None]:
    section, column, row = (" ".join(text.split()) for text in (typed.section, typed.column, typed.row))
    if len(section) > MAX_SECTION or find_hidden_character(section, lines=False) is not None:
        faults.append(
            message(
                "Place {number}: the section is not a single line of at most {limit} characters.",
                number=number,
                limit=MAX_SECTION,
            )
        )
    if column and not row:
        faults.append(message("Place {number}: row is missing; give both or neither.", number=number))
    if row and not column:
        faults.append(message("Place {number}: column is missing; give both or neither.", number=number))
    limits = {"number": number, "largest": LARGEST_POSITION}
    if column and not _is_position(column):
        written = repr(column[:40])
        faults.append(
            message(
                "Place {number}: column {column} is not a whole number from 1 to {largest}.", column=written, **limits
            )
        )
    if row and not _is_position(row):
        written = repr(row[:40])
        faults.append(
            message("Place {number}: row {row} is not a whole number from 1 to {largest}.", row=written, **limits)
        )
    if faults or not (column and row):
        return section, None
    return section, Address(section, int(column), int(row))


def _is_position(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9 and 1 <= int(text) <= LARGEST_POSITION


# A shipment that was imported by mistake is voided: it stays whole, is in no list and counts for nothing.


@dataclass(frozen=True)
class VoidedShipment:
    """A shipment that is voided, and the note that says so."""

    shipment: str
    store: str
    note: ShipmentVoided


def void_shipment(ctx: Context, shipment: str, *, by: str, reason: str = "") -> VoidedShipment:
    """Void a shipment: hide it from lists, from the status of the night and from other shipments' overs.

    Raises NotFound, Conflict where it is voided already, BadRequest for a reason that is too long.
    """
    return _note(ctx, shipment, voided=True, by=by, reason=reason)


def restore_shipment(ctx: Context, shipment: str, *, by: str, reason: str = "") -> None:
    """Let a voided shipment count again, with all that was stored for it before and since.

    Raises NotFound, Conflict where it is not voided, BadRequest for a reason that is too long.
    """
    _note(ctx, shipment, voided=False, by=by, reason=reason)


@dataclass(frozen=True)
class Voiding:
    """A shipment that may be voided, or is: its current manifest, and what says that it is voided."""

    manifest: Manifest
    voided: VoidedShipment | None


def get_voiding(ctx: Context, shipment: str) -> Voiding:
    """What is asked before a shipment is voided, and where it is, before it is restored. Raises NotFound."""
    with ctx.moment() as store:
        record, manifest = store.shipment(shipment), store.revision(shipment).manifest
        note = _last(store, record) if record.voided else None
    return Voiding(manifest, VoidedShipment(shipment, record.store, note) if note else None)


def list_voided_shipments(ctx: Context) -> tuple[VoidedShipment, ...]:
    """Every shipment that is voided, by its id."""
    with ctx.store() as store:
        found = [(record, _last(store, record)) for record in store.shipments(voided=True)]
    return tuple(
        VoidedShipment(record.shipment, record.store, note)
        for record, note in sorted(found, key=lambda each: each[0].shipment)
        if note
    )


def _last(store: Store, record: ShipmentRecord) -> ShipmentVoided | None:
    notes = (note for note in reversed(store.notes(record.shipment)) if isinstance(note, ShipmentVoided))
    return next(notes, None)


def _note(ctx: Context, shipment: str, *, voided: bool, by: str, reason: str) -> VoidedShipment:
    reason = reason.strip()
    refuse_hidden_characters({"reason": reason, "by": by})
    if len(reason) > MAX_TEXT:
        raise BadRequest(
            message("The reason has {number} characters.", number=len(reason)),
            next_step=message("Use {limit} at most.", limit=MAX_TEXT),
        )
    with ctx.transaction() as store:
        record = store.shipment(shipment)
        if record.voided == voided:
            raise Conflict(
                message("Shipment {shipment} is voided already.", shipment=repr(shipment))
                if voided
                else message("Shipment {shipment} is not voided.", shipment=repr(shipment)),
                next_step=message("Reload the page; it shows what counts now."),
            )
        note = ShipmentVoided(ctx.new_id(), ctx.now(), by, voided, reason, action_id=ctx.new_id())
        store.add_note(shipment, note)
    return VoidedShipment(shipment, record.store, note)


# A planogram that is revised in the middle of a programme: the kit's new places go into manifests imported before.


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
            (manifest, move.follows, tuple(map(to_stored, move.changes)))
            for move, manifest in planned
            if move.shipment in shipments
        ]
        _check_choice(chosen, shipments)
        store.add_revisions(chosen, origin=RevisionOrigin.KIT_PLACES, source="", by=by, imported_at=ctx.now())
    return len(chosen)


def _check_choice(chosen: list[tuple[Manifest, int, tuple[StoredMessage, ...]]], shipments: Collection[str]) -> None:
    unknown = sorted(set(shipments) - {manifest.shipment for manifest, _, _ in chosen})
    unchanged = [manifest.shipment for manifest, _, changes in chosen if not changes]
    if unknown or unchanged or not chosen:
        named = [*unknown, *unchanged]
        raise BadRequest(
            message("The kit moves nothing in shipment {shipment}.", shipment=repr(named[0]))
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
            known = (record.shipment, record.store, record.dispatch_date, current.revision, changes, unclear, confirmed)
            planned.append((KitMove(*known), revised))
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
            else message("Carton {carton}: {item} hangs in {places} places of the kit and in none here.", **known)
        )
    return line
