"""How good and how fast staging plans are, over random shipments.

    python tests/bench/staging_plans.py [--shipments 200] [--seed 1] [--only mixed,forty,large,classes,solvers]

Prints, as it goes, with CPU seconds of this machine: the gap of the number of cart trips to its lower bound over random
shipments of 10 to 60 cartons, the time for 40 cartons, the gap for 200 cartons within 5 s, each beside the trips of a
first fit decreasing that stands whole carts anew; the bin-packing classes of Falkenauer (J. Heuristics 2 (1996) 5–30)
by their published recipe; and two exact solvers on one model of the weights. Carton sizes are multiples of the
600 mm × 400 mm module of ISO 3394; weights are our choice.
"""

import argparse
import importlib.util
import itertools
import random
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from receiving.model import (
    Address,
    Bay,
    Cart,
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    ContentLine,
    Layout,
    Manifest,
    Reconciliation,
    StagingPlan,
)
from receiving.staging import plan_staging
from receiving.staging.bounds import bound_bins
from receiving.staging.by_weight import best_fit_decreasing, fewest_bins
from receiving.staging.loading import arrange
from receiving.staging.loads import Load, deck_of, measure
from receiving.staging.trips import fits_alone
from tests.spoken import verbatim

KINDS = (
    (CartonKind.TRAY, 55, ((60, 40, 15), (60, 40, 20), (40, 30, 15)), (4, 11)),
    (CartonKind.HEADER, 10, ((120, 20, 15), (100, 25, 15), (130, 20, 15)), (4, 9)),
    (CartonKind.GRAPHIC, 12, ((80, 60, 5), (60, 40, 10)), (2, 6)),
    (CartonKind.PARTS, 12, ((40, 30, 20), (30, 20, 15)), (8, 22)),
    (CartonKind.LIGHTING, 6, ((60, 30, 20), (100, 20, 10)), (3, 7)),
    (CartonKind.TAGS, 5, ((30, 20, 10),), (1, 4)),
)
CARTS = {
    "110 kg, 120 × 60, to 100 cm": Cart(110, 120, 60, 100),
    "250 kg, 120 × 60, to 120 cm": Cart(250, 120, 60, 120),
    "150 kg, 90 × 60, to 90 cm": Cart(150, 90, 60, 90),
}


@dataclass(frozen=True)
class Planned:
    """One shipment planned: its plan, and the CPU seconds that took."""

    plan: StagingPlan
    cpu_s: float
    first_fit: int


def shipment(rng: random.Random, count: int) -> Manifest:
    """An invented shipment of one section with ``count`` cartons; the first carton of tags is open-first."""
    cartons: list[Carton] = []
    for number in range(count):
        kind, _, sizes, (least, most) = rng.choices(KINDS, [k[1] for k in KINDS])[0]
        length, width, height = rng.choice(sizes)
        wide = kind in (CartonKind.GRAPHIC, CartonKind.PARTS, CartonKind.TAGS)
        address = None if wide else Address("Sol", rng.randint(1, 12), rng.randint(1, 6))
        first = kind is CartonKind.TAGS and not any(c.open_first for c in cartons)
        cartons.append(
            Carton(
                f"{number + 1:03}",
                kind,
                open_first=first,
                contents=(ContentLine("Sol", address),),
                weight_kg=round(rng.uniform(least, most), 1),
                length_cm=length,
                width_cm=width,
                height_cm=height,
            )
        )
    return Manifest("S1", "0417", tuple(cartons))


def planned(manifest: Manifest, cart: Cart, time_limit_s: float = 1.0) -> Planned:
    """The plan in a store with six bays and room enough on the floor."""
    bays = tuple(Bay(f"B{i}", "Sol", (2 * i - 1, 2 * i), i, 122, 600, 400) for i in range(1, 7))
    found = tuple(CartonFinding(carton, CartonState.RECEIVED, verbatim("read")) for carton in manifest)
    layout = Layout("0417", 60, cart, bays)
    began = time.process_time()
    plan = plan_staging(manifest, Reconciliation("S1", "0417", found), layout, time_limit_s=time_limit_s)
    return Planned(plan, time.process_time() - began, first_fit_decreasing(manifest, cart))


def first_fit_decreasing(manifest: Manifest, cart: Cart) -> int:
    """Trips of the plain rule: the heaviest first, each on the first cart that takes it."""
    deck = deck_of(cart)
    loads, _ = measure(manifest.cartons, manifest)
    trips: list[list[Load]] = []
    for load in sorted(loads.values(), key=lambda one: -one.weight_g):
        if fits_alone(load, deck):
            home = next((trip for trip in trips if arrange((*trip, load), deck)), None)
            if home is None:
                trips.append([load])
            else:
                home.append(load)
    return len(trips)


def line(name: str, results: list[Planned]) -> str:
    bounds = [one.plan.bound for one in results]
    proven = sum(bound.proven for bound in bounds) / len(bounds)
    cpu = sorted(one.cpu_s for one in results)
    saved = sum(one.first_fit - one.plan.bound.planned for one in results)
    worse = sum(one.first_fit < one.plan.bound.planned for one in results)
    gaps = [bound.gap for bound in bounds]
    return (
        f"{name:34} {len(results):4} {proven:7.0%} {statistics.mean(gaps):9.1%} {max(gaps):8.1%} "
        f"{statistics.median(cpu):9.2f} {cpu[int(0.95 * (len(cpu) - 1))]:8.2f} {saved:12} {worse:6}"
    )


HEAD = (
    f"{'':34} {'n':>4} {'proven':>7} {'mean gap':>9} {'max gap':>8} {'median s':>9} {'p95 s':>8} "
    f"{'saved to FFD':>12} {'worse':>6}"
)


def triplets(rng: random.Random, count: int) -> tuple[list[int], int]:
    sizes = []
    for _ in range(count // 3):
        first = rng.randint(380, 490)
        second = rng.randint(250, (1000 - first) // 2)
        sizes += [first, second, 1000 - first - second]
    return sizes, 1000


def uniform(rng: random.Random, count: int) -> tuple[list[int], int]:
    return [rng.randint(20, 100) for _ in range(count)], 150


CLASSES: tuple[tuple[str, Callable[[random.Random, int], tuple[list[int], int]], int, int], ...] = (
    ("u120", uniform, 120, 10),
    ("u250", uniform, 250, 5),
    ("u500", uniform, 500, 3),
    ("u1000", uniform, 1000, 2),
    ("t60", triplets, 60, 10),
    ("t120", triplets, 120, 5),
    ("t249", triplets, 249, 2),
    ("t501", triplets, 501, 1),
)
"""Name, recipe, items, and how many instances; a triplet instance of n items has the optimum n / 3."""


def classes(seed: int) -> Iterator[str]:
    """What the exact solver of weights makes of each class."""
    for name, make, count, instances in CLASSES:
        proven, over, saved, cpu = 0, 0, 0, []
        for number in range(instances):
            sizes, capacity = make(random.Random(seed * 1000 + number), count)
            began = time.process_time()
            solved = fewest_bins(sizes, capacity)
            cpu.append(time.process_time() - began)
            proven += len(solved.bins) == solved.at_least
            over += len(solved.bins) - solved.at_least
            saved += len(best_fit_decreasing(sizes, capacity)) - len(solved.bins)
        yield (
            f"{name:6} proven {proven}/{instances}, {over} bins above the bounds, "
            f"median {statistics.median(cpu):.2f} s, {saved} bins fewer than best fit decreasing"
        )


def weights_of_carts(seed: int, count: int) -> Iterator[tuple[list[int], int]]:
    """Weights of random shipments of 40 cartons, and of triplets, where a greedy rule misses the bound."""
    limit = deck_of(CARTS["110 kg, 120 × 60, to 100 cm"]).max_g
    number = found = 0
    while found < count:
        rng = random.Random(seed * 400_000 + number)
        made = [round(carton.weight_kg * 1000) for carton in shipment(rng, 40) if carton.weight_kg]
        sizes, capacity = (made, limit) if found % 2 else triplets(rng, 30)
        number += 1
        if len(best_fit_decreasing(sizes, capacity)) > bound_bins(sizes, capacity):
            found += 1
            yield sizes, capacity


def by_highs(sizes: list[int], capacity: int, bins: int, at_least: int, limit_s: float) -> int | None:
    """Bins by scipy's HiGHS on the assignment model, or None when the limit came first."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    items = len(sizes)
    cost = np.r_[np.zeros(items * bins), np.ones(bins)]
    each = np.hstack([np.kron(np.eye(items), np.ones(bins)), np.zeros((items, bins))])
    fit = np.hstack([np.kron(np.array(sizes), np.eye(bins)), -capacity * np.eye(bins)])
    order = np.hstack([np.zeros((bins - 1, items * bins)), np.eye(bins)[:-1] - np.eye(bins)[1:]])
    rules = [
        LinearConstraint(each, 1, 1),
        LinearConstraint(fit, -np.inf, 0),
        LinearConstraint(order, 0, np.inf),
        LinearConstraint(cost[None, :], at_least, np.inf),
    ]
    solved = milp(
        cost, integrality=np.ones(len(cost)), bounds=Bounds(0, 1), constraints=rules, options={"time_limit": limit_s}
    )
    return round(solved.fun) if solved.status == 0 else None


def by_cp_sat(sizes: list[int], capacity: int, bins: int, at_least: int, limit_s: float) -> int | None:
    """The same model by OR-Tools CP-SAT on one thread."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    used = [model.new_bool_var("") for _ in range(bins)]
    placed = [[model.new_bool_var("") for _ in range(bins)] for _ in sizes]
    for row in placed:
        model.add_exactly_one(row)
    for number, use in enumerate(used):
        model.add(sum(size * row[number] for size, row in zip(sizes, placed, strict=True)) <= capacity * use)
    for one, other in itertools.pairwise(used):
        model.add(one >= other)
    model.add(sum(used) >= at_least)
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.num_workers = 1
    return round(solver.objective_value) if solver.solve(model) == cp_model.OPTIMAL else None


def by_patterns(sizes: list[int], capacity: int, bins: int, at_least: int, limit_s: float) -> int | None:
    """Our column generation with HiGHS inside, which is limited by counts."""
    solved = fewest_bins(sizes, capacity)
    return solved.at_least if len(solved.bins) == solved.at_least else None


def solvers(seed: int, limit_s: float = 5.0) -> Iterator[str]:
    """Exact solvers on weights: the same instances, bound and, for the first two, the same model."""
    instances = {
        "carts of 40 cartons": list(weights_of_carts(seed, 8)),
        "t60": [triplets(random.Random(seed * 1000 + number), 60) for number in range(4)],
        "u120": [uniform(random.Random(seed * 1000 + number), 120) for number in range(4)],
    }
    ways = {"HiGHS, assignment": by_highs, "CP-SAT, assignment": by_cp_sat, "HiGHS, patterns": by_patterns}
    if importlib.util.find_spec("ortools") is None:
        del ways["CP-SAT, assignment"]
        yield "CP-SAT: not measured, OR-Tools is not installed (pip install ortools)"
    for (kind, made), (name, solve) in itertools.product(instances.items(), ways.items()):
        proven, cpu = 0, []
        for sizes, capacity in made:
            bins, at_least = len(best_fit_decreasing(sizes, capacity)), bound_bins(sizes, capacity)
            began = time.process_time()
            proven += solve(sizes, capacity, bins, at_least, limit_s) is not None
            cpu.append(time.process_time() - began)
        median = statistics.median(cpu)
        yield f"{kind:20} {name:20} proven {proven}/{len(made)} within {limit_s:g} s, median {median:.2f} s"


def mixed(seed: int, shipments: int) -> Iterator[str]:
    """Random shipments of 10 to 60 cartons, on each cart."""
    for name, cart in CARTS.items():
        results = []
        for number in range(shipments):
            rng = random.Random(seed * 100_000 + number)
            results.append(planned(shipment(rng, rng.randint(10, 60)), cart))
        yield line(f"10 to 60 cartons, {name[:16].strip(', ')}", results)


def of_size(count: int, seed: int, shipments: int, time_limit_s: float) -> Iterator[str]:
    """Random shipments of this many cartons, on each cart."""
    for name, cart in CARTS.items():
        results = [planned(shipment(random.Random(seed + i), count), cart, time_limit_s) for i in range(shipments)]
        yield line(f"{count} cartons, {name[:16].strip(', ')}", results)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="parts between commas: mixed, forty, large, classes, solvers")
    asked = parser.parse_args()
    parts: dict[str, Callable[[], Iterator[str]]] = {
        "mixed": lambda: mixed(asked.seed, asked.shipments),
        "forty": lambda: of_size(40, asked.seed * 200_000, 40, 1.0),
        "large": lambda: of_size(200, asked.seed * 300_000, 6, 5.0),
        "classes": lambda: classes(asked.seed),
        "solvers": lambda: solvers(asked.seed),
    }
    print(HEAD)
    for name, part in parts.items():
        if name in (asked.only or ",".join(parts)).split(","):
            for words in part():
                print(words, flush=True)


if __name__ == "__main__":
    main()
