"""What plans call the fewest trips and stops, against an enumeration of all loads of small carts.

    python tests/bench/staging_enumeration.py [--shipments 100] [--seed 0]

Each shipment has 3 to 6 cartons and is planned three times: no carton open-first, some, all. Stops at the
first claim that the enumeration of `tests/staging/test_fewest_by_enumeration.py` goes below, and counts the plans that
have more trips than it found.
"""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from receiving.staging import plan_staging
from tests.staging.shipments import manifest, reconciled
from tests.staging.test_fewest_by_enumeration import SMALL, checked, drawn


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    plans = more = 0
    for number in range(asked.seed, asked.seed + asked.shipments):
        for firsts in ("none", "some", "all"):
            cartons = drawn(number, firsts, most=6)
            shipment = manifest(*cartons)
            plan = plan_staging(shipment, reconciled(shipment), SMALL, time_limit_s=0.1)
            fewest, planned = checked(plan, cartons, {})
            plans += 1
            more += planned > fewest
    print(f"{plans} plans: no bound above the enumeration; {more} plans with more trips than it found")


if __name__ == "__main__":
    main()
