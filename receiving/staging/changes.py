"""What a person's change of the plan costs: the plan with it against the plan without."""

import re
from collections.abc import Iterable, Iterator, Sequence

from receiving.messages import Text, joined, message, plural
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
)
from receiving.model.measures import distance_words
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
    known = {_but_for_names(str(caution.text)) for caution in before.cautions}
    brought = tuple(caution for caution in after.cautions if _but_for_names(str(caution.text)) not in known)
    held = {h.carton for h in after.held} - {h.carton for h in before.held}
    moved = [(carton, bay) for carton, bay in _pushed(before, after) if carton != change.carton]
    more: list[Text] = [message("carton {carton} stays in the back room", carton=carton) for carton in sorted(held)]
    more += [message("carton {carton} to bay {bay}", carton=carton, bay=bay) for carton, bay in moved]
    brought = (*(Caution(text, change.carton) for text in _unmet(after, change)), *brought)
    return ChangeCost(trips, stops, walk_m, _sentence((trips, stops, walk_m), more), brought)


def _unmet(after: StagingPlan, change: StagingChanged) -> Iterator[Text]:
    """In words, where the carton goes another way than was asked for."""
    name = change.carton
    trip = next((trip for trip in after.trips if name in trip.cartons), None)
    if change.trip and trip is None:
        yield message(
            "Carton {carton} is on no trip: it is not here, stands at a bay already, or stays in the back room.",
            carton=name,
        )
    elif change.trip and trip and trip.trip != change.trip:
        values = {"carton": name, "trip": trip.trip, "wanted": change.trip}
        if trip.by_hand:
            yield message(
                "Carton {carton} is carried by hand, on trip {trip} all the same, not on trip {wanted}.", **values
            )
        else:
            yield message("Carton {carton} rides on trip {trip} all the same, not on trip {wanted}.", **values)


def _stops(plan: StagingPlan) -> int:
    return sum(len(trip.stops) for trip in plan.trips)


def _sentence(counts: tuple[int, int, float], more: Sequence[Text]) -> Text:
    """What a change costs in trips, stops and metres of walking, and what it does besides."""
    trips, stops, walk_m = counts
    if not any(counts) and not more:
        return message("This change costs nothing.")
    if not more and max(counts) <= 0:
        return message("This change saves: {parts}.", parts=_parts(abs(trips), abs(stops), abs(walk_m), sign="-"))
    return message("This change costs: {parts}.", parts=joined(_parts(trips, stops, walk_m), *more, separator=", "))


def _parts(trips: int, stops: int, walk_m: float, sign: str = "+") -> Text:
    found: list[Text] = []
    if trips:
        found.append(plural(abs(trips), "{change} trip", "{change} trips", change=_signed(f"{trips:{sign}d}")))
    if stops:
        found.append(plural(abs(stops), "{change} stop", "{change} stops", change=_signed(f"{stops:{sign}d}")))
    if walk_m:
        feet = distance_words(abs(walk_m), Units.US)
        signed = joined(_signed(f"{walk_m:{sign}g}"[:1].strip("0123456789")), abs(walk_m), separator="")
        found.append(message("{change} m ({feet}) of walking", change=signed, feet=feet))
    return joined(*found, separator=", ")


def _signed(number: str) -> str:
    return number.replace("-", "\N{MINUS SIGN}")


def _pushed(before: StagingPlan, after: StagingPlan) -> list[tuple[str, str]]:
    """The cartons that stand at another bay, which the floor there has no room for any more."""
    placed = {carton: staging.bay for staging in before.bays for carton in staging.cartons}
    stands = {carton: staging.bay for staging in after.bays for carton in staging.cartons}
    return sorted((carton, bay) for carton, bay in stands.items() if placed.get(carton, bay) != bay)


def _but_for_names(text: str) -> str:
    """A caution without its figures and cartons: a limit or a list that changes a little is not a new caution."""
    figures = re.sub(r"[^\s,:()]*\d[^\s,:()]*", "#", text)
    return re.sub(r"(?:All # cartons|# of # cartons)(?: \([^)]*\))?|Cartons? #(?:, #)*", "Carton #", figures)
