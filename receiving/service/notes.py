"""What a person says beside the reads: damage, places, answers, undo.

A missing carton is declared short after it was looked for everywhere, or for a reason why it was not.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import msgspec

from receiving.errors import BadRequest, Conflict, words_of_error
from receiving.matching import NOT_SEARCHED, search_states
from receiving.messages import Text, joined, message, plural
from receiving.model import (
    EVERYTHING,
    NOTE_KINDS,
    CartonMoved,
    CartonState,
    DataScope,
    Note,
    Place,
    PlaceSearched,
    Question,
    ShipmentVoided,
    ShortDeclaration,
    ShortDeclared,
    VisitDecided,
)
from receiving.model.limits import OutsideLimits
from receiving.service.context import Context
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.staging import rode_along
from receiving.store import Store
from receiving.store.tables import no_shipment
from receiving.wording import term

MAX_TEXT = 2000
SEEN_AGAIN = "the same carton, seen again"
BY_LABEL = "its label on a photo, named by a person"

OF_USE_CASES = frozenset(("shipment_voided",))
"""Kinds of notes that a use case of their own stores."""

SET_HERE = frozenset(("note_id", "noted_at", "by", "action_id", "seq", "along", "cartons"))
"""What a note says that nobody may send: it follows from who notes it, when, what was on the cart, what was missing."""


def add_note(ctx: Context, shipment: str, kind: str, *, by: str, **fields: Any) -> Note:
    """Store one note of this kind. Raises BadRequest when a field is wrong, NotFound for an unknown shipment."""
    return add_notes(ctx, shipment, kind, [fields], by=by)[0]


def add_notes(
    ctx: Context, shipment: str, kind: str, several: Iterable[Mapping[str, Any]], *, by: str, action_id: str = ""
) -> tuple[Note, ...]:
    """Store the notes of one tap, all or none; each of ``several`` holds the fields of one note of this kind.

    They carry one action id, that of the tap where it notes more than these. Raises BadRequest when a field is wrong,
    NotFound for an unknown shipment.
    """
    if kind == "carton_moved":
        _have_a_plan(ctx, shipment)
    with ctx.transaction() as store:
        found, action_id = snapshot(ctx, store, store.shipment(shipment)), action_id or ctx.new_id()
        notes = tuple(_note(ctx, found, kind, fields, by=by, action_id=action_id) for fields in several)
        store.add_notes(shipment, notes)
    return notes


def resolve_region(ctx: Context, shipment: str, fields: Mapping[str, Any], carton: str, *, by: str) -> tuple[Note, ...]:
    """Say of a region that was not read which ``carton``'s label it is, which is then here; empty: it is not a label.

    Both are one tap, and are undone together. Raises as `add_notes`.
    """
    with ctx.transaction() as store:
        found, action_id = snapshot(ctx, store, store.shipment(shipment)), ctx.new_id()
        entries: list[tuple[str, Mapping[str, Any]]] = [("region_settled", {**fields, "carton": carton})]
        if carton:
            entries.append(("carton_seen", {"carton": carton, "reason": BY_LABEL}))
        notes = tuple(_note(ctx, found, kind, each, by=by, action_id=action_id) for kind, each in entries)
        store.add_notes(shipment, notes)
    return notes


def _note(ctx: Context, found: Snapshot, kind: str, fields: Mapping[str, Any], *, by: str, action_id: str) -> Note:
    note = replace(checked_note(ctx, found, kind, fields, by=by), action_id=action_id)
    if isinstance(note, CartonMoved) and note.trip:
        planned = ctx.planner.last(found.plan_inputs.shipment)
        return replace(note, along=rode_along(note, found.notes, planned or ctx.planner.wait(found.plan_inputs)))
    if isinstance(note, VisitDecided) and note.go:
        return replace(note, cartons=_known_missing(found))
    return note


def _have_a_plan(ctx: Context, shipment: str) -> None:
    """What rode along follows from the plan that was shown last: make one before the store is locked, if none was."""
    with ctx.store() as store:
        inputs = snapshot(ctx, store, store.shipment(shipment)).plan_inputs
    if ctx.planner.last(inputs.shipment) is None:
        ctx.planner.wait(inputs)


def decide_visits(
    ctx: Context,
    shipments: Iterable[str],
    *,
    go: bool,
    until: date | None = None,
    remark: str = "",
    by: str,
    scope: DataScope = EVERYTHING,
) -> int:
    """Note one decision on the visits of several shipments, all or none; gives how many.

    Raises BadRequest where none is chosen, NotFound for one that is unknown or, not within ``scope``.
    """
    chosen = tuple(dict.fromkeys(shipments))
    if not chosen:
        raise BadRequest(
            message("No shipment was chosen."),
            next_step=message("Tick the shipments that it is about, then send it again."),
        )
    fields = {"go": go, "until": until, "remark": remark}
    with ctx.transaction() as store:
        action_id = ctx.new_id()
        for shipment in chosen:
            record = store.shipment(shipment)
            if not scope.sees(record.store, record.programme):
                raise no_shipment(shipment)
            found = snapshot(ctx, store, record)
            store.add_notes(shipment, [_note(ctx, found, "visit_decided", fields, by=by, action_id=action_id)])
    return len(chosen)


def _known_missing(found: Snapshot) -> tuple[str, ...]:
    """What is known not to be here; while nobody has looked, nothing is known."""
    short = found.reconciliation.short if found.reads or found.reconciliation.received else ()
    return tuple(finding.carton.carton for finding in short)


def answer_question(
    ctx: Context, shipment: str, question_id: str, carton: str, *, by: str, again: bool = False
) -> Question:
    """Say which carton the label of a question is (empty: none of this shipment); gives the question that was asked.

    ``again``: the label is on a carton that is here already, whichever; its reads are then left out. Every read of the
    question is answered, since they are codes of one label. Raises Conflict when it is settled
    already, BadRequest when the carton is not on the manifest, NotFound for an unknown shipment.
    """
    with ctx.transaction() as store:
        found, action_id = snapshot(ctx, store, store.shipment(shipment)), ctx.new_id()
        asked = next((each for each in found.reconciliation.questions if each.question_id == question_id), None)
        if asked is None:
            raise Conflict(
                message("This question is answered already."),
                next_step=message("Go back to the shipment; it shows what was decided."),
            )
        kind, answer = ("read_rejected", {"reason": SEEN_AGAIN}) if again else ("read_assigned", {"carton": carton})
        store.add_notes(
            shipment,
            [
                _note(ctx, found, kind, {"read_id": read_id, **answer}, by=by, action_id=action_id)
                for read_id in asked.read_ids
            ],
        )
    return asked


def checked_note(ctx: Context, found: Snapshot, kind: str, fields: Mapping[str, Any], *, by: str) -> Note:
    """A note of this kind that fits the shipment, not stored. Raises BadRequest."""
    if kind not in NOTE_KINDS or kind in OF_USE_CASES:
        known = sorted(set(NOTE_KINDS) - OF_USE_CASES)
        raise BadRequest(
            message("There is no note of the kind {kind}.", kind=repr(kind)),
            next_step=message("Use one of {kinds}.", kinds=", ".join(known)),
        )
    given = _given(fields)
    _check_names(kind, given)
    note = _build(kind, {**given, "note_id": ctx.new_id(), "noted_at": ctx.now(), "by": by})
    _check_targets(note, found)
    return note


def _given(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Fields that were filled in: an empty form field counts as not given, except where empty text has a meaning."""
    return {name: value for name, value in fields.items() if value is not None}


def _check_names(kind: str, given: Mapping[str, Any]) -> None:
    known = [name for name in NOTE_KINDS[kind].__dataclass_fields__ if name not in SET_HERE]
    unknown = sorted(set(given) - set(known))
    if unknown:
        raise BadRequest(
            message("A {kind} note has no field {unknown}.", kind=kind, unknown=repr(unknown[0][:40])),
            next_step=message("It has {fields}.", fields=", ".join(known)),
        )


def _build(kind: str, values: dict[str, Any]) -> Note:
    too_long = next((name for name, value in values.items() if isinstance(value, str) and len(value) > MAX_TEXT), None)
    if too_long:
        raise BadRequest(
            message("The {field} has {number} characters.", field=too_long, number=len(values[too_long])),
            next_step=message("Use {limit} at most.", limit=MAX_TEXT),
            field=too_long,
        )
    refuse_hidden_characters({name: value for name, value in values.items() if isinstance(value, str)})
    try:
        return msgspec.convert(values, NOTE_KINDS[kind], strict=False)
    except msgspec.ValidationError as fault:
        stated, field = _what_is_wrong(fault)
        raise BadRequest(
            message("This note cannot be kept: {fault}.", fault=stated),
            next_step=message("Correct the value and send it again."),
            field=field,
        ) from fault


def _what_is_wrong(fault: msgspec.ValidationError) -> tuple[Text, str]:
    """What a note's own values say that is wrong, and of which field; else what msgspec says, whose path names it."""
    cause = fault.__cause__
    if isinstance(cause, ValueError):
        return words_of_error(cause), cause.field if isinstance(cause, OutsideLimits) else ""
    expected, at, path = str(fault).rpartition(" - at `$.")
    field = path.rstrip("`")
    if not at:
        return str(fault), ""
    return message("the value of {field} does not fit ({fault})", field=field, fault=expected), field


def _check_search(note: PlaceSearched | ShortDeclared, found: Snapshot) -> None:
    """A carton is looked for while it is missing, and declared short after the search or for a reason."""
    if all(finding.carton.carton != note.carton for finding in found.reconciliation.in_state(CartonState.SHORT)):
        raise BadRequest(
            message("Carton {carton} is not missing.", carton=note.carton),
            next_step=message("Reload the page; it shows what it is."),
        )
    left = search_states(found.notes).get(note.carton, NOT_SEARCHED).left
    if isinstance(note, ShortDeclared) and left and not note.reason.strip():
        raise BadRequest(
            message(
                "Carton {carton} was not looked for everywhere: {places}.",
                carton=note.carton,
                places=joined(*map(term, left), separator=", "),
            ),
            next_step=message("Look there first, or give the reason why it is declared short without."),
            field="reason",
        )


def _check_targets(note: Note, found: Snapshot) -> None:
    carton = getattr(note, "carton", "")
    if carton and found.manifest.find(carton) is None:
        raise BadRequest(
            message(
                "Carton {carton} is not on the manifest of shipment {shipment}.",
                carton=repr(carton),
                shipment=repr(found.manifest.shipment),
            ),
            next_step=message("Choose a carton from the shipment's page."),
        )
    if isinstance(note, PlaceSearched | ShortDeclared):
        _check_search(note, found)
    photo = getattr(note, "photo", "")
    if photo and all(other.photo != photo for other in found.photos):
        raise BadRequest(
            message("This shipment has no photo {photo}.", photo=repr(photo[:12])),
            next_step=message("Send the photo first."),
        )
    read_id = getattr(note, "read_id", "")
    if read_id and all(read.read_id != read_id for read in found.reads):
        raise BadRequest(
            message("There is no read {read_id} in this shipment.", read_id=repr(read_id)),
            next_step=message("Reload the page and try again."),
        )
    withdrawn = getattr(note, "withdrawn", "")
    if withdrawn and any(isinstance(n, ShipmentVoided) and n.note_id == withdrawn for n in found.notes):
        raise BadRequest(
            message("A voided shipment is not brought back by an undo."),
            next_step=message("Restore the shipment instead."),
        )
    if withdrawn and all(other.note_id != withdrawn for other in found.notes):
        raise BadRequest(
            message("There is no note {withdrawn} to undo.", withdrawn=repr(withdrawn)),
            next_step=message("Reload the page and try again."),
        )


MOST_NAMED = 12
"""Cartons that a message names; the page lists them all."""


@dataclass(frozen=True)
class MissingAnswer:
    """What is said at once of the missing cartons that nobody declared short.

    ``searched``: they were looked for in every place listed; ``reason``: why they were not; ``reasons``: by carton,
    where one has a reason of its own.
    """

    searched: bool = False
    reason: str = ""
    reasons: Mapping[str, str] = field(default_factory=dict)


NO_ANSWER = MissingAnswer()


def list_undeclared(found: Snapshot) -> tuple[str, ...]:
    """The missing cartons that nobody declared short, in the order of the manifest."""
    states = search_states(found.notes)
    short = found.reconciliation.in_state(CartonState.SHORT)
    return tuple(f.carton.carton for f in short if not states.get(f.carton.carton, NOT_SEARCHED).declared)


def declarations(found: Snapshot) -> dict[str, ShortDeclaration]:
    """By carton: who declared it short, when, why, and where it was looked for."""
    return {
        carton: ShortDeclaration(
            by=state.declared.by,
            at=state.declared.noted_at,
            reason=state.declared.reason,
            searched=tuple(place for place in Place if place in state.searched),
        )
        for carton, state in search_states(found.notes).items()
        if state.declared
    }


def declare_missing(ctx: Context, store: Store, found: Snapshot, stated: MissingAnswer, *, by: str) -> tuple[Note, ...]:
    """Declare short every missing carton that nobody did yet; call it in a transaction. Gives the notes it stored.

    Raises BadRequest, which names them, where cartons are left of which nothing is said.
    """
    left, states = list_undeclared(found), search_states(found.notes)
    searches = {carton: states.get(carton, NOT_SEARCHED).left for carton in left}
    _check(stated, [carton for carton, places in searches.items() if places])
    notes = tuple(note for carton, places in searches.items() for note in _notes(ctx, stated, carton, places, by))
    action_id = ctx.new_id()
    stored = tuple(replace(note, action_id=action_id) for note in notes)
    store.add_notes(found.record.shipment, stored)
    return stored


def search_place(ctx: Context, shipment: str, place: Place, cartons: Sequence[str], *, by: str) -> tuple[Note, ...]:
    """Note that these cartons were looked for in one place and are not there; one that was found since is left out.

    Raises BadRequest where none of them is missing, NotFound for an unknown shipment.
    """
    with ctx.transaction() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
        short = {f.carton.carton for f in found.reconciliation.in_state(CartonState.SHORT)}
        missing = [carton for carton in dict.fromkeys(cartons) if carton in short]
        if not missing:
            raise BadRequest(
                message("None of these cartons is missing."),
                next_step=message("Reload the page; it shows what each of them is."),
            )
        fields = [{"carton": carton, "place": place} for carton in missing]
        return add_notes(ctx, shipment, "place_searched", fields, by=by)


def _check(stated: MissingAnswer, not_searched: Sequence[str]) -> None:
    for reason in (stated.reason, *stated.reasons.values()):
        if len(reason) > MAX_TEXT:
            raise BadRequest(
                message("The reason has {number} characters.", number=len(reason)),
                next_step=message("Use {limit} at most.", limit=MAX_TEXT),
            )
    open_ones = [carton for carton in not_searched if not stated.reasons.get(carton)]
    if open_ones and not stated.searched and not stated.reason:
        raise BadRequest(
            _not_declared(open_ones),
            next_step=message("Say that they were looked for everywhere, or why not.")
            if len(open_ones) > 1
            else message("Say that it was looked for everywhere, or why not."),
            field="short",
        )


def _not_declared(cartons: Sequence[str]) -> Text:
    named, more = ", ".join(cartons[:MOST_NAMED]), len(cartons) - MOST_NAMED
    if more > 0:
        return plural(
            more,
            "Cartons {cartons} and {number} more are missing and not declared short.",
            "Cartons {cartons} and {number} more are missing and not declared short.",
            cartons=named,
        )
    return plural(
        len(cartons),
        "Carton {cartons} is missing and not declared short.",
        "Cartons {cartons} are missing and not declared short.",
        cartons=named,
    )


def _notes(ctx: Context, stated: MissingAnswer, carton: str, left: Sequence[Place], by: str) -> Iterator[Note]:
    """The search of the places that were left, where all were searched, and the declaration."""
    now, own = ctx.now(), stated.reasons.get(carton, "")
    if not own and stated.searched:
        for place in left:
            yield PlaceSearched(ctx.new_id(), now, by, carton, place)
    reason = own or ("" if stated.searched or not left else stated.reason)
    yield ShortDeclared(ctx.new_id(), now, by, carton, reason)
