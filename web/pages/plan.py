"""The staging plan drawn: decks of the cart, floors before the bays, order of work, lifts."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.model import (
    Bay,
    BayStaging,
    CartonFinding,
    Cautions,
    Layout,
    StagingChanged,
    StagingPlan,
    Trip,
    ranked_cautions,
)
from receiving.service import ShipmentView, notes_in_force
from receiving.wording import term
from web.pages.cartons import bays_by_carton
from web.pages.drawing import Drawing, draw
from web.pages.lifting import Lifting, lifting_part
from web.pages.notes import NoteLine, note_lines
from web.pages.section import SectionGrid, section_grids
from web.pages.staging import (
    HeldLine,
    Staged,
    held_line,
    loading_words,
    moved_notes,
    pinned_notes,
    staged_card,
    unkept_wishes,
    working_words,
)
from web.pages.tone import Tone
from web.pages.words import bays_words, cartons_words, counted, listed
from web.units import distance, weight


@dataclass(frozen=True)
class Drop:
    """What of a trip goes to one bay, to be marked there at once."""

    bay: str
    cartons: tuple[str, ...]
    words: str


@dataclass(frozen=True)
class PlanTrip:
    """One trip: what rides, where to, by whom.

    ``loose`` are the cartons that the next plan may put on another trip; where there are none, the notes ``kept_by``
    hold the trip together.
    """

    trip: int
    head: str
    words: str
    cartons: tuple[Staged, ...]
    deck: Drawing | None
    under_way: bool
    loose: tuple[str, ...]
    kept_by: tuple[str, ...]
    drops: tuple[Drop, ...]


@dataclass(frozen=True)
class PlanBay:
    """One bay: its floor drawn, and the cartons in the order in which they are opened.

    ``aisle`` says how much of the aisle stays free, or that nobody measured it; ``dug`` which cartons must be dug out;
    ``wave`` when they are brought, where that is later.
    """

    bay: str
    section: str
    cartons: tuple[Staged, ...]
    floor: Drawing | None
    aisle: str
    dug: str = ""
    wave: str = ""


@dataclass(frozen=True)
class StepLine:
    """One step of the work."""

    step: int
    words: str
    cartons: str
    tone: Tone
    state: str


@dataclass(frozen=True)
class PlanPage:
    """The whole plan on one page, to look at or to print."""

    template: ClassVar[str] = "plan.html"

    shipment: str
    store: str
    sentence: str
    trips: tuple[PlanTrip, ...]
    trip_numbers: tuple[int, ...]
    bays: tuple[PlanBay, ...]
    bay_names: tuple[str, ...]
    sections: tuple[SectionGrid, ...]
    steps: tuple[StepLine, ...]
    lifting: Lifting
    cautions: Cautions
    held: tuple[HeldLine, ...]
    assumptions: tuple[str, ...]
    changes: tuple[NoteLine, ...]
    has_layout: bool
    working: str

    title: ClassVar[str] = "Staging plan"


def plan_page(view: ShipmentView, now: datetime) -> PlanPage:
    """The staging plan as a page."""
    working, layout = working_words(view.planned), view.layout
    plan = StagingPlan() if working else view.plan
    findings = {f.carton.carton: f for f in view.reconciliation.cartons}
    bays = bays_by_carton(view.plan)
    own = {bay.bay: bay for bay in layout.bays} if layout else {}
    changed = [note for note in notes_in_force(view.notes) if isinstance(note, StagingChanged)]
    moved, pinned = moved_notes(view.notes), pinned_notes(view.notes)
    wishes = unkept_wishes(plan, view.notes)

    def staged(cartons: Sequence[str]) -> tuple[Staged, ...]:
        return tuple(
            staged_card(findings[each], bays.get(each, ""), moved, pinned, wishes.get(each, "")) for each in cartons
        )

    return PlanPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        sentence=working or _sentence(plan),
        trips=tuple(_trip(trip, staged(trip.cartons), layout) for trip in plan.trips),
        trip_numbers=_trip_numbers(plan),
        bays=tuple(_bay(bay, own.get(bay.bay), staged(bay.cartons)) for bay in plan.bays),
        bay_names=tuple(own),
        sections=section_grids(view.reconciliation, layout, bays),
        steps=_steps(plan),
        lifting=lifting_part(
            plan.lifting, {name: str(term(finding.carton.kind)) for name, finding in findings.items()}
        ),
        cautions=ranked_cautions(plan.cautions),
        held=tuple(held_line(findings[h.carton], h.why) for h in plan.held),
        assumptions=plan.assumptions,
        changes=note_lines(changed, view.notes, now),
        has_layout=layout is not None,
        working=working,
    )


def _kind(findings: Mapping[str, CartonFinding], carton: str) -> str:
    return str(term(findings[carton].carton.kind))


def _sentence(plan: StagingPlan) -> str:
    by_cart = sum(not trip.by_hand for trip in plan.trips)
    by_hand = len(plan.trips) - by_cart
    if not plan.trips:
        return "Nothing to carry yet."
    parts = (counted(by_cart, "cart trip") if by_cart else "", f"{by_hand} by hand" if by_hand else "")
    walk_m = sum(trip.walk_m for trip in plan.trips)
    walk = f", {distance(walk_m)} of walking" if walk_m else ""
    return " ".join((f"{listed(parts)}{walk}.", *_proofs(plan)))


def _proofs(plan: StagingPlan) -> Iterator[str]:
    """How good the plan is: cart trips, then stops at bays."""
    trips, stops = plan.bound, plan.stop_bound
    if trips.planned and trips.proven:
        yield "Fewer cart trips are not possible."
    elif trips.planned:
        yield f"At least {trips.at_least} are needed; whether {trips.planned} is the fewest is not proven."
    if stops.planned and stops.proven:
        yield f"They stop {counted(stops.planned, 'time')} at bays; fewer stops are not possible with so many trips."
    elif stops.planned:
        yield f"They stop {counted(stops.planned, 'time')} at bays; at least {stops.at_least} are needed."
    if not (trips.proven and stops.proven):
        yield f"Better ones were looked for during about {plan.search_s:g} s of computing."


def _trip_numbers(plan: StagingPlan) -> tuple[int, ...]:
    """The trips still to be loaded, and one more."""
    numbers = [trip.trip for trip in plan.trips if not trip.under_way]
    if not numbers and plan.trips:
        return (plan.trips[-1].trip + 1,)
    return tuple(range(min(numbers), max(numbers) + 2)) if numbers else (1,)


def _trip(trip: Trip, cartons: tuple[Staged, ...], layout: Layout | None) -> PlanTrip:
    to = f"To {bays_words(trip.stops)}." if trip.stops else ""
    fixed = trip.by_hand or trip.under_way
    how = f"By hand, {counted(trip.people, 'person', 'people')}." if trip.by_hand else loading_words(trip)
    walk = f" {distance(trip.walk_m)} there and back." if trip.walk_m else ""
    deck = None
    if layout and trip.stacks and not trip.by_hand:
        cart = layout.cart
        moved = {each.carton for each in cartons if each.moved}
        deck = draw("Cart from above", cart.deck_length_cm, cart.deck_width_cm, trip.stacks, moved, "deck")
    return PlanTrip(
        trip=trip.trip,
        head=weight(trip.load_kg, digits=0),
        words=" ".join(f"{trip.wave_words} {to} {how}{walk}".split()),
        cartons=cartons,
        deck=deck,
        under_way=trip.under_way,
        loose=tuple(each.carton for each in cartons if not fixed and (not each.pinned_notes or each.wish)),
        kept_by=() if fixed else tuple(note for each in cartons for note in each.pinned_notes),
        drops=_drops(cartons, trip.stops),
    )


def _drops(cartons: tuple[Staged, ...], stops: Sequence[str]) -> tuple[Drop, ...]:
    """The cartons that still ride, by bay in the order of the stops."""
    by_bay: dict[str, list[str]] = {stop: [] for stop in stops}
    for each in cartons:
        if each.bay and not each.moved:
            by_bay.setdefault(each.bay, []).append(each.carton)
    return tuple(Drop(bay, tuple(names), cartons_words(names)) for bay, names in by_bay.items() if names)


def _bay(staging: BayStaging, bay: Bay | None, cartons: tuple[Staged, ...]) -> PlanBay:
    floor = None
    if bay and staging.spots:
        moved = {each.carton for each in cartons if each.moved}
        depth_cm = staging.aisle.floor_depth_cm if staging.aisle else bay.staging_depth_cm
        floor = draw(f"Floor before bay {bay.bay}", bay.staging_length_cm, depth_cm, staging.spots, moved, "floor")
    dug = f"{cartons_words(staging.dug_out)} under one that is opened later." if staging.dug_out else ""
    if staging.restacked:
        late = cartons_words(staging.restacked)
        dug += f" {late[:1].upper()}{late[1:]} to be put under one of an earlier trip."
    section = bay.section if bay else ""
    return PlanBay(
        staging.bay, section, cartons, floor, staging.aisle_words, dug[:1].upper() + dug[1:], staging.wave_words
    )


def _steps(plan: StagingPlan) -> tuple[StepLine, ...]:
    return tuple(
        StepLine(
            step.step,
            step.words,
            cartons_words(step.cartons),
            Tone.HERE if step.can_start else Tone.MISSING,
            "can start" if step.can_start else f"waits for {listed(step.waits_for)}",
        )
        for step in plan.steps
    )
