"""A missing carton is declared short: after it was looked for everywhere, or for a reason why it was not."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from receiving.errors import BadRequest
from receiving.matching import NOT_SEARCHED, search_states
from receiving.messages import Text, message, plural
from receiving.model import CartonState, Note, Place, PlaceSearched, ShortDeclaration, ShortDeclared
from receiving.service.context import Context
from receiving.service.notes import MAX_TEXT, add_notes
from receiving.service.snapshot import Snapshot, snapshot
from receiving.store import Store

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


def undeclared(found: Snapshot) -> tuple[str, ...]:
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
    left, states = undeclared(found), search_states(found.notes)
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
