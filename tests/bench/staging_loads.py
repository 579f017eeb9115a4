"""Whether people can carry out the planned loads: each rule of loading checked, and what keeping them costs.

    python tests/bench/staging_loads.py [--shipments 40] [--seed 1] [--against FOLDER] [--carts 3] [--limit-s 1.0]
        [--only CART[.SHIPMENT],…]

Plans random shipments of 10 to 60 cartons, half with sizes of the 600 mm × 400 mm module (ISO 3394), half with odd
ones, half of each for a store with much floor and half for one with little, and prints for each cart how often each
rule of `tests/staging/load_checker.py` is broken, the cart trips, how many are proven the fewest, the mean gap, what
the plans say of themselves (cartons to lift off, to dig out, held), and CPU seconds. ``--against`` plans
the same shipments with the package of another checked-out folder, in the same run, for a comparison. ``--only`` plans
on these carts alone, or these shipments of a cart, both counted from 0, and prints each plan's figures.
"""

import argparse
import pickle
import random
import statistics
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, sys.argv[2] if sys.argv[1:2] == ["--plan-with"] else str(Path(__file__).parents[2]))

import receiving  # isort: skip  # noqa: F401  (this one is measured: what comes next puts another folder first)

from staging_plans import CARTS, shipment

from receiving.model import Bay, CartonFinding, CartonState, Layout, Manifest, Reconciliation
from receiving.staging import plan_staging
from tests.spoken import verbatim

HERE = Path(__file__).parents[2]
FLOORS = {"much floor": (600.0, 400.0), "little floor": (122.0, 60.0)}


def odd_sized(made: Manifest, rng: random.Random) -> Manifest:
    """The same cartons with sizes that fit no module, to the half centimetre."""
    from dataclasses import replace

    def stretched(cm: float | None) -> float:
        return max(5.0, round(2 * (cm or 30) * rng.uniform(0.75, 1.2)) / 2)

    return replace(
        made,
        cartons=tuple(
            replace(
                one,
                length_cm=min(stretched(one.length_cm), 140.0),
                width_cm=min(stretched(one.width_cm), 58.0),
                height_cm=stretched(one.height_cm),
            )
            for one in made
        ),
    )


def cases(seed: int, count: int, cart: Any) -> list[tuple[str, Manifest, Layout]]:
    made = []
    for number in range(count):
        rng = random.Random(seed * 100_000 + number)
        one = shipment(rng, rng.randint(10, 60))
        sizes = "odd sizes" if number % 2 else "module sizes"
        one = odd_sized(one, rng) if number % 2 else one
        floor = list(FLOORS)[number // 2 % 2]
        bays = tuple(Bay(f"B{i}", "Sol", (2 * i - 1, 2 * i), i, 122, *FLOORS[floor]) for i in range(1, 7))
        made.append((f"{sizes}, {floor}", one, Layout("0417", 60, cart, bays)))
    return made


def plan_all(made: list[tuple[str, Manifest, Layout]], limit_s: float) -> list[tuple[Any, float]]:
    plans = []
    for _, one, layout in made:
        found = Reconciliation(
            "S1", "0417", tuple(CartonFinding(c, CartonState.RECEIVED, verbatim("read")) for c in one)
        )
        began = time.process_time()
        plan = plan_staging(one, found, layout, time_limit_s=limit_s)
        plans.append((plan, time.process_time() - began))
    return plans


def planned_elsewhere(folder: str, asked: argparse.Namespace) -> dict[str, list[tuple[Any, float]]]:
    """The plans that another tree's package makes of the same shipments."""
    words = ["--plan-with", folder, str(asked.seed), str(asked.shipments), str(asked.limit_s), str(asked.carts)]
    run = subprocess.run([sys.executable, __file__, *words], capture_output=True, check=True)
    plans: dict[str, list[tuple[Any, float]]] = pickle.loads(run.stdout)
    return plans


def report(name: str, made: list[tuple[str, Manifest, Layout]], plans: list[tuple[Any, float]]) -> None:
    sys.path.insert(0, str(HERE))
    from tests.staging.load_checker import check_plan, stated

    broken: Counter[str] = Counter()
    for (_, one, layout), (plan, _) in zip(made, plans, strict=True):
        broken.update(v.rule for v in check_plan(plan, one, layout, [c.carton for c in one]))
    on_carts = sum(len(t.cartons) for plan, _ in plans for t in plan.trips if not t.by_hand)
    lifted = sum(len(stated(t, "lifted_off")) for plan, _ in plans for t in plan.trips)
    dug = sum(len(stated(b, "dug_out")) for plan, _ in plans for b in plan.bays)
    late = sum(len(stated(b, "restacked")) for plan, _ in plans for b in plan.bays)
    held = sum(not h.missing for plan, _ in plans for h in plan.held)
    print(f"{name}: {on_carts} cartons on carts; broken: {dict(sorted(broken.items())) or 'nothing'}")
    print(
        f"  in the plan: {lifted} to lift off, {dug} to dig out, {late} to restack, {held} held; "
        f"CPU {sum(s for _, s in plans):.1f} s"
    )
    for kind in sorted({kind for kind, _, _ in made}):
        own = [plan for (which, _, _), (plan, _) in zip(made, plans, strict=True) if which == kind]
        bounds = [plan.bound for plan in own]
        print(
            f"  {kind:28} trips {sum(b.planned for b in bounds):5}, at least {sum(b.at_least for b in bounds):5}, "
            f"proven {sum(b.proven for b in bounds) / len(bounds):4.0%}, mean gap "
            f"{statistics.mean(b.gap for b in bounds):5.1%}, stops {sum(p.stop_bound.planned for p in own)}",
            flush=True,
        )


def chosen(made: list[tuple[str, Manifest, Layout]], cart: int, only: str) -> list[tuple[str, Manifest, Layout]]:
    """What is asked for of a cart's shipments: all, or those that ``only`` names."""
    asked = only.split(",") if only else [str(cart)]
    return [one for number, one in enumerate(made) if {str(cart), f"{cart}.{number}"} & set(asked)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--against", default="")
    parser.add_argument("--carts", type=int, default=3)
    parser.add_argument("--limit-s", type=float, default=1.0)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    other = planned_elsewhere(asked.against, asked) if asked.against else {}
    if asked.only and asked.against:
        parser.error("--only plans with this package alone")
    for place, (name, cart) in enumerate(list(CARTS.items())[: asked.carts]):
        made = chosen(cases(asked.seed, asked.shipments, cart), place, asked.only)
        if not made:
            continue
        if other:
            report(f"before, {name}", made, other[name])
        plans = []
        for one in made:
            plans += plan_all([one], asked.limit_s)
            bound = plans[-1][0].bound
            if asked.only:
                print(f"  {bound.planned} trips, at least {bound.at_least}, CPU {plans[-1][1]:.1f} s", flush=True)
        report(f"{'now, ' if other else ''}{name}", made, plans)


def emit(seed: int, count: int, limit_s: float, carts: int) -> None:
    chosen = list(CARTS.items())[:carts]
    plans = {name: plan_all(cases(seed, count, cart), limit_s) for name, cart in chosen}
    sys.stdout.buffer.write(pickle.dumps(plans))


if __name__ == "__main__":
    if sys.argv[1:2] == ["--plan-with"]:
        emit(int(sys.argv[3]), int(sys.argv[4]), float(sys.argv[5]), int(sys.argv[6]))
    else:
        main()
