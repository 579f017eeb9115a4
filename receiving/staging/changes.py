"""What a person's change of the plan costs: the plan with it against the plan without."""

import re
from collections.abc import Iterable, Iterator

from receiving.model import (
    Caution,
    ChangeCost,
    Layout,
    Manifest,
    Note,
    Reconciliation,
    StagingChanged,
    StagingPlan,
    Units,
    shown_distance,
)
from receiving.staging.planner import plan_staging


def plan_change_cost(
    manifest: Manifest,
    reconciliation: Reconciliation,
    layout: Layout | None,
    notes: Iterable[Note],
    change: StagingChanged,
    *,
    time_limit_s: float = 1.0,
) -> ChangeCost:
    """Trips, stops and metres that ``change`` adds (negative: saves), and the cautions that it brings; pure.

    The plan is made twice, without and with the change; nothing is stored.
    """
    noted = tuple(notes)
    before = plan_staging(manifest, reconciliation, layout, noted, time_limit_s=time_limit_s)
    after = plan_staging(manifest, reconciliation, layout, (*noted, change), time_limit_s=time_limit_s)
    return cost_between(before, after, change)


def cost_between(before: StagingPlan, after: StagingPlan, change: StagingChanged) -> ChangeCost:
    """The difference of two plans, and what of the change the second one does not keep."""
    trips = len(after.trips) - len(before.trips)
    stops = _stops(after) - _stops(before)
    walk_m = round(sum(t.walk_m for t in after.trips) - sum(t.walk_m for t in before.trips), 1)
    known = {_but_for_names(caution.text) for caution in before.cautions}
    brought = tuple(caution for caution in after.cautions if _but_for_names(caution.text) not in known)
    held = {h.carton for h in after.held} - {h.carton for h in before.held}
    parts = [_counted(trips, "trip"), _counted(stops, "stop"), _walking(walk_m)]
    parts += [f"carton {carton} stays in the back room" for carton in sorted(held)]
    parts += [f"carton {carton} to bay {bay}" for carton, bay in _pushed(before, after) if carton != change.carton]
    brought = (*(Caution(text, change.carton) for text in _not_kept(after, change)), *brought)
    return ChangeCost(trips, stops, walk_m, _sentence([part for part in parts if part]), brought)


def _not_kept(after: StagingPlan, change: StagingChanged) -> Iterator[str]:
    """In words, where the carton goes another way than was asked for."""
    name = change.carton
    trip = next((trip for trip in after.trips if name in trip.cartons), None)
    if change.trip and trip is None:
        yield f"Carton {name} is on no trip: it is not here, stands at a bay already, or stays in the back room."
    elif change.trip and trip and trip.trip != change.trip:
        how = "is carried by hand, on" if trip.by_hand else "rides on"
        yield f"Carton {name} {how} trip {trip.trip} all the same, not on trip {change.trip}."


def _stops(plan: StagingPlan) -> int:
    return sum(len(trip.stops) for trip in plan.trips)


def _walking(walk_m: float) -> str:
    if not walk_m:
        return ""
    feet = shown_distance(abs(walk_m), Units.US)
    return f"{walk_m:+g} m ({feet}) of walking"


def _counted(number: int, what: str) -> str:
    return f"{number:+d} {what}{'' if abs(number) == 1 else 's'}" if number else ""


def _sentence(parts: list[str]) -> str:
    if not parts:
        return "This change costs nothing."
    if all(part.startswith("-") for part in parts):
        return f"This change saves: {', '.join(part.lstrip('-') for part in parts)}."
    return f"This change costs: {', '.join(parts)}."


def _pushed(before: StagingPlan, after: StagingPlan) -> list[tuple[str, str]]:
    """The cartons that stand at another bay, which the floor there has no room for any more."""
    placed = {carton: staging.bay for staging in before.bays for carton in staging.cartons}
    stands = {carton: staging.bay for staging in after.bays for carton in staging.cartons}
    return sorted((carton, bay) for carton, bay in stands.items() if placed.get(carton, bay) != bay)


def _but_for_names(text: str) -> str:
    """A caution without its figures and cartons: a limit or a list that changes a little is no new caution."""
    figures = re.sub(r"[^\s,:()]*\d[^\s,:()]*", "#", text)
    return re.sub(r"(?:All # cartons|# of # cartons)(?: \([^)]*\))?|Cartons? #(?:, #)*", "Carton #", figures)
