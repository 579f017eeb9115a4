"""The staging plan: cart trips, bays, cautions, and what stays in the back room."""

from collections.abc import Mapping
from dataclasses import dataclass

from receiving.model import CartonFinding, CartonMoved, Note, Reconciliation, StagingPlan
from web.pages.notes import standing_notes
from web.pages.words import listed, weight_words


@dataclass(frozen=True)
class Staged:
    """A carton in a plan; ``moved`` when it was taken to its bay, with the note to undo that."""

    carton: str
    kind: str
    weight: str
    bay: str
    moved: bool
    moved_note: str


@dataclass(frozen=True)
class TripCard:
    """One cart trip, cartons in loading order."""

    trip: int
    cartons: tuple[Staged, ...]
    load: str
    stops: str
    done: bool


@dataclass(frozen=True)
class BayCard:
    """One bay and the cartons before it, in the order in which they are opened."""

    bay: str
    cartons: tuple[Staged, ...]


@dataclass(frozen=True)
class HeldLine:
    """A carton that stays in the back room, and why."""

    carton: str
    kind: str
    why: str


@dataclass(frozen=True)
class StagingPart:
    """The plan as the page shows it."""

    trips: tuple[TripCard, ...]
    bays: tuple[BayCard, ...]
    cautions: tuple[str, ...]
    held: tuple[HeldLine, ...]
    has_layout: bool


def staging_part(
    plan: StagingPlan, reconciliation: Reconciliation, notes: tuple[Note, ...], *, has_layout: bool
) -> StagingPart:
    """The staging plan as cards."""
    findings = {f.carton.carton: f for f in reconciliation.cartons}
    bays = {carton: staging.bay for staging in plan.bays for carton in staging.cartons}
    moved = moved_notes(notes)

    def staged(carton: str) -> Staged:
        return _staged(findings[carton], bays.get(carton, ""), moved)

    return StagingPart(
        trips=tuple(
            TripCard(
                trip.trip,
                tuple(map(staged, trip.cartons)),
                f"{trip.load_kg:.0f} kg",
                listed(trip.stops),
                bool(trip.cartons) and all(carton in moved for carton in trip.cartons),
            )
            for trip in plan.trips
        ),
        bays=tuple(BayCard(bay.bay, tuple(map(staged, bay.cartons))) for bay in plan.bays),
        cautions=tuple(caution.text for caution in plan.cautions),
        held=tuple(HeldLine(held.carton, findings[held.carton].carton.kind.words, held.why) for held in plan.held),
        has_layout=has_layout,
    )


def moved_notes(notes: tuple[Note, ...]) -> dict[str, str]:
    """The cartons that stand at a bay now, each with the id of the note that says so."""
    last = {note.carton: note for note in standing_notes(notes) if isinstance(note, CartonMoved)}
    return {carton: note.note_id for carton, note in last.items() if note.bay}


def staged_card(finding: CartonFinding, bay: str, notes: tuple[Note, ...]) -> Staged:
    """A carton of a plan, with the note that says that it stands at its bay."""
    return _staged(finding, bay, moved_notes(notes))


def _staged(finding: CartonFinding, bay: str, moved: Mapping[str, str]) -> Staged:
    carton = finding.carton
    return Staged(
        carton.carton,
        carton.kind.words,
        weight_words(carton),
        bay,
        carton.carton in moved,
        moved.get(carton.carton, ""),
    )
