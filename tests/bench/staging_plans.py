"""How good and how fast staging plans are, over random shipments.

    python tests/bench/staging_plans.py [--shipments 200] [--seed 1]

Prints, with CPU seconds of this machine: the gap of the number of cart trips to its lower bound over random
shipments of 10 to 60 cartons, the time for 40 cartons, the gap for 200 cartons within 5 s, the bin-packing classes
of Falkenauer (J. Heuristics 2 (1996) 5–30) by their published recipe, and how many more trips plain first-fit
decreasing takes. Carton sizes are multiples of the 600 mm × 400 mm module of ISO 3394; weights are our choice.
"""

import argparse
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
from receiving.staging.by_weight import best_fit_decreasing, fewest_bins
from receiving.staging.loading import arrange
from receiving.staging.loads import Load, deck_of, measure
from receiving.staging.trips import fits_alone

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
    found = tuple(CartonFinding(carton, CartonState.RECEIVED, "read") for carton in manifest)
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


def classes(seed: int) -> Iterator[str]:
    made: tuple[tuple[str, Callable[[random.Random, int], tuple[list[int], int]], int], ...] = (
        ("u120", uniform, 120),
        ("u250", uniform, 250),
        ("t60", triplets, 60),
        ("t120", triplets, 120),
    )
    for name, make, count in made:
        proven, saved, cpu = 0, 0, []
        for number in range(10):
            sizes, capacity = make(random.Random(seed * 1000 + number), count)
            began = time.process_time()
            solved = fewest_bins(sizes, capacity)
            cpu.append(time.process_time() - began)
            proven += len(solved.bins) == solved.at_least
            saved += len(best_fit_decreasing(sizes, capacity)) - len(solved.bins)
        yield f"{name:6} proven {proven}/10, median {statistics.median(cpu):.2f} s, {saved} bins fewer than best fit"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    print(HEAD)
    for name, cart in CARTS.items():
        results = []
        for number in range(asked.shipments):
            rng = random.Random(asked.seed * 100_000 + number)
            results.append(planned(shipment(rng, rng.randint(10, 60)), cart))
        print(line(f"10 to 60 cartons, {name[:16].strip(', ')}", results), flush=True)
    for name, cart in CARTS.items():
        results = [planned(shipment(random.Random(asked.seed * 200_000 + i), 40), cart) for i in range(40)]
        print(line(f"40 cartons, {name[:16].strip(', ')}", results), flush=True)
    for name, cart in CARTS.items():
        results = [planned(shipment(random.Random(asked.seed * 300_000 + i), 200), cart, 5.0) for i in range(6)]
        print(line(f"200 cartons, {name[:16].strip(', ')}", results), flush=True)
    for words in classes(asked.seed):
        print(words, flush=True)


if __name__ == "__main__":
    main()
