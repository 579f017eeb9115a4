"""A shipment that was imported by mistake is voided: it stays whole, is in no list and counts for nothing."""

from dataclasses import dataclass

from receiving.errors import BadRequest, Conflict
from receiving.messages import message
from receiving.model import ShipmentVoided
from receiving.service.context import Context
from receiving.service.notes import MAX_TEXT
from receiving.store import ShipmentRecord, Store


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


def voided_shipments(ctx: Context) -> tuple[VoidedShipment, ...]:
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
