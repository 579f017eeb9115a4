"""What a person says beside the reads: damage, places, answers, undo."""

from dataclasses import replace
from typing import Any

import msgspec

from receiving.errors import BadRequest, Conflict
from receiving.model import CartonMoved, Note, Question
from receiving.service.desk import Desk
from receiving.service.standing import Standing, standing
from receiving.staging import rode_along
from receiving.store.records import NOTE_KINDS

MAX_TEXT = 2000


def add_note(desk: Desk, shipment: str, kind: str, *, by: str, note_id: str | None = None, **fields: Any) -> Note:
    """Store one note of this kind. Raises BadRequest when a field is wrong, NotFound for an unknown shipment."""
    with desk.store() as store:
        found = standing(desk, store, store.shipment(shipment))
        note = checked_note(desk, found, kind, by=by, note_id=note_id, **fields)
        if isinstance(note, CartonMoved) and note.trip:
            note = replace(note, along=rode_along(note, found.notes, found.plan))
        store.add_note(shipment, note)
    return note


def answer_question(desk: Desk, shipment: str, question_id: str, carton: str, *, by: str) -> Question:
    """Say which carton the label of a question is (empty: none of this shipment); gives the question that was asked.

    Every read of the question is assigned, since they are codes of one label. Raises Conflict when it is settled
    already, BadRequest when the carton is not on the manifest, NotFound for an unknown shipment.
    """
    with desk.store() as store:
        found = standing(desk, store, store.shipment(shipment))
        asked = next((each for each in found.reconciliation.questions if each.question_id == question_id), None)
        if asked is None:
            raise Conflict(
                "This question is settled already.", next_step="Go back to the shipment; it shows what was decided."
            )
        notes = [
            checked_note(desk, found, "read_assigned", by=by, read_id=read_id, carton=carton)
            for read_id in asked.read_ids
        ]
        for note in notes:
            store.add_note(shipment, note)
    return asked


def checked_note(desk: Desk, found: Standing, kind: str, *, by: str, note_id: str | None = None, **fields: Any) -> Note:
    """A note of this kind that fits the shipment, not stored. Raises BadRequest."""
    if kind not in NOTE_KINDS:
        raise BadRequest(
            f"There is no note of the kind {kind!r}.", next_step=f"Use one of {', '.join(sorted(NOTE_KINDS))}."
        )
    values = {"note_id": note_id or desk.new_id(), "noted_at": desk.now(), "by": by, **_given(fields)}
    note = _build(kind, values)
    _check_targets(note, found)
    return note


def _given(fields: dict[str, Any]) -> dict[str, Any]:
    """Fields that were filled in: an empty form field counts as not given, except where empty text has a meaning."""
    return {name: value for name, value in fields.items() if value is not None}


def _build(kind: str, values: dict[str, Any]) -> Note:
    too_long = next((name for name, value in values.items() if isinstance(value, str) and len(value) > MAX_TEXT), None)
    if too_long:
        raise BadRequest(
            f"The {too_long} has {len(values[too_long])} characters.", next_step=f"Use {MAX_TEXT} at most."
        )
    known = NOTE_KINDS[kind].__dataclass_fields__
    unknown = sorted(set(values) - set(known))
    if unknown:
        raise BadRequest(f"A {kind} note has no field {unknown[0]!r}.", next_step=f"It has {', '.join(known)}.")
    try:
        return msgspec.convert(values, NOTE_KINDS[kind], strict=False)
    except msgspec.ValidationError as fault:
        raise BadRequest(
            f"This note cannot be kept: {fault}.", next_step="Correct the value and send it again."
        ) from fault


def _check_targets(note: Note, found: Standing) -> None:
    carton = getattr(note, "carton", "")
    if carton and found.manifest.find(carton) is None:
        raise BadRequest(
            f"Carton {carton!r} is not on the manifest of shipment {found.manifest.shipment!r}.",
            next_step="Choose a carton from the shipment's page.",
        )
    read_id = getattr(note, "read_id", "")
    if read_id and all(read.read_id != read_id for read in found.reads):
        raise BadRequest(f"There is no read {read_id!r} in this shipment.", next_step="Reload the page and try again.")
    withdrawn = getattr(note, "withdrawn", "")
    if withdrawn and all(other.note_id != withdrawn for other in found.notes):
        raise BadRequest(f"There is no note {withdrawn!r} to undo.", next_step="Reload the page and try again.")
