"""Staging: received cartons become a plan of what is opened first, what rides on which cart trip, and where it is put.

The problem: the fewest cart trips that keep every rule of loading, is three-dimensional bin packing with rules of
weight, support and fragility, and the floor in front of each bay a packing in two dimensions. Method: lower bounds
(`bounds`), a first plan cart by cart (`trips`), the emptiest cart taken apart onto the others (`reloading`), and a
constraint program that finds one trip fewer or proves that there is none (`constraints`; Chen, Lee & Shen 1995). Then
the same number of trips with fewer stops (`stops`), and the floor of each bay (`floor`). Each carton is judged by the
revised NIOSH lifting equation (`handling`).

What holds always: effort is counted in steps and not in seconds, so that the same shipment gives the same plan on
every machine; what a person put somewhere stays there or is listed with the reason; what was driven is not planned
anew. Data: `Shipment` (manifest, reconciliation, layout, notes) -> `Load` -> trips -> `Floors` -> `StagingPlan`. Pure.
"""

from receiving.staging.aisles import aisle_before
from receiving.staging.at_once import bay_by_rule, before_planning
from receiving.staging.changes import plan_change_cost
from receiving.staging.checking import ASSUMED_CART
from receiving.staging.destinations import Destination, destination
from receiving.staging.overrides import rode_along
from receiving.staging.planner import plan_staging

__all__ = [
    "ASSUMED_CART",
    "Destination",
    "aisle_before",
    "bay_by_rule",
    "before_planning",
    "destination",
    "plan_change_cost",
    "plan_staging",
    "rode_along",
]
