"""The staging plan drawn: decks of the cart, floors before the bays, order of work, lifts; what a change would cost."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, joined, listing, message, opening, plural
from receiving.model import (
    Bay,
    BayStaging,
    Cautions,
    ChangeCost,
    Layout,
    StagingChanged,
    StagingPlan,
    Trip,
    ranked_cautions,
)
from receiving.service import PlanChange, ShipmentView, notes_in_force
from receiving.wording import aisle_words, bay_wave_words, cartons_words, term, trip_wave_words
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
from web.pages.words import bays_words
from web.units import distance, weight


@dataclass(frozen=True)
class Drop:
    """What of a trip goes to one bay, to be marked there at once."""

    bay: str
    cartons: tuple[str, ...]
    words: Text


@dataclass(frozen=True)
class PlanTrip:
    """One trip: what rides, where to, by whom.

    ``loose`` are the cartons that the next plan may put on another trip; where there are none, the notes ``kept_by``
    hold the trip together.
    """

    trip: int
    head: Text
    words: Text
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
    aisle: Text
    dug: Text = ""
    wave: Text = ""


@dataclass(frozen=True)
class StepLine:
    """One step of the work."""

    step: int
    words: Text
    cartons: Text
    tone: Tone
    state: Text


@dataclass(frozen=True)
class PlanPage:
    """The whole plan on one page, to look at or to print."""

    template: ClassVar[str] = "plan.html"

    shipment: str
    store: str
    sentence: Text
    trips: tuple[PlanTrip, ...]
    trip_numbers: tuple[int, ...]
    bays: tuple[PlanBay, ...]
    bay_names: tuple[str, ...]
    sections: tuple[SectionGrid, ...]
    steps: tuple[StepLine, ...]
    lifting: Lifting
    cautions: Cautions
    held: tuple[HeldLine, ...]
    assumptions: tuple[Text, ...]
    changes: tuple[NoteLine, ...]
    has_layout: bool
    working: Text

    title: ClassVar[Text] = message("Staging plan")


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
        sentence=working or _plan_words(plan),
        trips=tuple(_trip(trip, staged(trip.cartons), layout) for trip in plan.trips),
        trip_numbers=_trip_numbers(plan),
        bays=tuple(_bay(bay, own.get(bay.bay), staged(bay.cartons)) for bay in plan.bays),
        bay_names=tuple(own),
        sections=section_grids(view.reconciliation, layout, bays),
        steps=_steps(plan),
        lifting=lifting_part(plan.lifting, {name: term(finding.carton.kind) for name, finding in findings.items()}),
        cautions=ranked_cautions(plan.cautions),
        held=tuple(held_line(findings[h.carton], h.why) for h in plan.held),
        assumptions=plan.assumptions,
        changes=note_lines(changed, view.notes, now),
        has_layout=layout is not None,
        working=working,
    )


def _plan_words(plan: StagingPlan) -> Text:
    by_cart = sum(not trip.by_hand for trip in plan.trips)
    by_hand = len(plan.trips) - by_cart
    if not plan.trips:
        return message("Nothing to carry yet.")
    trips = listing(
        (
            *((plural(by_cart, "{number} cart trip", "{number} cart trips"),) if by_cart else ()),
            *((plural(by_hand, "{number} by hand", "{number} by hand"),) if by_hand else ()),
        )
    )
    walk_m = sum(trip.walk_m for trip in plan.trips)
    walking = message("{trips}, {distance} of walking.", trips=trips, distance=distance(walk_m))
    return joined(walking if walk_m else message("{trips}.", trips=trips), *_proofs(plan))


def _proofs(plan: StagingPlan) -> Iterator[Message]:
    """How good the plan is: cart trips, then stops at bays."""
    trips, stops = plan.bound, plan.stop_bound
    if trips.planned and trips.proven:
        yield message("Fewer cart trips are not possible.")
    elif trips.planned:
        yield message(
            "At least {least} are needed; whether {planned} is the fewest is not proven.",
            least=trips.at_least,
            planned=trips.planned,
        )
    if stops.planned and stops.proven:
        yield plural(
            stops.planned,
            "They stop {number} time at bays; fewer stops are not possible with this many trips.",
            "They stop {number} times at bays; fewer stops are not possible with this many trips.",
        )
    elif stops.planned:
        yield plural(
            stops.planned,
            "They stop {number} time at bays; at least {least} are needed.",
            "They stop {number} times at bays; at least {least} are needed.",
            least=stops.at_least,
        )
    if not (trips.proven and stops.proven):
        yield message("The search for better ones took about {seconds} s of computing.", seconds=float(plan.search_s))


def _trip_numbers(plan: StagingPlan) -> tuple[int, ...]:
    """The trips still to be loaded, and one more."""
    numbers = [trip.trip for trip in plan.trips if not trip.under_way]
    if not numbers and plan.trips:
        return (plan.trips[-1].trip + 1,)
    return tuple(range(min(numbers), max(numbers) + 2)) if numbers else (1,)


def _trip(trip: Trip, cartons: tuple[Staged, ...], layout: Layout | None) -> PlanTrip:
    to = message("To {bays}.", bays=bays_words(trip.stops)) if trip.stops else ""
    fixed = trip.by_hand or trip.under_way
    by_hand = plural(trip.people, "By hand, {number} person.", "By hand, {number} people.")
    how = by_hand if trip.by_hand else loading_words(trip)
    walk = message("{distance} there and back.", distance=distance(trip.walk_m)) if trip.walk_m else ""
    deck = None
    if layout and trip.stacks and not trip.by_hand:
        cart = layout.cart
        moved = {each.carton for each in cartons if each.moved}
        name, lowest = message("Cart from above"), message("layer 1, on the deck")
        deck = draw(name, cart.deck_length_cm, cart.deck_width_cm, trip.stacks, moved, lowest)
    return PlanTrip(
        trip=trip.trip,
        head=weight(trip.load_kg, digits=0),
        words=joined(trip_wave_words(trip), to, how, walk),
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
        name, lowest = message("Floor in front of bay {bay}", bay=bay.bay), message("layer 1, on the floor")
        floor = draw(name, bay.staging_length_cm, depth_cm, staging.spots, moved, lowest)
    section = bay.section if bay else ""
    return PlanBay(staging.bay, section, cartons, floor, aisle_words(staging), _dug(staging), bay_wave_words(staging))


def _dug(staging: BayStaging) -> Text:
    """Which cartons stand under others that are in the way; empty where none does."""
    text = []
    if staging.dug_out:
        under = opening(cartons_words(staging.dug_out))
        text.append(message("{cartons} under one that is opened later.", cartons=under))
    if staging.restacked:
        late = opening(cartons_words(staging.restacked))
        text.append(message("{cartons} to be put under one of an earlier trip.", cartons=late))
    return joined(*text) if text else ""


def _steps(plan: StagingPlan) -> tuple[StepLine, ...]:
    return tuple(
        StepLine(
            step.step,
            step.words,
            cartons_words(step.cartons) if step.cartons else "",
            Tone.HERE if step.can_start else Tone.MISSING,
            message("can start") if step.can_start else message("waits for {items}", items=listing(step.waits_for)),
        )
        for step in plan.steps
    )


@dataclass(frozen=True)
class PlanChangePage:
    """What a change would cost, with the choice to keep it."""

    template: ClassVar[str] = "plan_change.html"

    shipment: str
    store: str
    carton: str
    trip: str
    bay: str
    sentence: Text
    tone: Tone
    word: Text
    cost: Text
    cautions: tuple[Text, ...]

    title: ClassVar[Text] = message("Change of the plan")


@dataclass(frozen=True)
class PlanChangePart(PlanChangePage):
    """The same as a part of the plan's page."""

    template: ClassVar[str] = "_plan_change.html"


def change_page(change: PlanChange) -> PlanChangePage:
    """The cost of a change as a page."""
    cost = change.cost
    tone, word = _verdict(cost)
    return PlanChangePage(
        shipment=change.manifest.shipment,
        store=change.manifest.store,
        carton=change.carton,
        trip=change.trip,
        bay=change.bay,
        sentence=_change_words(change),
        tone=tone,
        word=word,
        cost=cost.words,
        cautions=tuple(caution.text for caution in cost.cautions),
    )


def change_part(page: PlanChangePage) -> PlanChangePart:
    """The same change, to be shown in the plan's page."""
    return PlanChangePart(**{each.name: getattr(page, each.name) for each in fields(page)})


def _change_words(change: PlanChange) -> Message:
    known = change.manifest.find(change.carton)
    carton: Text = message("{carton} ({kind})", carton=change.carton, kind=term(known.kind)) if known else change.carton
    trip, bay = change.trip, change.bay
    if trip and bay:
        return message(
            "Carton {carton} rides on trip {trip} and stands at bay {bay}.", carton=carton, trip=trip, bay=bay
        )
    if trip:
        return message("Carton {carton} rides on trip {trip}.", carton=carton, trip=trip)
    return message("Carton {carton} stands at bay {bay}.", carton=carton, bay=bay)


def _verdict(cost: ChangeCost) -> tuple[Tone, Message]:
    if cost.cautions:
        return Tone.DAMAGED, message("Take care")
    if max(cost.trips, cost.stops, cost.walk_m) > 0:
        return Tone.QUESTION, message("More work")
    less = min(cost.trips, cost.stops, cost.walk_m) < 0
    return Tone.HERE, message("Less work") if less else message("No more work")
