"""Checks a staging plan's loads against the rules of loading, written from the rules alone.

It shares no code with the planner and takes nothing from it but the plan: where each carton is, and what the plan says
about itself. Each rule has its source, or is marked as common practice:

- SPACE, DECK, LOAD: two cartons do not share space; a load keeps to the cart's deck, height and weight (the layout).
- SUPPORT: what stands in tiers is "stable and secure against sliding or collapse" (29 CFR 1910.176(b), from memory).
  Taken here as: at least half of a carton's underside lies on what it touches, and its centre of gravity, taken as its
  middle, lies over the polygon around what it touches (statics). Tops within ``TOUCH_CM`` are touched: board gives that
  much (common practice, no source).
- BALANCE: all cartons of a load together are in equilibrium: there are upward contact forces that carry every carton
  and what is on it (statics; solved as a linear program).
- HEAVIER_BELOW: a carton weighs at most ``HEAVIER`` times each one that it touches (common practice, no source).
- FRAGILE: lighting, graphics and headers carry nothing of another kind, nothing heavier than they are, and bear at most
  ``FRAGILE_BEARS_KG`` in all (common practice, no source). What a carton weighs, with what it bears, is borne by
  what it touches in parts as the areas that touch (load bearing as in Bischoff, European Journal of Operational
  Research 168 (2006) 952-966, from memory).
- OPEN_FIRST: what must be opened first lies under nothing that is opened later (the manifest's order).
- LOADED: each carton is loaded after what lies under it (gravity).
- UNLOADED: no carton of an earlier stop lies under one of a later stop, unless the plan says so (last in, first out).
- FLOOR: a stack in front of a bay keeps to its floor and its kinds' height (29 CFR 1910.176(b) asks for a limit;
  the figures are common practice, no source).
- DUG: at its bay no carton lies under one that is opened after it, unless the plan says so.
- RESTACKED: at its bay no carton lies under one that comes on an earlier trip, unless the plan says so.
- ONCE: every carton that was received is on one trip, at its bay, or held, and on one only.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.optimize import linprog
from scipy.spatial import ConvexHull, QhullError

from receiving.model import Cart, Carton, CartonKind, Layout, Manifest, Spot, StagingPlan, Trip

TOUCH_CM = 0.5
HALF = 0.5
HEAVIER = 1.25
FRAGILE_BEARS_KG = 15.0
FRAGILE = {CartonKind.LIGHTING, CartonKind.GRAPHIC, CartonKind.HEADER}
FLOOR_STACK_CM = 120.0
FRAGILE_FLOOR_STACK_CM = 75.0
EPS = 1e-6


@dataclass(frozen=True)
class Violation:
    """One rule that a place (``trip 2``, ``bay B1``) breaks with one carton, and by what figure."""

    rule: str
    place: str
    carton: str
    figure: float = 0.0


@dataclass(frozen=True)
class Box:
    """One carton where it is; a single carton each, in centimetres and kilograms (None: nobody knows)."""

    carton: Carton
    x: tuple[float, float]
    y: tuple[float, float]
    z: tuple[float, float]

    @property
    def name(self) -> str:
        return self.carton.carton

    @property
    def area(self) -> float:
        return (self.x[1] - self.x[0]) * (self.y[1] - self.y[0])

    @property
    def middle(self) -> tuple[float, float]:
        return (self.x[0] + self.x[1]) / 2, (self.y[0] + self.y[1]) / 2


Patch = tuple[float, float, float, float]


def shared_patch(a: Box, b: Box) -> Patch | None:
    """The rectangle that two footprints share, or None."""
    x0, x1 = max(a.x[0], b.x[0]), min(a.x[1], b.x[1])
    y0, y1 = max(a.y[0], b.y[0]), min(a.y[1], b.y[1])
    return (x0, x1, y0, y1) if x1 - x0 > EPS and y1 - y0 > EPS else None


def patch_area(patch: Patch) -> float:
    return (patch[1] - patch[0]) * (patch[3] - patch[2])


def corners(patch: Patch) -> list[tuple[float, float]]:
    x0, x1, y0, y1 = patch
    return [(x0, y0), (x0, y1), (x1, y0), (x1, y1)]


def touched(box: Box, boxes: Sequence[Box]) -> list[tuple[Box, Patch]]:
    """The cartons whose tops this one's underside touches, each with what they share."""
    found = []
    for other in boxes:
        patch = shared_patch(box, other)
        if other is not box and patch and abs(other.z[1] - box.z[0]) <= TOUCH_CM + EPS:
            found.append((other, patch))
    return found


def over_polygon(point: tuple[float, float], patches: Iterable[Patch]) -> bool:
    """The point lies over the convex polygon around these rectangles."""
    points = np.array([c for patch in patches for c in corners(patch)])
    if not len(points):
        return False
    try:
        hull = ConvexHull(points)
    except QhullError:
        return False
    return bool(np.all(hull.equations[:, :2] @ np.array(point) + hull.equations[:, 2] <= EPS))


def borne_kg(box: Box, boxes: Sequence[Box]) -> float:
    """What rests on this carton, directly or through others: each divides what it bears and weighs by shared areas."""
    total = 0.0
    for one in boxes:
        on = touched(one, boxes) if one.z[0] > TOUCH_CM else []
        area = sum(patch_area(patch) for _, patch in on)
        own = sum(patch_area(patch) for other, patch in on if other is box)
        if own:
            total += ((one.carton.weight_kg or 0) + borne_kg(one, boxes)) * own / area
    return total


def resting_on(box: Box, boxes: Sequence[Box]) -> set[str]:
    """What rests on this carton, directly or through others."""
    above: set[str] = set()
    grown = True
    while grown:
        grown = False
        for one in boxes:
            below = {other.name for other, _ in touched(one, boxes)} if one.z[0] > TOUCH_CM else set()
            if one.name not in above and below & (above | {box.name}):
                above.add(one.name)
                grown = True
    return above


def lying_over(box: Box, boxes: Sequence[Box]) -> list[Box]:
    """The cartons that are higher up over any part of this one, so that it cannot be taken before them."""
    return [one for one in boxes if one is not box and shared_patch(one, box) and one.z[0] >= box.z[1] - TOUCH_CM - EPS]


def unbalanced(boxes: Sequence[Box]) -> bool:
    """No upward contact forces hold all cartons at once (each is a rigid body with its weight in its middle)."""
    contacts: list[tuple[int, int | None, tuple[float, float]]] = []
    place = {box.name: i for i, box in enumerate(boxes)}
    for i, box in enumerate(boxes):
        if box.z[0] <= TOUCH_CM:
            contacts += [(i, None, c) for c in corners((*box.x, *box.y))]
        for other, patch in touched(box, boxes) if box.z[0] > TOUCH_CM else ():
            contacts += [(i, place[other.name], c) for c in corners(patch)]
    if not contacts:
        return bool(boxes)
    balance = np.zeros((3 * len(boxes), len(contacts)))
    for column, (upper, lower, (x, y)) in enumerate(contacts):
        balance[3 * upper : 3 * upper + 3, column] += (1, x, y)
        if lower is not None:
            balance[3 * lower : 3 * lower + 3, column] -= (1, x, y)
    weights = [box.carton.weight_kg or 1.0 for box in boxes]
    parts = [np.array([w, w * b.middle[0], w * b.middle[1]]) for w, b in zip(weights, boxes, strict=True)]
    loads = np.concatenate(parts)
    return linprog(np.zeros(len(contacts)), A_eq=balance, b_eq=loads, method="highs").status == 2


def boxes_of(spots: Iterable[Spot], cartons: dict[str, Carton]) -> list[Box]:
    """One box for each carton of the spots; a spot with several is a stack, bottom first, of its cartons' heights."""
    boxes = []
    for spot in spots:
        foot = spot.z_cm
        for name in spot.cartons:
            high = spot.height_cm if len(spot.cartons) == 1 else lying_height(cartons[name], spot)
            boxes.append(
                Box(
                    cartons[name],
                    (spot.x_cm, spot.x_cm + spot.length_cm),
                    (spot.y_cm, spot.y_cm + spot.width_cm),
                    (foot, foot + high),
                )
            )
            foot += high
    return boxes


def lying_height(carton: Carton, spot: Spot) -> float:
    """How high a carton of a stack is: what the manifest says, else an equal part of the stack."""
    return carton.height_cm or spot.height_cm / len(spot.cartons)


def stated(part: object, what: str) -> tuple[str, ...]:
    """What the plan says of its own shortcomings there; plans of before it could say so state nothing."""
    return getattr(part, what, ())


def check_placement(boxes: Sequence[Box], place: str) -> Iterator[Violation]:
    """SPACE, SUPPORT, BALANCE, HEAVIER_BELOW and FRAGILE of cartons that stand together."""
    for a, b in combinations(boxes, 2):
        if shared_patch(a, b) and min(a.z[1], b.z[1]) - max(a.z[0], b.z[0]) > TOUCH_CM + EPS:
            yield Violation("SPACE", place, a.name)
    weight = {box.name: box.carton.weight_kg for box in boxes}
    for box in boxes:
        on = touched(box, boxes) if box.z[0] > TOUCH_CM else []
        if box.z[0] > TOUCH_CM:
            carried = sum(patch_area(patch) for _, patch in on) / box.area
            if carried < HALF - EPS or not over_polygon(box.middle, [patch for _, patch in on]):
                yield Violation("SUPPORT", place, box.name, carried)
        for below, _ in on:
            if weight[box.name] and weight[below.name] and weight[box.name] > HEAVIER * weight[below.name] + EPS:
                yield Violation("HEAVIER_BELOW", place, box.name, weight[box.name] / weight[below.name])
        if box.carton.kind in FRAGILE:
            yield from check_fragile(box, boxes, place)
    if unbalanced(boxes):
        yield Violation("BALANCE", place, "")


def check_fragile(box: Box, boxes: Sequence[Box], place: str) -> Iterator[Violation]:
    """FRAGILE of one fragile carton."""
    for below_it, _ in [(one, None) for one in boxes if box.name in {o.name for o, _ in touched(one, boxes)}]:
        own, theirs = box.carton.weight_kg, below_it.carton.weight_kg
        if below_it.z[0] <= TOUCH_CM:
            continue
        if below_it.carton.kind not in FRAGILE or (own and theirs and theirs > own + EPS):
            yield Violation("FRAGILE", place, box.name, theirs or 0)
    bears = borne_kg(box, boxes)
    if bears > FRAGILE_BEARS_KG + EPS:
        yield Violation("FRAGILE", place, box.name, bears)


def check_trip(trip: Trip, cartons: dict[str, Carton], cart: Cart, stop_of: dict[str, str]) -> list[Violation]:
    """Everything about one cart load; ``stop_of`` tells at which of the trip's stops each carton comes off."""
    place = f"trip {trip.trip}"
    boxes = boxes_of(trip.stacks, cartons)
    found = list(check_placement(boxes, place))
    known = sum(cartons[name].weight_kg or 0 for name in trip.cartons)
    if max(known, trip.load_kg) > cart.max_load_kg + EPS:
        found.append(Violation("LOAD", place, "", known))
    if Counter(box.name for box in boxes) != Counter(trip.cartons):
        found.append(Violation("ONCE", place, ""))
    order = {name: i for i, name in enumerate(trip.cartons)}
    leaves = {name: trip.stops.index(stop) for name, stop in stop_of.items() if stop in trip.stops}
    lifted: set[str] = set()
    for box in boxes:
        out = (box.x[0], box.y[0], cart.deck_length_cm - box.x[1], cart.deck_width_cm - box.y[1])
        if min(*out, cart.stack_height_cm - box.z[1]) < -EPS:
            found.append(Violation("DECK", place, box.name))
        for over in lying_over(box, boxes):
            if order[over.name] < order[box.name]:
                found.append(Violation("LOADED", place, box.name))
            if box.carton.open_first and not over.carton.open_first and over.name in resting_on(box, boxes):
                found.append(Violation("OPEN_FIRST", place, box.name))
            if leaves.get(over.name, 0) > leaves.get(box.name, 0):
                lifted.add(over.name)
    planned = stated(trip, "lifted_off")
    found += [Violation("UNLOADED", place, name) for name in sorted(lifted - set(planned))]
    if len(planned) != len(set(planned)) or not set(planned) <= lifted:
        found.append(Violation("UNLOADED", place, "said of others"))
    return found


def check_floor(plan: StagingPlan, cartons: dict[str, Carton], layout: Layout) -> list[Violation]:
    """FLOOR, DUG, RESTACKED and how cartons stand, before every bay and in every wave."""
    found: list[Violation] = []
    comes = {name: trip.trip for trip in plan.trips for name in trip.cartons}
    kept = {bay.bay: bay for bay in layout.bays}
    for at in plan.bays:
        depth = at.aisle.floor_depth_cm if at.aisle else kept[at.bay].staging_depth_cm
        place = f"bay {at.bay} wave {getattr(at, 'wave', 1)}"
        boxes = boxes_of(at.spots, cartons)
        found += check_placement(boxes, place)
        opened = {name: i for i, name in enumerate(at.cartons)}
        dug: set[str] = set()
        late: set[str] = set()
        for box in boxes:
            limit = FRAGILE_FLOOR_STACK_CM if box.carton.kind in FRAGILE else FLOOR_STACK_CM
            out = (box.x[0], box.y[0], kept[at.bay].staging_length_cm - box.x[1], depth - box.y[1])
            alone = box.z[0] <= TOUCH_CM
            if min(out) < -EPS or (box.z[1] > limit + EPS and not alone):
                found.append(Violation("FLOOR", place, box.name, box.z[1]))
            if any(opened[over.name] > opened[box.name] for over in lying_over(box, boxes)):
                dug.add(box.name)
            if any(comes.get(over.name, 0) < comes.get(box.name, 0) for over in lying_over(box, boxes)):
                late.add(box.name)
        for rule, what, broken in (("DUG", "dug_out", dug), ("RESTACKED", "restacked", late)):
            planned = stated(at, what)
            found += [Violation(rule, place, name) for name in sorted(broken - set(planned))]
            if len(planned) != len(set(planned)) or not set(planned) <= broken:
                found.append(Violation(rule, place, "said of others"))
    return found


def check_once(plan: StagingPlan, received: Iterable[str]) -> list[Violation]:
    """Every received carton is on one trip, already at its bay, or held."""
    seen = Counter(name for trip in plan.trips for name in trip.cartons)
    seen.update(held.carton for held in plan.held if not held.missing)
    seen.update(name for bay in plan.bays for name in bay.moved)
    return [Violation("ONCE", "plan", name, seen[name]) for name in received if seen[name] != 1]


def check_plan(plan: StagingPlan, manifest: Manifest, layout: Layout, received: Iterable[str]) -> list[Violation]:
    """All violations of a plan, as a list that is empty when it can be carried out."""
    cartons = {one.carton: one for one in manifest}
    stop_of = {name: bay.bay for bay in plan.bays for name in bay.cartons}
    found = [v for trip in plan.trips if not trip.by_hand for v in check_trip(trip, cartons, layout.cart, stop_of)]
    return [*found, *check_floor(plan, cartons, layout), *check_once(plan, received)]
