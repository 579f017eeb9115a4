"""The staging plan: cart trips, bays, cautions, and what stays in the back room."""

from collections.abc import Mapping
from dataclasses import dataclass

from receiving.messages import Message, Text, joined, listing, message
from receiving.model import (
    CartonFinding,
    CartonMoved,
    Cautions,
    Note,
    Reconciliation,
    StagingChanged,
    StagingPlan,
    Trip,
    ranked_cautions,
)
from receiving.service import Planned, Progress, notes_in_force
from receiving.wording import bay_wave_words, term, trip_wave_words
from web.pages.lifting import Caution, caution_of
from web.pages.words import bays_words, weight_words
from web.units import weight


@dataclass(frozen=True)
class Staged:
    """A carton in a plan; ``moved`` when it was taken to its bay, with the note to undo that.

    ``pinned_notes`` put it where a person wants it; without them the plan decides. ``wish`` says what of that the
    plan does not keep.
    """

    carton: str
    kind: Text
    weight: Text
    bay: str
    moved: bool
    moved_note: str
    pinned_notes: tuple[str, ...]
    wish: Text = ""
    caution: Caution | None = None


@dataclass(frozen=True)
class TripCard:
    """One cart trip, cartons in loading order."""

    trip: int
    cartons: tuple[Staged, ...]
    load: Text
    stops: Text
    done: bool
    order: Text = ""


@dataclass(frozen=True)
class BayCard:
    """One bay and the cartons before it, in the order in which they are opened."""

    bay: str
    cartons: tuple[Staged, ...]
    wave: Text = ""


@dataclass(frozen=True)
class HeldLine:
    """A carton that stays in the back room, and why."""

    carton: str
    kind: Text
    why: Text
    caution: Caution | None = None


@dataclass(frozen=True)
class StagingPart:
    """The plan as the page shows it."""

    trips: tuple[TripCard, ...]
    bays: tuple[BayCard, ...]
    cautions: Cautions
    held: tuple[HeldLine, ...]
    has_layout: bool
    working: Text = ""


def loading_words(trip: Trip) -> Text:
    """Which carton is loaded first and which last, and what is lifted off for others on the way."""
    if trip.by_hand or not trip.cartons:
        return ""
    first, last, lifted = trip.cartons[0], trip.cartons[-1], listing(trip.lifted_off)
    text: list[Text] = []
    if len(trip.cartons) > 1:
        text.append(message("Load {first} first, at the bottom, {last} last.", first=first, last=last))
    if trip.lifted_off:
        text.append(message("Lift off {cartons} on the way: more comes out from under them.", cartons=lifted))
    return joined(*text) if text else ""


def working_words(planned: Planned) -> Text:
    """That the plan is being worked out, or why there is none; empty where it is there."""
    if planned.progress is Progress.WORKING:
        return message("The plan is being worked out; it shows here by itself.")
    return planned.fault


def staging_part(
    planned: Planned, reconciliation: Reconciliation, notes: tuple[Note, ...], *, has_layout: bool
) -> StagingPart:
    """The staging plan as cards; while it is worked out, only that it is."""
    plan = planned.plan
    if words := working_words(planned):
        return StagingPart((), (), Cautions(), (), has_layout, words)
    findings = {f.carton.carton: f for f in reconciliation.cartons}
    bays = {carton: staging.bay for staging in plan.bays for carton in staging.cartons}
    moved, pinned, wishes = moved_notes(notes), pinned_notes(notes), unkept_wishes(plan, notes)

    def staged(carton: str) -> Staged:
        return staged_card(findings[carton], bays.get(carton, ""), moved, pinned, wishes.get(carton, ""))

    return StagingPart(
        trips=tuple(
            TripCard(
                trip.trip,
                tuple(map(staged, trip.cartons)),
                weight(trip.load_kg, digits=0),
                bays_words(trip.stops),
                bool(trip.cartons) and all(carton in moved for carton in trip.cartons),
                joined(trip_wave_words(trip), loading_words(trip)),
            )
            for trip in plan.trips
        ),
        bays=tuple(BayCard(bay.bay, tuple(map(staged, bay.cartons)), bay_wave_words(bay)) for bay in plan.bays),
        cautions=ranked_cautions(plan.cautions),
        held=tuple(held_line(findings[held.carton], held.why) for held in plan.held),
        has_layout=has_layout,
    )


def held_line(finding: CartonFinding, why: Text) -> HeldLine:
    """A carton that stays in the back room."""
    return HeldLine(finding.carton.carton, term(finding.carton.kind), why, caution_of(finding))


def moved_notes(notes: tuple[Note, ...]) -> dict[str, str]:
    """The cartons that stand at a bay now, each with the id of the note that says so."""
    last = {note.carton: note for note in notes_in_force(notes) if isinstance(note, CartonMoved)}
    return {carton: note.note_id for carton, note in last.items() if note.bay}


def pinned_notes(notes: tuple[Note, ...]) -> dict[str, tuple[str, ...]]:
    """The cartons that a person moved in the plan, each with the ids of the notes that say so."""
    pinned: dict[str, tuple[str, ...]] = {}
    for note in notes_in_force(notes):
        if isinstance(note, StagingChanged):
            pinned[note.carton] = (*pinned.get(note.carton, ()), note.note_id)
    return pinned


def unkept_wishes(plan: StagingPlan, notes: tuple[Note, ...]) -> dict[str, Message]:
    """The cartons of the trips that ride on another trip than a person last chose, each in words."""
    wanted = {
        note.carton: note.trip for note in notes_in_force(notes) if isinstance(note, StagingChanged) and note.trip
    }
    riding = {carton: trip for trip in plan.trips for carton in trip.cartons}
    return {
        carton: _wish_words(number, riding[carton].by_hand)
        for carton, number in wanted.items()
        if carton in riding and riding[carton].trip != number
    }


def _wish_words(trip: int, by_hand: bool) -> Message:
    if by_hand:
        return message("Wanted on trip {trip}: it is carried by hand.", trip=trip)
    return message("Wanted on trip {trip}: that trip is driven already, full, or not needed.", trip=trip)


def staged_card(
    finding: CartonFinding,
    bay: str,
    moved: Mapping[str, str],
    pinned: Mapping[str, tuple[str, ...]],
    wish: Text = "",
) -> Staged:
    """A carton of a plan, with the notes that say that it stands at its bay, and that a person put it there."""
    carton = finding.carton
    return Staged(
        carton.carton,
        term(carton.kind),
        weight_words(carton),
        bay,
        carton.carton in moved,
        moved.get(carton.carton, ""),
        pinned.get(carton.carton, ()),
        wish,
        caution_of(finding),
    )
