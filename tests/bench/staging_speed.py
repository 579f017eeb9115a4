"""How much CPU a staging plan takes by the number of cartons, beside another checked-out folder in the same run.

    python tests/bench/staging_speed.py [--sizes 24,100,200,640] [--seed 1] [--against FOLDER]

For each size one random shipment of `staging_plans` on its first cart, six bays with floor enough. Prints seconds of
CPU, trips and stops, and with ``--against`` the same by that folder's package, planned in turn, and the ratio.
"""

import argparse
import random
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, sys.argv[2] if sys.argv[1:2] == ["--plan-with"] else str(Path(__file__).parents[2]))

import receiving  # isort: skip  # noqa: F401  (this one is measured: what comes next puts another folder first)

from staging_plans import CARTS, shipment

from receiving.model import Bay, CartonFinding, CartonState, Layout, Reconciliation
from receiving.staging import plan_staging
from tests.spoken import verbatim


def measured(count: int, seed: int) -> tuple[float, int, int]:
    """CPU seconds, cart trips and stops of one plan."""
    made = shipment(random.Random(seed * 1000 + count), count)
    bays = tuple(Bay(f"B{i}", "Sol", (2 * i - 1, 2 * i), i, 122, 600, 400) for i in range(1, 7))
    layout = Layout("0417", 60, next(iter(CARTS.values())), bays)
    found = Reconciliation("S1", "0417", tuple(CartonFinding(c, CartonState.RECEIVED, verbatim("read")) for c in made))
    began = time.process_time()
    plan = plan_staging(made, found, layout)
    return time.process_time() - began, plan.bound.planned, plan.stop_bound.planned


def elsewhere(folder: str, count: int, seed: int) -> tuple[float, int, int]:
    words = [sys.executable, __file__, "--plan-with", folder, str(count), str(seed)]
    seconds, trips, stops = subprocess.run(words, capture_output=True, check=True, text=True).stdout.split()
    return float(seconds), int(trips), int(stops)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sizes", default="24,100,200,640")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--against", default="")
    asked = parser.parse_args()
    measured(12, asked.seed)  # so that no library is loaded while it counts
    for count in map(int, asked.sizes.split(",")):
        seconds, trips, stops = measured(count, asked.seed)
        words = f"{count:4} cartons: {seconds:6.2f} s, {trips} trips, {stops} stops"
        if asked.against:
            before, old_trips, old_stops = elsewhere(asked.against, count, asked.seed)
            words += f"; before {before:6.2f} s, {old_trips} trips, {old_stops} stops; {before / seconds:.1f} times"
        print(words, flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--plan-with"]:
        measured(12, int(sys.argv[4]))
        print(*measured(int(sys.argv[3]), int(sys.argv[4])))
    else:
        main()
