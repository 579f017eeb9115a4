"""How near to the fewest stops the planned trips come, over random shipments.

    python tests/bench/staging_stops.py [--shipments 200] [--seed 1] [--sections 1]

A stop is one trip that halts before one bay. Prints, for each cart, the stops planned and the least possible by
`staging.stop_bounds`, the share of shipments where both meet, and the mean and largest gap, with CPU seconds.
The shipments are those of `staging_plans`.
"""

import argparse
import random
import statistics
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from staging_plans import CARTS, Planned, planned, shipment


def line(name: str, results: list[Planned]) -> str:
    bounds = [one.plan.stop_bound for one in results]
    gaps = [bound.gap for bound in bounds]
    return (
        f"{name:34} {len(results):4} {sum(b.planned for b in bounds):8} {sum(b.at_least for b in bounds):8} "
        f"{sum(b.proven for b in bounds) / len(bounds):7.0%} {statistics.mean(gaps):9.1%} {max(gaps):8.1%} "
        f"{statistics.median(one.cpu_s for one in results):9.2f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    print(
        f"{'':34} {'n':>4} {'stops':>8} {'least':>8} {'proven':>7} {'mean gap':>9} {'max gap':>8} {'median s':>9}",
        flush=True,
    )
    for name, cart in CARTS.items():
        results = []
        for number in range(asked.shipments):
            rng = random.Random(asked.seed * 100_000 + number)
            results.append(planned(shipment(rng, rng.randint(10, 60)), cart))
        print(line(name, results), flush=True)


if __name__ == "__main__":
    main()
